"""What the mixes of a plan hold in solvent, beside the limits of the shop's region.

Information, never clearance. Nothing is held against a limit by a figure nobody gave: what cannot
be compared says why.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.plan.materials import Material
from engine.plan.setting import REGION, TOPCOAT, Setting
from engine.quantity import Kind
from engine.reckoning.voc import VocLimit, VocVerdict
from engine.reckoning.voc_rules import JURISDICTIONS, Stages, VocRules
from engine.records import dataclass
from engine.ruleset.model import Product, Table
from engine.ruleset.source import Source
from engine.words import say

VOC_RULES = "shop.voc-rules"


@dataclass(frozen=True, slots=True)
class SolventLine:
    """One mix, or the coats of a topcoat averaged together.

    `voc_g_per_L` is as the product data say; None where they do not. `limit` is None where the
    mix falls under no category, or cannot be compared; `why` says which.
    """

    products: tuple[Product, ...]
    voc_g_per_L: Fraction | None
    limit: VocLimit | None
    over_by_g_per_L: Fraction | None
    why: str | None = None


@dataclass(frozen=True, slots=True)
class Solvent:
    """The mixes beside the limits of `table`; without a table, `why` there is none."""

    table: Table | None
    lines: tuple[SolventLine, ...]
    why: str | None = None
    unsure: bool = False

    @property
    def source(self) -> Source | None:
        return self.table.source if self.table else None

    @property
    def over(self) -> tuple[SolventLine, ...]:
        """Lines whose figure is over the limit."""
        return tuple(line for line in self.lines if line.over_by_g_per_L)


def solvent(materials: Iterable[Material], setting: Setting) -> Solvent | None:
    """The solvent of a plan's products; None where there are none, or no VOC table at all."""
    tables = setting.ruleset.tables
    wanted = [
        each.product
        for each in materials
        if each.product.handling.voc is not None
        and each.product.handling.measured_by is Kind.VOLUME
    ]
    if not wanted or JURISDICTIONS not in tables:
        return None
    region = setting.choice(REGION)
    if region is None:
        return Solvent(
            None, (), say("`{region}` is not known; say where the shop is", region=REGION)
        )
    try:
        rules = VocRules(tables, region, setting.choice(VOC_RULES))
        lines = _lines(wanted, rules, rules.averaged(setting.choice(TOPCOAT)))
    except ReckoningError as error:
        return Solvent(None, (), error.format_message())
    return Solvent(tables[rules.table_id], lines, unsure=rules.unsure)


def _lines(
    products: Sequence[Product], rules: VocRules, stages: Stages | None
) -> tuple[SolventLine, ...]:
    by_id = {product.id: product for product in products}
    together: tuple[Product, ...] = ()
    if stages and {stages.base, stages.clear} <= set(by_id):
        together = by_id[stages.base], by_id[stages.clear]
    found = [_line(each, rules) for each in products if each not in together]
    if stages and together:
        found.append(_averaged(together, rules, stages))
    return tuple(found)


def _line(product: Product, rules: VocRules) -> SolventLine:
    figure = product.handling.voc
    assert figure is not None
    category = rules.category(product.id)
    if category is None:
        return SolventLine((product,), figure, None, None, say("in no category of this table"))
    return _judged((product,), figure, category, rules)


def _averaged(together: tuple[Product, ...], rules: VocRules, stages: Stages) -> SolventLine:
    base, clear = (each.handling.voc for each in together)
    assert base is not None
    assert clear is not None
    category = rules.category(stages.clear)
    average = rules.average(stages, base, clear)
    if category is None:
        return SolventLine(together, average, None, None, say("in no category of this table"))
    return _judged(together, average, category, rules)


def _judged(
    products: tuple[Product, ...], figure: Fraction, category: str, rules: VocRules
) -> SolventLine:
    try:
        verdicts: list[VocVerdict] = [rules.judge(each.id, figure, category) for each in products]
    except ReckoningError as error:
        return SolventLine(products, figure, None, None, error.format_message())
    return SolventLine(products, figure, verdicts[0].governing, verdicts[0].over_by_g_per_L)
