"""How thick the film will be with the new coats on, and how much more would fit."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning import build
from engine.reckoning.reckoners.base import Given, Reckoner

_LIMIT = "film.overcoat-limit"
_NEEDS = ("film.typical", "car.topcoat")


def _if_sanded(given: Given) -> Fraction:
    film = given.values["film.typical"]
    # A film thinner than the usual sanding loss is sanded less, never below nothing.
    off = min(given.limit("build.sanded-off"), film)
    return build.forecast(film, given.coats("if-sanded"), sanded=off)


def _if_partly_stripped(given: Given) -> Fraction:
    return build.forecast_partly_stripped(
        given.values["film.typical"],
        given.coats("if-partly-stripped"),
        undercoat=given.limit("film.undercoat-left"),
    )


def _must_come_off(given: Given) -> Fraction:
    film = given.values["film.typical"]
    return build.must_come_off(film, given.coats("if-sanded"), limit=given.limit(_LIMIT))


def _room(given: Given) -> Fraction:
    """What fits over the planned system before the limit; 0 where it is reached or passed."""
    return Fraction(max(0, given.limit(_LIMIT) - given.values["build.if-sanded"]))


RECKONERS: Mapping[str, Reckoner] = {
    "build.if-sanded": Reckoner(_NEEDS, _if_sanded, ("build.sanded-off",), systems=True),
    "build.if-partly-stripped": Reckoner(
        _NEEDS, _if_partly_stripped, ("film.undercoat-left",), systems=True
    ),
    "build.if-stripped": Reckoner(
        ("car.topcoat",),
        lambda given: build.forecast_stripped(given.coats("if-stripped")),
        systems=True,
    ),
    "build.must-come-off": Reckoner(_NEEDS, _must_come_off, (_LIMIT,), systems=True),
    "film.room": Reckoner(("build.if-sanded",), _room, (_LIMIT,)),
}
