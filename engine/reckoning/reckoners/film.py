"""The film of one panel: what its readings come to once they are corrected."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from engine.errors import ReckoningError
from engine.reckoning.gauge import Checked, Taken, less_correction, suspect_readings
from engine.reckoning.history import FilmHistory, film_history
from engine.reckoning.inputs import not_negative
from engine.reckoning.memory import kept_by_identity
from engine.reckoning.outliers import odd_spots
from engine.reckoning.reckoners.base import Given, Reckoned, Reckoner
from engine.reckoning.survey import (
    SQUARE_FOOT_M2,
    SizeStep,
    Survey,
    interval_of,
    spots_needed,
    survey,
)
from engine.reckoning.tables import pick
from engine.ruleset.model import RuleSet

Readings = tuple[tuple[Fraction, ...], ...]

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
_CORRECTION = "film.correction"
_BY_GAUGE = "survey.corrections-by-gauge"
_BY_PROFILE = "survey.iso19840-corrections"
_CHECKS = ("car.gauge-before", "car.gauge-after")
_PASSED = "passed"

# --- correcting -----------------------------------------------------------------------------------


def _correction(given: Given) -> Fraction | None:
    """What comes off every reading for the metal under the film; None where nothing does."""
    gauge: str = given.known("film.gauge") or ""
    takes_base, takes_profile = _corrections_by_gauge(given.ruleset).get(gauge, (False, False))
    base = given.known("film.base-reading")
    profile = given.known("metal-profile")
    less: Fraction | None = None
    if takes_base and base is not None:
        # Read on the same metal, blasted or not, so its profile is in it already.
        less = not_negative("the base metal reading", base, "read the bare, prepared metal.")
    elif takes_profile and profile is not None:
        less = _for_profile(given, profile)
    if not less:
        return None
    # Refused here, once, so that nothing is reckoned from readings that cannot be.
    less_correction(given.values[_READINGS], correction=less)
    return less


@kept_by_identity
def _corrections_by_gauge(ruleset: RuleSet) -> dict[str, tuple[bool, bool]]:
    columns = ("gauge", "base-metal", "profile")
    rows = pick(ruleset.tables[_BY_GAUGE], "corrections by gauge", *columns)
    return {gauge: (base, profile) for gauge, base, profile in rows}


def _for_profile(given: Given, profile: str) -> Fraction:
    rows = dict(
        pick(given.table(_BY_PROFILE), "corrections by profile", "profile", "correction-um")
    )
    if profile not in rows:
        raise ReckoningError(
            f"There is no correction for a {profile!r} profile; compare the steel with an "
            f"ISO 8503-1 comparator and give one of {', '.join(map(str, rows))}."
        )
    return not_negative("the correction for the profile", rows[profile], "correct the table.")


# --- the survey -----------------------------------------------------------------------------------


@kept_by_identity
def _corrected_survey(readings: Readings, correction: Fraction | None) -> Survey:
    if correction is None:
        return survey(readings)
    return survey(less_correction(readings, correction=correction))


def surveyed(given: Given) -> Survey:
    """The survey of a panel, corrected for the metal under the film."""
    return _corrected_survey(given.values[_READINGS], given.settled(_CORRECTION))


def history_of(given: Given) -> FilmHistory:
    """What the survey of a panel says of its past, by the limits of the rule set."""
    return _history_of(surveyed(given), given.ruleset)


@kept_by_identity
def _history_of(surveyed_: Survey, ruleset: RuleSet) -> FilmHistory:
    thin, high, spread, gap, ratio, significance, spots, for_odd, share, departure = (
        ruleset.limits[name].amount for name in _HISTORY_LIMITS
    )
    return film_history(
        surveyed_,
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


def _odd_spots(given: Given) -> Fraction | None:
    spots = surveyed(given).spots
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


# --- how sure the survey is -----------------------------------------------------------------------


def _uncertainty(given: Given) -> Fraction | None:
    found = surveyed(given)
    if found.n < 2:
        return None
    return Fraction(
        interval_of(found, confidence=given.limit("film.confidence-level") / 100).half_width
    )


def _limit_call(given: Given) -> str:
    """Where the interval of the mean lies: under the limit, over it, or on both sides."""
    mean, reach = surveyed(given).mean, given.values["film.uncertainty"]
    limit = given.limit("film.overcoat-limit")
    if mean - reach > limit:
        return "over"
    return "under" if mean + reach <= limit else "unclear"


@kept_by_identity
def _steps_of(ruleset: RuleSet) -> tuple[SizeStep, ...]:
    rows = pick(
        ruleset.tables["survey.pa2-areas"],
        "areas to measure",
        *("over-ft2", "up-to-ft2", "areas", "more", "per-ft2"),
    )
    return tuple(SizeStep(*row) for row in rows)


def _spots_needed(given: Given) -> Fraction:
    counts = dict(pick(given.table("survey.pa2-counts"), "spots and readings", "count", "least"))
    return Fraction(
        spots_needed(
            given.values["area"],
            steps=_steps_of(given.ruleset),
            unit_m2=SQUARE_FOOT_M2,
            spots_per_area=counts["spots-per-area"],
            readings_per_spot=counts["readings-per-spot"],
        ).spots
    )


def _spots_short(given: Given) -> Fraction:
    return Fraction(max(0, given.values["film.spots-needed"] - given.values["film.spots"]))


def _suspect(given: Given) -> Fraction | None:
    """How many readings no pair of passed checks covers; None where no check was told of."""
    before, after = (given.known(check) for check in _CHECKS)
    if before is None and after is None:
        return None
    readings: Readings = given.values[_READINGS]
    log: list[Checked | Taken] = [
        *([] if before is None else [Checked(before == _PASSED)]),
        *(Taken(reading) for spot in readings for reading in spot),
        *([] if after is None else [Checked(after == _PASSED)]),
    ]
    return Fraction(len(suspect_readings(log)))


# --- above the e-coat -----------------------------------------------------------------------------


def _above_ecoat(given: Given) -> Fraction | None:
    """What the thinnest spot carries above e-coat and zinc; below 0 where it is less than both."""
    under = under_coats(given.ruleset).get(given.values["substrate"])
    return None if under is None else Fraction(given.values["film.low"] - under)


@kept_by_identity
def under_coats(ruleset: RuleSet) -> dict[str, Fraction]:
    """E-coat and zinc below the paint of each substrate, in um."""
    columns = ("substrate", "ecoat-um", "zinc-um")
    rows = pick(ruleset.tables["film.under-coats"], "coats under the paint", *columns)
    return {substrate: Fraction(ecoat + zinc) for substrate, ecoat, zinc in rows}


def _of_survey(
    compute: Callable[[Given], Reckoned | None], *limits: str, reads: tuple[str, ...] = ()
) -> Reckoner:
    return Reckoner((_READINGS, *reads), compute, limits, also=(_CORRECTION,))


def _summed(name: str) -> Reckoner:
    def compute(given: Given) -> Any:
        return getattr(surveyed(given), name)

    return _of_survey(compute)


RECKONERS: Mapping[str, Reckoner] = {
    "car.gauge-off": Reckoner(
        ("car.gauge-zero",), lambda given: Fraction(abs(given.values["car.gauge-zero"]))
    ),
    "film.correction": Reckoner(
        (_READINGS,),
        _correction,
        tables=(_BY_GAUGE, _BY_PROFILE),
        also=("film.gauge", "film.base-reading", "metal-profile"),
    ),
    "film.spots": _of_survey(lambda given: Fraction(surveyed(given).n)),
    "film.typical": _summed("typical"),
    "film.low": _summed("low"),
    "film.high": _summed("high"),
    "film.spread": _summed("spread"),
    "film.odd-spots": _of_survey(_odd_spots, *_HISTORY_LIMITS[5:]),
    "film.history": _of_survey(lambda given: history_of(given).kind, *_HISTORY_LIMITS),
    "film.uncertainty": _of_survey(_uncertainty, "film.confidence-level"),
    "film.limit-call": _of_survey(_limit_call, "film.overcoat-limit", reads=("film.uncertainty",)),
    "film.spots-needed": Reckoner(
        ("area",), _spots_needed, tables=("survey.pa2-areas", "survey.pa2-counts")
    ),
    "film.spots-short": Reckoner(("film.spots", "film.spots-needed"), _spots_short),
    "film.suspect-readings": Reckoner((_READINGS,), _suspect, also=_CHECKS),
    "film.above-ecoat": Reckoner(
        ("film.low", "substrate"), _above_ecoat, tables=("film.under-coats",)
    ),
}
