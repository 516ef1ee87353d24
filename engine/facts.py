"""What is known of a shop, a car and its panels, and who told it.

A value is kept exactly: numbers as `Fraction`s in the base unit of their dimension, lists as
spots, each spot a tuple of its gauge readings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from engine.errors import Place
from engine.records import dataclass, field

Spots = tuple[tuple[Fraction, ...], ...]
"""Readings: one tuple a spot, holding that spot's gauge readings."""

FactValue = str | Fraction | frozenset[str] | Spots


@dataclass(frozen=True, slots=True)
class Told:
    """One fact as it was told.

    `value` is None where the answer was "don't know". `written` is what the person wrote. `by`,
    `at` and `instrument` say who told it, when, and with what it was measured.
    """

    value: FactValue | None
    written: str
    by: str | None = None
    at: str | None = None
    instrument: str | None = None
    place: Place | None = None
    unit: str | None = None


Sheet = Mapping[str, Told]
"""The told facts of one subject, by fact id."""


@dataclass(frozen=True, slots=True)
class JobFacts:
    """Everything told about one job. Panels keep the order in which they were named."""

    job: str
    shop: Sheet = field(default_factory=dict)
    car: Sheet = field(default_factory=dict)
    panels: Mapping[str, Sheet] = field(default_factory=dict)

    def sheet(self, about: str, panel: str | None = None) -> Sheet:
        """The sheet of `shop`, `car` or, with `panel` named, of that panel."""
        if about == "shop":
            return self.shop
        if about == "car":
            return self.car
        return self.panels[panel or ""]

    def tell(self, about: str, panel: str | None, fact: str, told: Told) -> JobFacts:
        """The same job with one fact added or replaced."""
        if about == "shop":
            return replace(self, shop={**self.shop, fact: told})
        if about == "car":
            return replace(self, car={**self.car, fact: told})
        name = panel or ""
        sheet = {**self.panels.get(name, {}), fact: told}
        return replace(self, panels={**self.panels, name: sheet})

    def withdraw(self, about: str, panel: str | None, fact: str) -> JobFacts:
        """The same job without one fact."""
        kept = {name: told for name, told in self.sheet(about, panel).items() if name != fact}
        if about == "shop":
            return replace(self, shop=kept)
        if about == "car":
            return replace(self, car=kept)
        return replace(self, panels={**self.panels, panel or "": kept})

    def __iter__(self) -> Iterator[tuple[str, str | None, str, Told]]:
        """Every told fact as (about, panel, fact id, told)."""
        for fact, told in self.shop.items():
            yield "shop", None, fact, told
        for fact, told in self.car.items():
            yield "car", None, fact, told
        for panel, sheet in self.panels.items():
            for fact, told in sheet.items():
                yield "panel", panel, fact, told
