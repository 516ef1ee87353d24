"""Which VOC limit holds for a product where the shop is, read from the rule set's tables."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number
from engine.reckoning.tables import TableLike, pick
from engine.reckoning.voc import (
    Basis,
    VocLimit,
    VocVerdict,
    governing_limit,
    judge_voc_figure,
    limits_from_table,
    multistage_average,
)
from engine.records import dataclass

JURISDICTIONS = "voc.jurisdictions"
FIGURES = "voc.product-figures"
CATEGORIES = "voc.product-categories"
AVERAGED = "voc.averaged"
WEIGHTS = "voc.multistage-weights"
_ANY = "any"


@dataclass(frozen=True, slots=True)
class Stages:
    """A topcoat whose base and clear are averaged before a limit is looked at."""

    base: str
    clear: str


class VocRules:
    """The limits of one region, as tables by their id; every method raises ReckoningError."""

    def __init__(self, tables: Mapping[str, TableLike], region: str, rules: str | None) -> None:
        """Raises where no table holds for the region, or for the shop's rules in it."""
        self._tables = tables
        rows = pick(self._table(JURISDICTIONS), "jurisdictions", "region", "rules", "table")
        here = [(whose, table) for where, whose, table in rows if where == region]
        if not here:
            raise ReckoningError(
                f"no VOC limits are kept for the region `{region}`; ask the local authority"
            )
        fitting = [table for whose, table in here if rules is None or whose in (_ANY, rules)]
        if not fitting:
            raise ReckoningError(
                f"no VOC limits are kept for `{rules}` rules; ask the state or district"
            )
        self.table_id = str(fitting[0])
        # Stricter rules may hold where nobody said whose hold.
        self.unsure = rules is None and len(here) > 1
        self.limits: tuple[VocLimit, ...] = limits_from_table(self._table(self.table_id))

    def category(self, product: str) -> str | None:
        """The category of a product here; None where it falls under none."""
        rows = pick(self._table(CATEGORIES), "categories", "product", "table", "category")
        found = [kind for which, table, kind in rows if (which, table) == (product, self.table_id)]
        return str(found[0]) if found else None

    def averaged(self, topcoat: str | None) -> Stages | None:
        """The coats that are averaged for a topcoat; None where each stands alone."""
        table = self._tables.get(AVERAGED)
        if table is None:
            return None
        for whose, which, base, clear in pick(table, "averages", "table", "topcoat", "base",
                                              "clear"):  # fmt: skip
            if (whose, which) == (self.table_id, topcoat):
                return Stages(str(base), str(clear))
        return None

    def judge(self, product: str, voc_g_per_L: Number, category: str) -> VocVerdict:
        """A product's figure beside its limit, on the limit's basis."""
        governing = governing_limit(self.limits, [category])
        return judge_voc_figure(voc_g_per_L, self._basis(product, governing), governing=governing)

    def average(self, stages: Stages, base: Number, clear: Number) -> Fraction:
        """The average of a two-stage topcoat, weighted as the regulation has it."""
        weights = dict(pick(self._table(WEIGHTS), "weights", "coat", "weight"))
        return multistage_average(
            base=base, midcoats=[], clear=clear, clear_weight=weights["clear"]
        )

    def _basis(self, product: str, governing: VocLimit) -> Basis:
        figures = dict(pick(self._table(FIGURES), "VOC figures", "product", "basis"))
        if product not in figures:
            raise ReckoningError(
                f"nothing says what the VOC figure of `{product}` leaves out; put its basis, from "
                f"the data sheet, into the table `{FIGURES}`"
            )
        stated = figures[product]
        if stated == _ANY:
            return governing.basis
        if stated not in {known.value for known in Basis}:
            raise ReckoningError(
                f"the basis {stated!r} of `{product}` is none of "
                + ", ".join([_ANY, *(known.value for known in Basis)])
            )
        return Basis(stated)

    def _table(self, name: str) -> TableLike:
        if name not in self._tables:
            raise ReckoningError(f"the rule set has no table `{name}`; add it")
        return self._tables[name]
