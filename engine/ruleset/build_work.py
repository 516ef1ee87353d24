"""Builds steps, with how each is planned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from engine.errors import ReckoningError
from engine.quantity import Kind
from engine.reckoning.abrasives import parse_grade
from engine.ruleset.amounts import Amounts
from engine.ruleset.build_limits import build_source
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import About, Step
from engine.ruleset.names import Names, check_template
from engine.ruleset.report import Report
from engine.ruleset.work import (
    Booth,
    Dryness,
    Grits,
    ProductUse,
    Recoat,
    Span,
    Together,
    WaitsFor,
    Within,
    Work,
)

BY_SYSTEM = "system"
_MEASURES = {"volume": Kind.VOLUME, "mass": Kind.MASS, "count": Kind.NUMBER}


@dataclass(frozen=True, slots=True)
class Around:
    """What the steps of a rule set may name."""

    steps: Entries
    holds: Entries
    products: Entries
    gear: Entries
    treatments: Entries


def build_step(entry: Entry, around: Around, names: Names, report: Report) -> Step | None:
    """A step with its work; None where it is wrong."""
    about = entry.get("about")
    text = entry.get("text")
    if text is not None:
        check_template(text, entry, ("text",), About(about) if about else None, names, report)
    source = build_source(entry)
    before = len(report)
    work = _Builder(entry, around, names, report).work()
    if source is None or not entry.sound or len(report) > before:
        return None
    return Step(
        id=entry.id,
        about=About(about),
        title=entry.get("title"),
        text=text,
        phase=int(entry.get("phase")),
        source=source,
        place=entry.name_place,
        work=work,
    )


def measure_of(product: Entry) -> Kind:
    """The kind a product's amounts are in; litres where it does not say."""
    return _MEASURES[product.get("measured-by") or "volume"]


class _Builder:
    def __init__(self, entry: Entry, around: Around, names: Names, report: Report) -> None:
        self._entry = entry
        self._around = around
        self._report = report
        self._amounts = Amounts(entry, names.facts, report)

    def work(self) -> Work:
        get, around = self._entry.get, self._around
        together, booth = get("together"), get("booth")
        return Work(
            needs=self._amounts.names(around.steps, "step", "needs"),
            before=self._amounts.names(around.steps, "step", "before"),
            together=Together(together) if together else Together.PANEL,
            holds=self._amounts.names(around.holds, "hold", "hold"),
            releases=self._amounts.names(around.holds, "hold", "releases"),
            waits=self._amounts.span(Kind.TIME, "waits"),
            waits_for=self._waits_for(),
            grits=self._grits(),
            products=self._products(),
            gear=self._amounts.names(around.gear, "gear", "gear"),
            booth=Booth(booth) if booth else None,
            people=get("people") or 1,
            same_day=get("same-day") == "yes",
            recoat=self._recoat(),
            within=self._within(),
        )

    def _waits_for(self) -> WaitsFor | None:
        products = self._amounts.names(self._around.products, "product", "waits-for", "product")
        until = self._entry.get("waits-for", "until")
        if not products or until is None:
            return None
        if "waits" in self._entry.data:
            self._report.add(
                "said-twice",
                "`waits` and `waits-for` both say how long to wait",
                self._entry.key_place("waits"),
                "Keep one of them.",
            )
        return WaitsFor(products, Dryness(until))

    def _grits(self) -> Grits | None:
        start, finish = (self._entry.get("grits", key) for key in ("start", "finish"))
        if start is None or finish is None:
            return None
        for key, grade in (("start", start), ("finish", finish)):
            try:
                parse_grade(grade)
            except ReckoningError as error:
                self._report.add(
                    "bad-grade", error.format_message(), self._entry.place("grits", key)
                )
        return Grits(start, finish, self._amounts.rates(Kind.NUMBER, "grits", "sheets"))

    def _recoat(self) -> Recoat | None:
        after = self._amounts.names(self._around.steps, "step", "recoat-after")
        return Recoat(after) if after else None

    def _within(self) -> Within | None:
        after = self._amounts.names(self._around.steps, "step", "within", "after")
        time = self._amounts.positive(Kind.TIME, "within", "time")
        if not after or time is None:
            return None
        return Within(after, time, self._entry.get("within", "otherwise"))

    def _products(self) -> tuple[ProductUse, ...]:
        listed = self._entry.get("products") or ()
        return tuple(
            use for index in range(len(listed)) if (use := self._product(("products", index)))
        )

    def _product(self, keys: tuple[str | int, ...]) -> ProductUse | None:
        known: Mapping[str, Entry] = self._around.products
        name = self._entry.get(*keys, "product")
        if name is None:
            return None
        if name not in known:
            self._report.unknown("product", name, known, self._entry.place(*keys, "product"))
            return None
        measure = measure_of(known[name])
        film, use = self._entry.text(*keys, "film"), self._entry.get(*keys, "use")
        if (film is None) == (use is None):
            self._report.add(
                "film-or-use",
                f"`{name}` needs either `film` with `coats`, or `use`",
                self._entry.place(*keys),
                "A coat has a `film`, as in `{film: 1 mil, coats: 1}`; what is used up has a "
                "`use`, as in `{per-m2: 50 ml}`.",
            )
            return None
        if film is not None and measure is not Kind.VOLUME:
            self._report.add(
                "film-not-by-volume",
                f"`{name}` is not measured by volume, so no film of it can be reckoned",
                self._entry.key_place(*keys, "film"),
                "Give a `use` instead.",
            )
        by_system = film == BY_SYSTEM
        return ProductUse(
            product=name,
            place=self._entry.place(*keys),
            film=None
            if film is None or by_system
            else self._amounts.positive(Kind.THICKNESS, *keys, "film"),
            by_system=by_system,
            coats=self._entry.get(*keys, "coats"),
            use=self._amounts.rates(measure, *keys, "use"),
            share=self._share((*keys, "share")),
            share_by_treatment=tuple(self._shares((*keys, "share-if"))),
            share_fact=self._amounts.share_fact(*keys, "share-of"),
        )

    def _shares(self, keys: tuple[str | int, ...]) -> Iterator[tuple[str, Span]]:
        for treatment in self._entry.get(*keys) or ():
            if treatment not in self._around.treatments:
                place = self._entry.key_place(*keys, treatment)
                self._report.unknown("treatment", treatment, self._around.treatments, place)
            share = self._share((*keys, treatment))
            if share is not None:
                yield treatment, share

    def _share(self, keys: tuple[str | int, ...]) -> Span | None:
        share = self._amounts.span(Kind.PERCENT, *keys)
        if share is not None and share.high > 100:
            self._report.add(
                "share-over-all",
                "a share of a panel cannot be more than 100 %",
                self._entry.place(*keys),
                "Write a share as in `5..20 %`.",
            )
        return share
