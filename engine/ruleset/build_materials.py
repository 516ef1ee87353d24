"""Builds paint systems and tables."""

from __future__ import annotations

from collections.abc import Container, Iterable
from fractions import Fraction

from engine.document import WrittenNumber
from engine.errors import QuantityError
from engine.quantity import Kind, parse_quantity
from engine.ruleset.build_limits import build_source
from engine.ruleset.entries import Entry
from engine.ruleset.model import Coat, PaintSystem, Table
from engine.ruleset.report import Report


def build_system(entry: Entry, products: Iterable[str], report: Report) -> PaintSystem | None:
    known = frozenset(products)
    ways = {way: tuple(_coats(entry, way, known, report)) for way in entry.get("coats") or ()}
    if not entry.sound or any(None in coats for coats in ways.values()):
        return None
    sound = {way: tuple(coat for coat in coats if coat) for way, coats in ways.items()}
    return PaintSystem(entry.id, entry.get("title"), sound, entry.name_place)


def _coats(
    entry: Entry, way: str, products: frozenset[str], report: Report
) -> Iterable[Coat | None]:
    for index in range(len(entry.get("coats", way) or ())):
        yield _coat(entry, ("coats", way, index), products, report)


def _coat(
    entry: Entry, keys: tuple[str | int, ...], products: Container[str], report: Report
) -> Coat | None:
    product, film = entry.get(*keys, "product"), entry.text(*keys, "film")
    known = product is None or product in products
    if not known:
        assert isinstance(products, frozenset)
        report.unknown("product", product, products, entry.place(*keys, "product"))
    if film is None:
        return None
    try:
        amount = parse_quantity(film, Kind.THICKNESS, place=entry.place(*keys, "film")).amount
    except QuantityError as error:
        report.extend(error.problems)
        return None
    return Coat(product, amount, film) if product is not None and known else None


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
