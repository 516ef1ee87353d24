"""Builds products: how each is mixed, applied, dried, bought and paid."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.quantity import Kind
from engine.ruleset.amounts import Amounts
from engine.ruleset.build_limits import build_source
from engine.ruleset.build_work import measure_of
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import Product
from engine.ruleset.names import Names
from engine.ruleset.report import Report
from engine.ruleset.work import Bake, Drying, Handling, Price, Thinner, Warmer

READY = ""
"""The component name of a product that is bought ready to use."""


def build_product(entry: Entry, gear: Entries, names: Names, report: Report) -> Product | None:
    """A product with its handling; None where it is wrong."""
    source = build_source(entry)
    before = len(report)
    handling = _Builder(entry, gear, names, report).handling()
    if source is None or not entry.sound or len(report) > before:
        return None
    return Product(
        id=entry.id,
        title=entry.get("title"),
        kind=entry.get("kind"),
        source=source,
        place=entry.name_place,
        handling=handling,
    )


def build_price(amounts: Amounts, measure: Kind, *keys: str) -> Price | None:
    """What stands under these keys as `{amount: 45 USD, per: 1 L}`; None where nothing does."""
    money = amounts.quantity(Kind.MONEY, *keys, "amount")
    per = amounts.positive(measure, *keys, "per")
    if money is None or per is None:
        return None
    return Price(money.amount, money.currency or "", per)


class _Builder:
    def __init__(self, entry: Entry, gear: Entries, names: Names, report: Report) -> None:
        self._entry = entry
        self._gear = gear
        self._report = report
        self._amounts = Amounts(entry, names.facts, report)
        self._measure = measure_of(entry)
        self._size_texts: dict[Fraction, str] = {}

    def handling(self) -> Handling:
        amounts = self._amounts
        parts = amounts.numbers("parts")
        thinner = self._thinner(parts)
        return Handling(
            measured_by=self._measure,
            volume_solids=self._solids(),
            parts=parts,
            thinner=thinner,
            density=amounts.positive(Kind.DENSITY, "density"),
            voc=amounts.amount(Kind.DENSITY, "voc"),
            pot_life_h=amounts.positive(Kind.TIME, "pot-life"),
            drying=self._drying(),
            cans=self._cans(parts, thinner),
            size_texts=self._size_texts,
            price=build_price(self._amounts, self._measure, "price"),
            gear=amounts.names(self._gear, "gear", "gear"),
        )

    def _solids(self) -> Fraction | None:
        solids = self._amounts.positive(Kind.PERCENT, "volume-solids")
        if solids is not None and solids > 100:
            self._report.add(
                "share-over-all",
                "volume solids cannot be more than 100 %",
                self._entry.place("volume-solids"),
                "Take them from the data sheet; solids by weight are another number.",
            )
        return solids

    def _thinner(self, parts: Mapping[str, Fraction]) -> Thinner | None:
        name, of = self._entry.get("thinner", "name"), self._entry.get("thinner", "of")
        percent = self._amounts.amount(Kind.PERCENT, "thinner", "percent")
        if name is None or of is None or percent is None:
            return None
        if not parts:
            self._report.add(
                "thinner-without-parts",
                "thinner is added to a mix, and this product has no `parts`",
                self._entry.key_place("thinner"),
                "Give the mixing ratio, as in `parts: {paint: 4, hardener: 1}`.",
            )
        elif name in parts:
            self._report.add(
                "said-twice",
                f"`{name}` is a part of the mix already",
                self._entry.place("thinner", "name"),
                "Give the thinner another name, or take it out of `parts`.",
            )
        return Thinner(name, percent, of == "whole-mix")

    def _drying(self) -> Drying | None:
        if not isinstance(self._entry.get("drying"), Mapping):
            return None
        time = {
            key: self._amounts.amount(Kind.TIME, "drying", key)
            for key in ("flash", "handle", "sandable", "cured")
        }
        opens, closes = (
            self._amounts.amount(Kind.TIME, "drying", "recoat", key) for key in ("opens", "closes")
        )
        if opens is not None and closes is not None and closes < opens:
            self._report.add(
                "window-backwards",
                "the recoat window closes before it opens",
                self._entry.place("drying", "recoat", "closes"),
                "Give the earlier time as `opens`.",
            )
        at = self._amounts.amount(Kind.TEMPERATURE, "drying", "at")
        if at is None:
            return None
        return Drying(
            at_degC=at,
            flash_h=time["flash"],
            handle_h=time["handle"],
            sandable_h=time["sandable"],
            cured_h=time["cured"],
            opens_h=opens,
            closes_h=closes,
            once_closed=self._entry.get("drying", "recoat", "once-closed"),
            warmer=self._warmer(at),
            bake=self._bake(),
        )

    def _warmer(self, at: Fraction) -> Warmer | None:
        keys = ("drying", "warmer")
        if not isinstance(self._entry.get(*keys), Mapping):
            return None
        factor = self._amounts.positive(Kind.NUMBER, *keys, "factor")
        per = self._amounts.positive(Kind.TEMPERATURE_DIFFERENCE, *keys, "per")
        lowest = self._amounts.amount(Kind.TEMPERATURE, *keys, "from")
        highest = self._amounts.amount(Kind.TEMPERATURE, *keys, "to")
        span = self._amounts.positive(Kind.TEMPERATURE_DIFFERENCE, *keys, "span")
        if factor is not None and factor < 1:
            self._report.add(
                "slower-when-warm",
                "`factor` is below 1, which would dry slower in the warmth",
                self._entry.place(*keys, "factor"),
                "Give how many times faster it dries, 1 or more.",
            )
        if lowest is not None and highest is not None and not lowest <= at <= highest:
            self._report.add(
                "outside-its-own-range",
                "the temperature of the times lies outside `from` and `to`",
                self._entry.key_place(*keys),
                "Let the range hold the temperature under `at`.",
            )
        found = (factor, per, lowest, highest, span)
        if None in found:
            return None
        return Warmer(*(number for number in found if number is not None))

    def _bake(self) -> Bake | None:
        hold = self._amounts.positive(Kind.TIME, "drying", "bake", "hold")
        at = self._amounts.amount(Kind.TEMPERATURE, "drying", "bake", "at")
        ramp = self._amounts.amount(Kind.TIME, "drying", "bake", "ramp")
        if hold is None or at is None or ramp is None:
            return None
        return Bake(hold, at, ramp)

    def _cans(
        self, parts: Mapping[str, Fraction], thinner: Thinner | None
    ) -> dict[str, tuple[Fraction, ...]]:
        written = self._entry.get("cans")
        if isinstance(written, list):
            if parts:
                self._report.add(
                    "cans-by-part",
                    "the mix has parts that are bought apart",
                    self._entry.key_place("cans"),
                    f"List the sizes by part, as in `{next(iter(parts))}: [1 L]`.",
                )
            return {READY: self._sizes(("cans",), len(written))}
        if not isinstance(written, Mapping):
            return {}
        known = [*parts, *([thinner.name] if thinner else [])]
        found: dict[str, tuple[Fraction, ...]] = {}
        for name in written:
            if name not in known:
                self._report.unknown("part", name, known, self._entry.key_place("cans", name))
            sizes = self._entry.get("cans", name)
            found[name] = self._sizes(("cans", name), len(sizes or ()))
        return found

    def _sizes(self, keys: tuple[str | int, ...], count: int) -> tuple[Fraction, ...]:
        found: list[Fraction] = []
        for index in range(count):
            size = self._amounts.positive(self._measure, *keys, index)
            if size is not None:
                found.append(size)
                self._size_texts.setdefault(size, self._entry.text(*keys, index) or "")
        return tuple(found)
