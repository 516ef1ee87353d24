"""Reads the quantities in an entry of a rule set, single or as ranges; problems are reported."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.errors import Place, Problem, QuantityError
from engine.quantity import Dimension, Kind, Quantity, from_unit, parse_quantity, parse_range
from engine.quantity.units import KINDS
from engine.ruleset.entries import Entry, plain
from engine.ruleset.model import About, FactKind, FactSpec
from engine.ruleset.report import Report, near
from engine.ruleset.work import NOTHING, Rates, Span

_M2_PER_FT2 = from_unit(Fraction(1), Kind.AREA, "ft2")
_COUNTED = (Kind.COUNT, Kind.NUMBER)
_Keys = tuple[str | int, ...]


class Amounts:
    """The quantities of one entry. What cannot be read is reported and comes back as None."""

    def __init__(self, entry: Entry, facts: Mapping[str, FactSpec | None], report: Report) -> None:
        self.entry = entry
        self._facts = facts
        self._report = report

    def quantity(self, kind: Kind, *keys: str | int) -> Quantity | None:
        """The quantity under these keys; None where there is none or where it is wrong."""
        written = self.entry.text(*keys)
        if written is None:
            return None
        try:
            return parse_quantity(written, kind, place=self.entry.place(*keys))
        except QuantityError as error:
            self._report.extend(error.problems)
            return None

    def amount(self, kind: Kind, *keys: str | int) -> Fraction | None:
        found = self.quantity(kind, *keys)
        return None if found is None else found.amount

    def positive(self, kind: Kind, *keys: str | int) -> Fraction | None:
        """As `amount`, and more than zero."""
        found = self.amount(kind, *keys)
        if found is not None and found <= 0:
            noun = KINDS[kind].noun
            self._report.add(
                "not-above-zero",
                f"`{keys[-1]}` must be more than nothing",
                self.entry.place(*keys),
                f"Write {noun} as in {KINDS[kind].example}.",
            )
            return None
        return found

    def span(self, kind: Kind, *keys: str | int) -> Span | None:
        """The quantity or range (`20..35 min`) under these keys."""
        written = self.entry.text(*keys)
        if written is None:
            return None
        place = self.entry.place(*keys)
        try:
            if ".." in written:
                low, high = parse_range(written, kind, place=place)
                self._check_not_negative(low, kind, place)
                return Span(low, high)
            found = parse_quantity(written, kind, place=place).amount
            self._check_not_negative(found, kind, place)
            return Span.exactly(found)
        except QuantityError as error:
            self._report.extend(error.problems)
            return None

    def _check_not_negative(self, amount: Fraction, kind: Kind, place: Place) -> None:
        if amount < 0 and KINDS[kind].dimension is not Dimension.TEMPERATURE:
            raise QuantityError(
                Problem("negative", "an amount of work or product is never negative", place)
            )

    def rates(self, kind: Kind, *keys: str | int) -> Rates | None:
        """Amounts once, by panel, by area and by counted facts."""
        if not isinstance(self.entry.get(*keys), Mapping):
            return None
        by_ft2 = self.span(kind, *keys, "per-ft2")
        by_m2 = self.span(kind, *keys, "per-m2")
        if by_ft2 is not None and by_m2 is not None:
            self._report.add(
                "said-twice",
                "`per-m2` and `per-ft2` say the same thing",
                self.entry.key_place(*keys, "per-ft2"),
                "Keep one of them.",
            )
        if by_m2 is None and by_ft2 is not None:
            by_m2 = by_ft2.times(1 / _M2_PER_FT2)
        return Rates(
            fixed=self.span(kind, *keys, "fixed") or NOTHING,
            per_panel=self.span(kind, *keys, "per-panel") or NOTHING,
            per_m2=by_m2 or NOTHING,
            per_fact=tuple(self._per_fact(kind, (*keys, "per"))),
        )

    def _per_fact(self, kind: Kind, keys: _Keys) -> list[tuple[str, Span]]:
        found: list[tuple[str, Span]] = []
        for name in self.entry.get(*keys) or ():
            place = self.entry.key_place(*keys, name)
            self._check_counts(name, place)
            span = self.span(kind, *keys, name)
            if span is not None:
                found.append((name, span))
        return found

    def _check_counts(self, name: str, place: Place) -> None:
        if name not in self._facts:
            self._report.add(
                "unknown-fact", f"there is no fact `{name}`", place, near(name, self._facts)
            )
            return
        spec = self._facts[name]
        if spec is None:
            return
        if spec.about is not About.PANEL or spec.quantity not in _COUNTED:
            self._report.add(
                "not-a-count",
                f"`{name}` counts nothing on a panel",
                place,
                "Name a fact with `about: panel` and `kind: count`.",
            )

    def share_fact(self, *keys: str | int) -> str | None:
        """The name of a fact of the panel that is a percentage."""
        name = self.entry.get(*keys)
        if name is None:
            return None
        place = self.entry.place(*keys)
        spec = self._facts.get(name)
        if name not in self._facts:
            self._report.add(
                "unknown-fact", f"there is no fact `{name}`", place, near(name, self._facts)
            )
        elif spec is not None and (
            spec.about is not About.PANEL
            or spec.kind is not FactKind.QUANTITY
            or spec.quantity is not Kind.PERCENT
        ):
            self._report.add(
                "not-a-share",
                f"`{name}` is no percentage of a panel",
                place,
                "Name a fact with `about: panel` and `kind: percent`.",
            )
        return str(name)

    def numbers(self, *keys: str | int) -> dict[str, Fraction]:
        """A mapping of names to plain numbers above zero."""
        found: dict[str, Fraction] = {}
        for name in self.entry.get(*keys) or ():
            amount = self.positive(Kind.NUMBER, *keys, name)
            if amount is not None:
                found[name] = amount
        return found

    def names(self, known: Mapping[str, object], what: str, *keys: str | int) -> tuple[str, ...]:
        """A name or a list of names of `what`; those not known are reported."""
        written = self.entry.get(*keys)
        if written is None:
            return ()
        listed = [written] if isinstance(written, str) else list(written)
        for index, name in enumerate(listed):
            place = self.entry.place(*keys, *(() if isinstance(written, str) else (index,)))
            if name not in known:
                self._report.unknown(what, plain(name), known, place)
        return tuple(plain(name) for name in listed)
