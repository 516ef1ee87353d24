"""Builds paint systems and tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from engine.document import WrittenNumber
from engine.errors import QuantityError
from engine.quantity import Kind, parse_quantity
from engine.ruleset.build_limits import build_source
from engine.ruleset.coats import COAT_FACTS, Choices, Coat, PaintSystem
from engine.ruleset.conditions import nearest_choice
from engine.ruleset.entries import Entry
from engine.ruleset.model import FactSpec, Table
from engine.ruleset.report import Report

_Keys = tuple[str | int, ...]


def build_system(
    entry: Entry, products: Iterable[str], facts: Mapping[str, FactSpec], report: Report
) -> PaintSystem | None:
    build = _Coats(entry, frozenset(products), facts, report)
    ways = {way: tuple(build.coats(way)) for way in entry.get("coats") or ()}
    if not entry.sound or any(None in coats for coats in ways.values()):
        return None
    sound = {way: tuple(coat for coat in coats if coat) for way, coats in ways.items()}
    return PaintSystem(entry.id, entry.get("title"), sound, entry.name_place)


class _Coats:
    """Builds the coats of one paint system."""

    def __init__(
        self,
        entry: Entry,
        products: frozenset[str],
        facts: Mapping[str, FactSpec],
        report: Report,
    ) -> None:
        self._entry = entry
        self._products = products
        self._facts = {id: facts[id] for id in COAT_FACTS if id in facts}
        self._report = report

    def coats(self, way: str) -> Iterable[Coat | None]:
        for index in range(len(self._entry.get("coats", way) or ())):
            yield self._coat(("coats", way, index))

    def _coat(self, keys: _Keys) -> Coat | None:
        entry = self._entry
        product, film = entry.get(*keys, "product"), entry.text(*keys, "film")
        known = product is None or product in self._products
        if not known:
            place = entry.place(*keys, "product")
            self._report.unknown("product", product, self._products, place)
        on = self._choices((*keys, "on"))
        off = tuple(
            self._choices((*keys, "off", number))
            for number in range(len(entry.get(*keys, "off") or ()))
        )
        if film is None:
            return None
        try:
            amount = parse_quantity(film, Kind.THICKNESS, place=entry.place(*keys, "film")).amount
        except QuantityError as error:
            self._report.extend(error.problems)
            return None
        return Coat(product, amount, film, on, off) if product is not None and known else None

    def _choices(self, keys: _Keys) -> Choices:
        """Facts with the choices named of each; what is not known is named."""
        found: list[tuple[str, tuple[str, ...]]] = []
        for fact, named in (self._entry.get(*keys) or {}).items():
            spec = self._facts.get(fact)
            if spec is None:
                place = self._entry.key_place(*keys, fact)
                self._report.unknown("fact", fact, self._facts, place)
                continue
            for index, choice in enumerate(named):
                if choice not in spec.choice_ids:
                    place = self._entry.place(*keys, fact, index)
                    self._report.add(
                        "unknown-choice",
                        f"`{choice}` is no choice of `{fact}`",
                        place,
                        nearest_choice(choice, spec),
                    )
            found.append((fact, tuple(named)))
        return tuple(found)


def build_table(entry: Entry, report: Report) -> Table | None:
    columns = entry.get("columns")
    rows = entry.get("rows")
    if columns is None or rows is None:
        return None
    before = len(report)
    for index, row in enumerate(rows):
        if len(row) != len(columns):
            report.add(
                "row-length",
                f"row {index + 1} of the table `{entry.id}` has {len(row)} "
                f"{'cell' if len(row) == 1 else 'cells'} for {len(columns)} columns",
                entry.place("rows", index),
                "Give each column one cell; `null` where there is no value.",
            )
    source = build_source(entry)
    if source is None or not entry.sound or len(report) > before:
        return None
    return Table(
        id=entry.id,
        title=entry.get("title"),
        columns=tuple(columns),
        rows=tuple(tuple(_cell(cell) for cell in row) for row in rows),
        source=source,
        place=entry.name_place,
        note=entry.get("note"),
    )


def _cell(cell: object) -> object:
    """Numbers with a decimal point become exact; everything else stays as it was read."""
    return Fraction(cell.written) if isinstance(cell, WrittenNumber) else cell
