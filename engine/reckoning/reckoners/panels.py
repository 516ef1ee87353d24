"""A panel beside the other panels of the same car: the reference is the car, never a table."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning.others import median_among
from engine.reckoning.reckoners.base import Given, Reckoner

_TYPICAL = "film.typical"
_KIND = ("substrate", "part")


def _reference(given: Given) -> Fraction | None:
    """The median of the other panels of the same kind; None where too few compare."""
    if len(given.panels) < given.limit("film.panels-for-reference"):
        return None
    return median_among(given.panels, _TYPICAL)


def _offset(given: Given) -> Fraction:
    return Fraction(given.values[_TYPICAL] - given.values["film.reference"])


def _beside_others(given: Given) -> str:
    offset = given.values["film.offset"]
    limit = given.limit("film.panel-offset")
    return "thicker" if offset >= limit else "thinner" if offset <= -limit else "alike"


RECKONERS: Mapping[str, Reckoner] = {
    "film.reference": Reckoner(
        (_TYPICAL, *_KIND),
        _reference,
        ("film.panels-for-reference",),
        panels=(_TYPICAL,),
        alike=_KIND,
    ),
    "film.offset": Reckoner((_TYPICAL, "film.reference"), _offset),
    "film.beside-others": Reckoner(("film.offset",), _beside_others, ("film.panel-offset",)),
}
