"""How the film of a panel and the build to come are written out with the numbers put in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from engine.quantity import Kind
from engine.reckoning.history import FilmHistory
from engine.reckoning.inputs import Number
from engine.reckoning.reckoners.base import Given
from engine.reckoning.reckoners.build import coats_of
from engine.reckoning.reckoners.film import history_of, surveyed, under_coats
from engine.reckoning.reckoners.written import Amounts, PutIn, Shown, at, counts, films, less, one
from engine.reckoning.survey import interval_of
from engine.words import say, sentence

# --- film -----------------------------------------------------------------------------------------


def _means(words: str) -> Shown:
    def shown(given: Given) -> PutIn:
        return (words, films(*surveyed(given).spots), *_corrected(given))

    return shown


def _history(given: Given) -> PutIn:
    return (
        *_means(sentence("from level, spread and gaps of the spot means"))(given),
        *_evenness(history_of(given), given),
    )


def _evenness(found: FilmHistory, given: Given) -> Iterator[str | Amounts]:
    """Which of the tests for an uneven film said so; the level where none of them did."""
    groups, spots = found.groups, surveyed(given).spots
    if groups.spread_over:
        yield from (sentence("- uneven: spread"), films(groups.spread), sentence("over"))
        yield films(given.limit("film.spread-limit"))
    if groups.gap_over:
        yield from (
            sentence("- uneven: a step of"),
            films(groups.largest_gap),
            sentence("where the usual one is"),
        )
        yield films(groups.median_gap)
    if found.odd_spots:
        yield from (
            sentence("- uneven: apart stands"),
            films(*(spots[place] for place in found.odd_spots)),
        )
    if found.kind != "mixed":
        yield from (sentence("- even, with a typical film of"), films(surveyed(given).typical))
    if found.odd_spots is None:
        yield sentence("- too few spots to test for odd ones")


def _corrected(given: Given) -> PutIn:
    off = given.known("film.correction")
    return (
        ()
        if off is None
        else (sentence("(each reading less"), films(off), sentence("for the metal)"))
    )


def _spread(given: Given) -> PutIn:
    found = surveyed(given)
    return (sentence("thickest less thinnest spot,"), films(found.high, found.low, signs=("-",)))


def _uncertainty(given: Given) -> PutIn:
    found = surveyed(given)
    level = given.limit("film.confidence-level")
    interval = interval_of(found, confidence=level / 100)
    return (
        sentence("Student's t times s / sqrt(n):"),
        one(interval.half_width / interval.standard_uncertainty, Kind.NUMBER)
        if interval.standard_uncertainty
        else "t",
        "x",
        films(found.sd or 0),
        say("/ sqrt({count}), t for", count=found.n),
        one(level, Kind.PERCENT),
        say("and {df} degrees of freedom", df=interval.df),
    )


def _limit_call(given: Given) -> PutIn:
    reach = given.values["film.uncertainty"]
    return (
        sentence("mean and its reach"),
        films(surveyed(given).mean, reach, signs=("+-",)),
        sentence("against"),
        films(given.limit("film.overcoat-limit")),
    )


def _correction(given: Given) -> PutIn:
    base = given.known("film.base-reading")
    if base is not None:
        return (sentence("the reading of the base metal,"), films(base))
    profile = given.known("metal-profile")
    return (say("what the table takes off for the profile {profile}", profile=profile),)


def _suspect(given: Given) -> PutIn:
    before, after = (given.known(f"car.gauge-{when}") for when in ("before", "after"))
    readings = sum(len(spot) for spot in given.values["film.readings"])
    return (
        sentence("of"),
        counts(readings),
        sentence("readings those without a passed check on each side;"),
        say(
            "gauge check before: {before}, after: {after}",
            before=before or say("not told"),
            after=after or say("not told"),
        ),
    )


def _above_ecoat(given: Given) -> PutIn:
    under = under_coats(given.ruleset)[given.values["substrate"]]
    return (
        sentence("thinnest spot less e-coat and zinc,"),
        films(given.values["film.low"], under, signs=("-",)),
    )


def _reference(given: Given) -> PutIn:
    others = (panel["film.typical"] for panel in given.panels)
    return (sentence("median of the comparable panels"), films(*others))


# --- build ----------------------------------------------------------------------------------------


def _coats(given: Given, way: str) -> tuple[Fraction, ...]:
    return tuple(coat.film for coat in coats_of(given, way))


def _with_coats(words: str, *film: Number, signs: str = "", coats: tuple[Fraction, ...]) -> PutIn:
    plus = ("+",) * (len(coats) - (0 if film else 1))
    return (words, films(*film, *coats, signs=(*signs, *plus)))


def _if_sanded(given: Given) -> PutIn:
    film = given.values["film.typical"]
    off = min(given.limit("build.sanded-off"), film)
    coats = _coats(given, "if-sanded")
    return _with_coats(
        sentence("film, less sanding, plus coats:"), film, off, signs="-", coats=coats
    )


def _if_partly_stripped(given: Given) -> PutIn:
    left = min(given.values["film.typical"], given.limit("film.undercoat-left"))
    coats = _coats(given, "if-partly-stripped")
    return _with_coats(sentence("undercoat left plus coats:"), left, coats=coats)


def _must_come_off(given: Given) -> PutIn:
    film, limit = given.values["film.typical"], given.limit("film.overcoat-limit")
    coats = _coats(given, "if-sanded")
    plus = ("+",) * len(coats)
    return (
        sentence("film plus coats less the limit, never below nothing:"),
        films(film, *coats, limit, signs=(*plus, "-")),
    )


def _room(given: Given) -> PutIn:
    limit = given.limit("film.overcoat-limit")
    return (
        sentence("limit less the build, never below nothing:"),
        films(limit, given.values["build.if-sanded"], signs=("-",)),
    )


FILM_SHOWN: Mapping[str, Shown] = {
    "car.gauge-off": at(
        sentence("without its sign, the reading"), ("car.gauge-zero", Kind.THICKNESS)
    ),
    "film.correction": _correction,
    "film.spots": _means(sentence("how many spots there are:")),
    "film.typical": _means(sentence("median of the spot means")),
    "film.low": _means(sentence("smallest of the spot means")),
    "film.high": _means(sentence("largest of the spot means")),
    "film.spread": _spread,
    "film.odd-spots": _means(sentence("how many stand apart of the spot means")),
    "film.history": _history,
    "film.uncertainty": _uncertainty,
    "film.limit-call": _limit_call,
    "film.spots-needed": at(sentence("the table's count for an area of"), ("area", Kind.AREA)),
    "film.spots-short": less(
        sentence("asked less read, never below nothing:"),
        Kind.COUNT,
        "film.spots-needed",
        "film.spots",
    ),
    "film.suspect-readings": _suspect,
    "film.above-ecoat": _above_ecoat,
    "film.reference": _reference,
    "film.offset": less(
        sentence("this panel less the comparable ones,"),
        Kind.THICKNESS,
        "film.typical",
        "film.reference",
    ),
    "film.beside-others": at(sentence("by the difference"), ("film.offset", Kind.THICKNESS)),
    "build.if-sanded": _if_sanded,
    "build.if-partly-stripped": _if_partly_stripped,
    "build.if-stripped": lambda given: _with_coats(
        sentence("the coats alone:"), coats=_coats(given, "if-stripped")
    ),
    "build.must-come-off": _must_come_off,
    "film.room": _room,
}
"""By the id of the reckoning."""
