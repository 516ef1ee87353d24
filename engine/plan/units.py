"""Amounts in words, in the units of a region."""

from __future__ import annotations

from fractions import Fraction

from engine.quantity import Kind, from_unit, show
from engine.ruleset.model import RuleSet
from engine.ruleset.work import Span
from engine.words import say

_SMALLER = {"gal": "fl oz", "L": "ml"}


class Units:
    """The units a rule set shows in a region; in its usual one where none is named."""

    def __init__(self, ruleset: RuleSet, region: str | None = None) -> None:
        shown = ruleset.shown_units
        usual = shown.get(ruleset.shown_by_default) or {}
        self._units = shown.get(region or ruleset.shown_by_default) or usual

    def unit(self, kind: Kind) -> str | None:
        """The unit of the region for a kind."""
        return self._units.get(kind)

    def amount(self, amount: Fraction, kind: Kind) -> str:
        """An amount in words; times in hours or minutes."""
        return show(amount, kind, self._unit_for(amount, kind))

    def text(self, span: Span, kind: Kind) -> str:
        """A span in words: `1.2 m2`, `20 min to 35 min`."""
        low, high = self.ends(span, kind)
        return low if span.exact else say("{low} to {high}", low=low, high=high)

    def ends(self, span: Span, kind: Kind) -> tuple[str, str]:
        """Both ends of a span in words, in the same unit (times: each in its own)."""
        unit = self._unit_for(span.high, kind)
        return show(span.low, kind, unit), show(span.high, kind, unit)

    def _unit_for(self, amount: Fraction, kind: Kind) -> str | None:
        """The unit to show an amount in; None lets it follow from the amount."""
        if kind is Kind.TIME:
            return None
        unit = self.unit(kind)
        smaller = _SMALLER.get(unit or "")
        # A quarter of the large unit is about where people stop thinking in it.
        if kind is Kind.VOLUME and smaller and amount < from_unit(Fraction(1, 4), kind, unit or ""):
            return smaller
        return unit
