"""Cure of the topcoat to come: its data sheet's times, moved to the temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning.cure import RateRule, bake
from engine.reckoning.reckoners.base import Given, Reckoner
from engine.ruleset.work import Drying

_TOPCOAT = "car.topcoat"
_SURFACE = "shop.surface-temperature"


def drying_of(given: Given) -> Drying | None:
    """The drying data of the last coat of the planned system, where the rule set has any."""
    last = next(iter(given.system().coats.values()))[-1]
    return given.ruleset.products[last.product].handling.drying


def _factor(given: Given) -> Fraction | None:
    """How many times the printed time cure takes at the shop's surface temperature."""
    drying = drying_of(given)
    if drying is None or drying.warmer is None:
        return None
    warmer = drying.warmer
    rule = RateRule(
        factor=warmer.factor,
        per_degC=warmer.per_degC,
        lowest_degC=warmer.lowest_degC,
        highest_degC=warmer.highest_degC,
        span_degC=warmer.span_degC,
    )
    return Fraction(rule.time(1, from_degC=drying.at_degC, to_degC=given.values[_SURFACE]))


def _time(given: Given) -> Fraction | None:
    drying = drying_of(given)
    if drying is None or drying.cured_h is None:
        return None
    return Fraction(drying.cured_h * given.values["cure.factor"])


def _printed(given: Given) -> Fraction | None:
    drying = drying_of(given)
    return None if drying is None else drying.cured_h


def _flash(given: Given) -> Fraction | None:
    # Flash waits for solvent, which no rate rule moves: it stays as printed.
    drying = drying_of(given)
    return None if drying is None else drying.flash_h


def _bake(given: Given) -> Fraction | None:
    drying = drying_of(given)
    if drying is None or drying.bake is None:
        return None
    return Fraction(bake(drying.bake.hold_h, ramp_h=drying.bake.ramp_h).total_h)


RECKONERS: Mapping[str, Reckoner] = {
    "cure.factor": Reckoner((_TOPCOAT, _SURFACE), _factor, systems=True),
    "cure.time": Reckoner((_TOPCOAT, "cure.factor"), _time, systems=True),
    "cure.printed-time": Reckoner((_TOPCOAT,), _printed, systems=True),
    "cure.flash": Reckoner((_TOPCOAT,), _flash, systems=True),
    "cure.bake": Reckoner((_TOPCOAT,), _bake, systems=True),
}
