"""Filler: how deep what was found is, and how much and how many layers a hollow takes."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning import filler
from engine.reckoning.reckoners.base import Given, Reckoner

_UM_PER_MM = 1000
_ML_PER_L = 1000


def _deepest(given: Given) -> Fraction:
    depths: tuple[tuple[Fraction, ...], ...] = given.values["filler.readings"]
    return filler.deepest([depth for spot in depths for depth in spot])


def _layers(given: Given) -> Fraction:
    thickest = given.limit("filler.layer-limit")
    # Both in um: the count of layers does not mind the unit.
    return Fraction(filler.layers(given.values["filler.to-build"], layer_limit_mm=thickest))


def _volume(given: Given) -> Fraction:
    return filler.volume(
        given.values["filler.area"],
        depth_mm=given.values["filler.to-build"] / _UM_PER_MM,
        shape=given.values["filler.shape"],
        sanded_away_percent=given.limit("filler.sanded-away"),
    )


def _mass(given: Given) -> Fraction:
    density = given.limit("filler.density") / _ML_PER_L
    return filler.mass(given.values["filler.volume"], density_g_per_ml=density)


def _hardener(given: Given) -> Fraction:
    return filler.hardener(
        given.values["filler.mass"],
        percent_by_mass=given.limit("filler.hardener-share"),
        least_percent=given.limit("filler.hardener-least"),
        most_percent=given.limit("filler.hardener-most"),
    )


RECKONERS: Mapping[str, Reckoner] = {
    "filler.deepest": Reckoner(("filler.readings",), _deepest),
    "filler.layers": Reckoner(("filler.to-build",), _layers, ("filler.layer-limit",)),
    "filler.volume": Reckoner(
        ("filler.to-build", "filler.area", "filler.shape"), _volume, ("filler.sanded-away",)
    ),
    "filler.mass": Reckoner(("filler.volume",), _mass, ("filler.density",)),
    "filler.hardener": Reckoner(
        ("filler.mass",),
        _hardener,
        ("filler.hardener-share", "filler.hardener-least", "filler.hardener-most"),
    ),
}
