"""How thick the film will be with the new coats on, and how much more would fit."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning import build
from engine.reckoning.memory import kept_by_identity
from engine.reckoning.reckoners.base import Given, Reckoner
from engine.ruleset.coats import COAT_FACTS, Coat

_LIMIT = "film.overcoat-limit"
_NEEDS = ("film.typical", "car.topcoat")


def coats_of(given: Given, way: str) -> tuple[Coat, ...]:
    """The coats of one way of preparing that go on this panel."""
    return given.system().coats_on(way, given.settled)


@kept_by_identity
def _together(*coats: Coat) -> tuple[Fraction]:
    """All coats as one film, since only their sum is asked for."""
    return (build.new_film([coat.film for coat in coats]),)


def _new_film(given: Given, way: str) -> tuple[Fraction]:
    return _together(*coats_of(given, way))


def _if_sanded(given: Given) -> Fraction:
    film = given.values["film.typical"]
    # A film thinner than the usual sanding loss is sanded less, never below nothing.
    off = min(given.limit("build.sanded-off"), film)
    return build.forecast(film, _new_film(given, "if-sanded"), sanded=off)


def _if_partly_stripped(given: Given) -> Fraction:
    return build.forecast_partly_stripped(
        given.values["film.typical"],
        _new_film(given, "if-partly-stripped"),
        undercoat=given.limit("film.undercoat-left"),
    )


def _must_come_off(given: Given) -> Fraction:
    film = given.values["film.typical"]
    return build.must_come_off(film, _new_film(given, "if-sanded"), limit=given.limit(_LIMIT))


def _room(given: Given) -> Fraction:
    """What fits over the planned system before the limit; 0 where it is reached or passed."""
    return Fraction(max(0, given.limit(_LIMIT) - given.values["build.if-sanded"]))


RECKONERS: Mapping[str, Reckoner] = {
    "build.if-sanded": Reckoner(
        _NEEDS, _if_sanded, ("build.sanded-off",), systems=True, also=COAT_FACTS
    ),
    "build.if-partly-stripped": Reckoner(
        _NEEDS, _if_partly_stripped, ("film.undercoat-left",), systems=True, also=COAT_FACTS
    ),
    "build.if-stripped": Reckoner(
        ("car.topcoat",),
        lambda given: build.forecast_stripped(_new_film(given, "if-stripped")),
        systems=True,
        also=COAT_FACTS,
    ),
    "build.must-come-off": Reckoner(
        _NEEDS, _must_come_off, (_LIMIT,), systems=True, also=COAT_FACTS
    ),
    "film.room": Reckoner(("build.if-sanded",), _room, (_LIMIT,)),
}
