"""Builds the shop's labour and its protective gear."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from engine.quantity import Kind
from engine.ruleset.amounts import Amounts
from engine.ruleset.build_limits import build_source
from engine.ruleset.build_products import build_price
from engine.ruleset.build_work import measure_of
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import FactSpec
from engine.ruleset.names import Names, check_template
from engine.ruleset.report import Report
from engine.ruleset.work import Gear, Labour, OpenTime, Price, Rates

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_STRETCH = re.compile(
    r"([01]?[0-9]|2[0-4]):([0-5][0-9])\s*\.\.\s*([01]?[0-9]|2[0-4]):([0-5][0-9])", re.A
)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.A)
_MINUTES_A_DAY = 24 * 60


def build_gear(entry: Entry, names: Names, report: Report) -> Gear | None:
    """A piece of protective gear; None where it is wrong."""
    text = entry.get("text")
    if text is not None:
        check_template(text, entry, ("text",), None, names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    return Gear(entry.id, entry.get("title"), text, source, entry.name_place)


def build_labour(
    entry: Entry,
    steps: Entries,
    products: Entries,
    facts: Mapping[str, FactSpec | None],
    report: Report,
) -> Labour | None:
    """The shop's labour; None where it is wrong."""
    before = len(report)
    amounts = Amounts(entry, facts, report)
    source = build_source(entry)
    rate = amounts.quantity(Kind.MONEY, "rate")
    week = tuple(_day(entry, day, report) for day in DAYS)
    if entry.get("hours") and len(report) == before and not any(week):
        report.add(
            "no-working-hours",
            "there is no working time on any day",
            entry.key_place("hours"),
            "Give at least one day a stretch, as in `mon: [08:00..12:00]`.",
        )
    closed = _closed(entry, report)
    times = _times(entry, steps, amounts, report)
    prices = _prices(entry, products, amounts, report)
    otherwise = amounts.rates(Kind.TIME, "otherwise")
    if source is None or not entry.sound or len(report) > before:
        return None
    return Labour(
        people=entry.get("people"),
        booths=entry.get("booths"),
        week=week,
        closed=closed,
        times=times,
        example=entry.get("example") == "yes",
        source=source,
        place=entry.place(),
        otherwise=otherwise,
        rate=rate.amount if rate else None,
        currency=rate.currency if rate else None,
        prices=prices,
    )


def _times(entry: Entry, steps: Entries, amounts: Amounts, report: Report) -> dict[str, Rates]:
    found: dict[str, Rates] = {}
    for step in entry.get("times") or ():
        if step not in steps:
            report.unknown("step", step, steps, entry.key_place("times", step))
        rates = amounts.rates(Kind.TIME, "times", step)
        if rates is not None:
            found[step] = rates
    return found


def _prices(entry: Entry, products: Entries, amounts: Amounts, report: Report) -> dict[str, Price]:
    found: dict[str, Price] = {}
    for name in entry.get("prices") or ():
        if name not in products:
            report.unknown("product", name, products, entry.key_place("prices", name))
            continue
        price = build_price(amounts, measure_of(products[name]), "prices", name)
        if price is not None:
            found[name] = price
    return found


def _day(entry: Entry, day: str, report: Report) -> tuple[OpenTime, ...]:
    found: list[OpenTime] = []
    for index in range(len(entry.get("hours", day) or ())):
        place = entry.place("hours", day, index)
        written = entry.get("hours", day, index)
        if written is None:
            continue
        match = _STRETCH.fullmatch(written)
        if match is None:
            report.add(
                "bad-hours",
                f"`{written}` is no stretch of working time",
                place,
                "Write it as in `08:00..12:00`, by the 24-hour clock.",
            )
            continue
        start, end = (int(match[hour]) * 60 + int(match[hour + 1]) for hour in (1, 3))
        if not (found[-1].end if found else 0) <= start < end <= _MINUTES_A_DAY:
            report.add(
                "bad-hours",
                f"`{written}` does not run forward from what stands before it",
                place,
                "Give the stretches of a day in order and without overlap, within one day.",
            )
            continue
        found.append(OpenTime(start, end))
    return tuple(found)


def _closed(entry: Entry, report: Report) -> frozenset[date]:
    found: set[date] = set()
    for index, written in enumerate(entry.get("closed") or ()):
        try:
            if not isinstance(written, str) or not _DAY.fullmatch(written):
                raise ValueError
            found.add(date.fromisoformat(written))
        except ValueError:
            report.add(
                "bad-date",
                f"`{written}` is no date",
                entry.place("closed", index),
                "Write year, month and day, as in `2026-12-25`.",
            )
    return frozenset(found)
