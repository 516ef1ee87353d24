"""Builds limits and sources."""

from __future__ import annotations

from collections.abc import Mapping

from engine.errors import Place, Problem, QuantityError
from engine.quantity import Kind, Quantity, parse_quantity
from engine.ruleset.entries import Entries, Entry, plain
from engine.ruleset.model import Limit
from engine.ruleset.report import Report
from engine.ruleset.source import Source, SourceKind

# A bare length serves as film and as depth; a bare degree is a temperature, never a difference.
_KINDS_BY_UNIT = (
    Kind.THICKNESS,
    Kind.TEMPERATURE,
    Kind.PERCENT,
    Kind.AREA,
    Kind.VOLUME,
    Kind.TIME,
    Kind.MASS,
    Kind.PRESSURE,
    Kind.DENSITY,
    Kind.MONEY,
)


def build_limits(entries: Entries, report: Report) -> dict[str, Limit | None]:
    """Every limit by id; None for one that is there but wrong."""
    return {id: _limit(entry, report) for id, entry in entries.items()}


def _limit(entry: Entry, report: Report) -> Limit | None:
    quantity = _value(entry, report)
    source = build_source(entry)
    if quantity is None or source is None or not entry.sound:
        return None
    return Limit(
        id=entry.id,
        kind=quantity.kind,
        amount=quantity.amount,
        written=quantity.written,
        unit=quantity.currency or quantity.unit,
        source=source,
        place=entry.name_place,
        note=entry.text("note"),
    )


def _value(entry: Entry, report: Report) -> Quantity | None:
    written, kind = entry.text("value"), entry.get("kind")
    if written is None or ("kind" in entry.data and kind is None):
        return None
    place = entry.place("value")
    try:
        if kind is not None:
            return parse_quantity(written, Kind(kind), place=place)
        return _by_unit(written, place)
    except QuantityError as error:
        report.extend(error.problems)
        return None


def _by_unit(written: str, place: Place) -> Quantity:
    for kind in _KINDS_BY_UNIT:
        try:
            return parse_quantity(written, kind, place=place)
        except QuantityError:
            continue
    try:
        parse_quantity(written, Kind.NUMBER, place=place)
    except QuantityError as error:
        raise QuantityError(
            Problem(
                "unknown-unit",
                f"`{written}` is no number with a unit that is known here",
                place,
                "Write it as in `12 mil`, `3 degC` or `85 %`.",
            )
        ) from error
    raise QuantityError(
        Problem(
            "no-unit",
            f"`{written}` has no unit",
            place,
            "Write the unit, or say `kind: number`, `kind: count` or `kind: year`.",
        )
    )


def build_source(entry: Entry) -> Source | None:
    """The source of an entry; None where it is missing or wrong."""
    written = entry.get("source")
    if not isinstance(written, Mapping):
        return None
    named = {
        key: plain(written[key])
        for key in ("name", "edition", "clause", "checked")
        if key in written
    }
    return Source(kind=SourceKind(written["kind"]), **named)
