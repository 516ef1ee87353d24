"""Reckoned facts: which told facts and limits each needs, and the calculation it hands them to.

The calculations live in the modules of this package and take every number as a parameter; here
they are given the rule set's limits, tables and paint systems.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from engine.errors import ReckoningError
from engine.reckoning import air, build
from engine.reckoning.history import FilmHistory, film_history
from engine.reckoning.outliers import odd_spots
from engine.reckoning.survey import Survey, survey
from engine.ruleset.model import RuleSet

Reckoned = Fraction | str


@dataclass(frozen=True, slots=True)
class Given:
    """The exact values of the facts a reckoner reads, and the rule set it reads limits from."""

    values: Mapping[str, Any]
    ruleset: RuleSet

    def limit(self, name: str) -> Fraction:
        return self.ruleset.limits[name].amount

    def coats(self, way: str) -> tuple[Fraction, ...]:
        """The film of each coat of the planned paint system, for one way of preparing."""
        system = self.ruleset.systems[self.values["car.topcoat"]]
        return tuple(coat.film for coat in system.coats[way])


@dataclass(frozen=True, slots=True)
class Reckoner:
    """`reads` are fact ids, all needed; `limits` limit ids; `systems`: reads paint systems.

    `compute` gives None where the fact does not apply, such as a test that needs more spots.
    """

    reads: tuple[str, ...]
    compute: Callable[[Given], Reckoned | None]
    limits: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    systems: bool = False


_HISTORY_LIMITS = (
    "film.thin-below",
    "film.factory-high",
    "film.spread-limit",
    "film.gap-limit",
    "film.gap-ratio",
    "film.grubbs-significance",
    "film.spots-for-history",
    "film.spots-for-odd",
    "film.odd-share",
    "film.odd-departure",
)
_READINGS = "film.readings"


@lru_cache(maxsize=4096)
def _survey(readings: tuple[tuple[Fraction, ...], ...]) -> Survey:
    return survey(readings)


@lru_cache(maxsize=4096)
def _history(
    readings: tuple[tuple[Fraction, ...], ...], limits: tuple[Fraction, ...]
) -> FilmHistory:
    thin, high, spread, gap, ratio, significance, spots, for_odd, share, departure = limits
    return film_history(
        _survey(readings),
        thin_below=thin,
        factory_high=high,
        spread_limit=spread,
        gap_limit=gap,
        gap_ratio=ratio,
        alpha=significance / 100,
        fewest_spots=int(spots),
        fewest_for_odd=int(for_odd),
        odd_percent=share,
        odd_departure=departure,
    )


def _surveyed(given: Given) -> Survey:
    return _survey(given.values[_READINGS])


def _film_history(given: Given) -> FilmHistory:
    return _history(given.values[_READINGS], tuple(given.limit(name) for name in _HISTORY_LIMITS))


def _odd_spots(given: Given) -> Fraction | None:
    spots = _surveyed(given).spots
    if len(spots) < given.limit("film.spots-for-odd"):
        return None
    found = odd_spots(
        spots,
        alpha=given.limit("film.grubbs-significance") / 100,
        at_least=int(given.limit("film.spots-for-odd")),
        at_most_percent=given.limit("film.odd-share"),
        departure=given.limit("film.odd-departure"),
    )
    return Fraction(len(found))


def _deepest_filler(given: Given) -> Fraction:
    depths: tuple[tuple[Fraction, ...], ...] = given.values["filler.readings"]
    return max(max(spot) for spot in depths)


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
    return build.must_come_off(
        film, given.coats("if-sanded"), limit=given.limit("film.overcoat-limit")
    )


def _dew_point(given: Given) -> Fraction:
    return Fraction(
        air.dew_point(given.values["shop.air-temperature"], given.values["shop.relative-humidity"])
    )


_AIR = ("shop.air-temperature", "shop.relative-humidity")

RECKONERS: Mapping[str, Reckoner] = {
    "film.spots": Reckoner((_READINGS,), lambda given: Fraction(_surveyed(given).n)),
    "film.typical": Reckoner((_READINGS,), lambda given: _surveyed(given).typical),
    "film.low": Reckoner((_READINGS,), lambda given: _surveyed(given).low),
    "film.high": Reckoner((_READINGS,), lambda given: _surveyed(given).high),
    "film.spread": Reckoner((_READINGS,), lambda given: _surveyed(given).spread),
    "film.odd-spots": Reckoner((_READINGS,), _odd_spots, _HISTORY_LIMITS[5:]),
    "film.history": Reckoner(
        (_READINGS,), lambda given: _film_history(given).kind, _HISTORY_LIMITS
    ),
    "filler.deepest": Reckoner(("filler.readings",), _deepest_filler),
    "build.if-sanded": Reckoner(
        ("film.typical", "car.topcoat"), _if_sanded, ("build.sanded-off",), systems=True
    ),
    "build.if-partly-stripped": Reckoner(
        ("film.typical", "car.topcoat"),
        _if_partly_stripped,
        ("film.undercoat-left",),
        systems=True,
    ),
    "build.if-stripped": Reckoner(
        ("car.topcoat",),
        lambda given: build.forecast_stripped(given.coats("if-stripped")),
        systems=True,
    ),
    "build.must-come-off": Reckoner(
        ("film.typical", "car.topcoat"), _must_come_off, ("film.overcoat-limit",), systems=True
    ),
    "air.dew-point": Reckoner(_AIR, _dew_point),
    "air.dew-margin": Reckoner(
        ("shop.surface-temperature", *_AIR),
        lambda given: given.values["shop.surface-temperature"] - _dew_point(given),
    ),
}

__all__ = ["RECKONERS", "Given", "Reckoned", "Reckoner", "ReckoningError"]
