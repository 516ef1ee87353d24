"""How each reckoned fact is written out with the numbers that were put in.

A reckoning is words and amounts in turn, such as `median of the spot means` and `4.9, 5.1, 5.1`.
Amounts stay exact and in base units until somebody reads them; none of them is worked out here
other than the reckoner itself works it out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction

from engine.quantity import Kind
from engine.reckoning.filler import FILLED_SHARE
from engine.reckoning.history import FilmHistory
from engine.reckoning.inputs import Number
from engine.reckoning.reckoners.base import Given
from engine.reckoning.reckoners.build import coats_of
from engine.reckoning.reckoners.cure import drying_of
from engine.reckoning.reckoners.film import history_of, surveyed, under_coats
from engine.reckoning.survey import interval_of
from engine.records import dataclass


@dataclass(frozen=True, slots=True)
class Amounts:
    """Numbers of one kind, in its base unit, and the signs between them; a list without any."""

    values: tuple[Number, ...]
    kind: Kind
    signs: tuple[str, ...] = ()


PutIn = tuple[str | Amounts, ...]
"""A reckoning written out: words and amounts, to be read one after the other."""

Shown = Callable[[Given], PutIn]


def _films(*values: Number, signs: tuple[str, ...] = ()) -> Amounts:
    return Amounts(values, Kind.THICKNESS, signs)


def _one(value: Number, kind: Kind) -> Amounts:
    return Amounts((value,), kind)


def _counts(*values: Number, signs: tuple[str, ...] = ()) -> Amounts:
    return Amounts(values, Kind.COUNT, signs)


# --- film -----------------------------------------------------------------------------------------


def _means(words: str) -> Shown:
    def shown(given: Given) -> PutIn:
        return (words, _films(*surveyed(given).spots), *_corrected(given))

    return shown


def _history(given: Given) -> PutIn:
    return (
        *_means("from level, spread and gaps of the spot means")(given),
        *_evenness(history_of(given), given),
    )


def _evenness(found: FilmHistory, given: Given) -> Iterator[str | Amounts]:
    """Which of the tests for an uneven film said so; the level where none of them did."""
    groups, spots = found.groups, surveyed(given).spots
    if groups.spread_over:
        yield from ("- uneven: spread", _films(groups.spread), "over")
        yield _films(given.limit("film.spread-limit"))
    if groups.gap_over:
        yield from ("- uneven: a step of", _films(groups.largest_gap), "where the usual one is")
        yield _films(groups.median_gap)
    if found.odd_spots:
        yield from ("- uneven: apart stands", _films(*(spots[place] for place in found.odd_spots)))
    if found.kind != "mixed":
        yield from ("- even, with a typical film of", _films(surveyed(given).typical))
    if found.odd_spots is None:
        yield "- too few spots to test for odd ones"


def _corrected(given: Given) -> PutIn:
    less = given.known("film.correction")
    return () if less is None else ("(each reading less", _films(less), "for the metal)")


def _spread(given: Given) -> PutIn:
    found = surveyed(given)
    return ("thickest less thinnest spot,", _films(found.high, found.low, signs=("-",)))


def _uncertainty(given: Given) -> PutIn:
    found = surveyed(given)
    level = given.limit("film.confidence-level")
    interval = interval_of(found, confidence=level / 100)
    return (
        "Student's t times s / sqrt(n):",
        _one(interval.half_width / interval.standard_uncertainty, Kind.NUMBER)
        if interval.standard_uncertainty
        else "t",
        "x",
        _films(found.sd or 0),
        f"/ sqrt({found.n}), t for",
        _one(level, Kind.PERCENT),
        f"and {interval.df} degrees of freedom",
    )


def _limit_call(given: Given) -> PutIn:
    reach = given.values["film.uncertainty"]
    return (
        "mean and its reach",
        _films(surveyed(given).mean, reach, signs=("+-",)),
        "against",
        _films(given.limit("film.overcoat-limit")),
    )


def _correction(given: Given) -> PutIn:
    base = given.known("film.base-reading")
    if base is not None:
        return ("the reading of the base metal,", _films(base))
    return (f"what the table takes off for the profile {given.known('metal-profile')}",)


def _suspect(given: Given) -> PutIn:
    before, after = (given.known(f"car.gauge-{when}") for when in ("before", "after"))
    readings = sum(len(spot) for spot in given.values["film.readings"])
    checks = f"gauge check before: {before or 'not told'}, after: {after or 'not told'}"
    return (
        "of",
        _counts(readings),
        f"readings those without a passed check on each side; {checks}",
    )


def _above_ecoat(given: Given) -> PutIn:
    under = under_coats(given.ruleset)[given.values["substrate"]]
    return (
        "thinnest spot less e-coat and zinc,",
        _films(given.values["film.low"], under, signs=("-",)),
    )


def _reference(given: Given) -> PutIn:
    films = [panel["film.typical"] for panel in given.panels]
    return ("median of the comparable panels", _films(*films))


# --- build ----------------------------------------------------------------------------------------


def _coats(given: Given, way: str) -> tuple[Fraction, ...]:
    return tuple(coat.film for coat in coats_of(given, way))


def _with_coats(words: str, *film: Number, signs: str = "", coats: tuple[Fraction, ...]) -> PutIn:
    plus = ("+",) * (len(coats) - (0 if film else 1))
    return (words, _films(*film, *coats, signs=(*signs, *plus)))


def _if_sanded(given: Given) -> PutIn:
    film = given.values["film.typical"]
    off = min(given.limit("build.sanded-off"), film)
    coats = _coats(given, "if-sanded")
    return _with_coats("film, less sanding, plus coats:", film, off, signs="-", coats=coats)


def _if_partly_stripped(given: Given) -> PutIn:
    left = min(given.values["film.typical"], given.limit("film.undercoat-left"))
    coats = _coats(given, "if-partly-stripped")
    return _with_coats("undercoat left plus coats:", left, coats=coats)


def _must_come_off(given: Given) -> PutIn:
    film, limit = given.values["film.typical"], given.limit("film.overcoat-limit")
    coats = _coats(given, "if-sanded")
    plus = ("+",) * len(coats)
    return (
        "film plus coats less the limit, never below nothing:",
        _films(film, *coats, limit, signs=(*plus, "-")),
    )


def _room(given: Given) -> PutIn:
    limit = given.limit("film.overcoat-limit")
    return (
        "limit less the build, never below nothing:",
        _films(limit, given.values["build.if-sanded"], signs=("-",)),
    )


# --- air ------------------------------------------------------------------------------------------


def _at(words: str, *facts: tuple[str, Kind]) -> Shown:
    """Words, and the facts they name, with `and` between."""

    def shown(given: Given) -> PutIn:
        pieces: list[str | Amounts] = [words]
        for name, kind in facts:
            pieces += ["and"] if len(pieces) > 1 else []
            pieces.append(_one(given.values[name], kind))
        return tuple(pieces)

    return shown


def _less(words: str, kind: Kind, first: str, second: str) -> Shown:
    def shown(given: Given) -> PutIn:
        return (words, Amounts((given.values[first], given.values[second]), kind, ("-",)))

    return shown


def _humidity(given: Given) -> PutIn:
    told = given.settled("shop.relative-humidity") is not None
    return ("as the hygrometer says" if told else "as wet and dry bulb say",)


def _surface_needed(given: Given) -> PutIn:
    margin = given.limit("air.dew-margin-least")
    return (
        "dew point plus the least margin,",
        _one(given.values["air.dew-point"], Kind.TEMPERATURE),
        "+",
        _one(margin, Kind.TEMPERATURE_DIFFERENCE),
    )


def _humidity_needed(given: Given) -> PutIn:
    return (
        "what air of",
        _one(given.values["shop.air-temperature"], Kind.TEMPERATURE),
        "may hold with its dew point",
        _one(given.limit("air.dew-margin-least"), Kind.TEMPERATURE_DIFFERENCE),
        "below a surface of",
        _one(given.values["shop.surface-temperature"], Kind.TEMPERATURE),
    )


# --- filler ---------------------------------------------------------------------------------------


def _deepest(given: Given) -> PutIn:
    depths = [depth for spot in given.values["filler.readings"] for depth in spot]
    return ("the deepest of", Amounts(tuple(depths), Kind.DEPTH))


def _layers(given: Given) -> PutIn:
    return (
        "whole layers in",
        _one(given.values["filler.to-build"], Kind.DEPTH),
        "of at most",
        _one(given.limit("filler.layer-limit"), Kind.DEPTH),
    )


def _volume(given: Given) -> PutIn:
    shape = given.values["filler.shape"]
    lost = given.limit("filler.sanded-away")
    return (
        "area x depth x share filled / share kept:",
        _one(given.values["filler.area"], Kind.AREA),
        "x",
        _one(given.values["filler.to-build"], Kind.DEPTH),
        f"x {FILLED_SHARE[shape]} ({shape}) /",
        _one(100 - lost, Kind.PERCENT),
    )


def _mass(given: Given) -> PutIn:
    return (
        "volume x density,",
        _one(given.values["filler.volume"], Kind.VOLUME),
        "x",
        _one(given.limit("filler.density"), Kind.DENSITY),
    )


def _hardener(given: Given) -> PutIn:
    return (
        _one(given.limit("filler.hardener-share"), Kind.PERCENT),
        "of",
        _one(given.values["filler.mass"], Kind.MASS),
    )


# --- cure -----------------------------------------------------------------------------------------


def _factor(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.warmer is not None
    warmer = drying.warmer
    return (
        _one(Fraction(warmer.factor), Kind.NUMBER),
        "for every",
        _one(Fraction(warmer.per_degC), Kind.TEMPERATURE_DIFFERENCE),
        "from the data sheet's",
        _one(drying.at_degC, Kind.TEMPERATURE),
        "to the surface's",
        _one(given.values["shop.surface-temperature"], Kind.TEMPERATURE),
    )


def _time(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.cured_h is not None
    return (
        "the data sheet's",
        _one(drying.cured_h, Kind.TIME),
        "x",
        _one(given.values["cure.factor"], Kind.NUMBER),
    )


def _bake(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.bake is not None
    times = (drying.bake.ramp_h, drying.bake.hold_h)
    return ("ramp and hold,", Amounts(times, Kind.TIME, ("+",)))


def _printed(given: Given) -> PutIn:
    return (f"as the data sheet of the topcoat has it ({given.system().title})",)


_FILM = (("film.typical", Kind.THICKNESS),)
_CUT = _at("the table's row for a film of", *_FILM)
_RUST = _at("the table's row for a rusty share of", ("rust-area", Kind.PERCENT))
_AIR = ("shop.air-temperature", Kind.TEMPERATURE)
_SURFACE = ("shop.surface-temperature", Kind.TEMPERATURE)
_HUMID = ("air.humidity", Kind.PERCENT)

SHOWN: Mapping[str, Shown] = {
    "car.gauge-off": _at("without its sign, the reading", ("car.gauge-zero", Kind.THICKNESS)),
    "film.correction": _correction,
    "film.spots": _means("how many spots there are:"),
    "film.typical": _means("median of the spot means"),
    "film.low": _means("smallest of the spot means"),
    "film.high": _means("largest of the spot means"),
    "film.spread": _spread,
    "film.odd-spots": _means("how many stand apart of the spot means"),
    "film.history": _history,
    "film.uncertainty": _uncertainty,
    "film.limit-call": _limit_call,
    "film.spots-needed": _at("the table's count for an area of", ("area", Kind.AREA)),
    "film.spots-short": _less(
        "asked less read, never below nothing:", Kind.COUNT, "film.spots-needed", "film.spots"
    ),
    "film.suspect-readings": _suspect,
    "film.above-ecoat": _above_ecoat,
    "film.reference": _reference,
    "film.offset": _less(
        "this panel less the comparable ones,", Kind.THICKNESS, "film.typical", "film.reference"
    ),
    "film.beside-others": _at("by the difference", ("film.offset", Kind.THICKNESS)),
    "build.if-sanded": _if_sanded,
    "build.if-partly-stripped": _if_partly_stripped,
    "build.if-stripped": lambda given: _with_coats(
        "the coats alone:", coats=_coats(given, "if-stripped")
    ),
    "build.must-come-off": _must_come_off,
    "film.room": _room,
    "rust.grade": _RUST,
    "rust.degree": _RUST,
    "adhesion.astm-class": _at("beside ISO 2409 class", ("adhesion-class", Kind.NUMBER)),
    "adhesion.test": _CUT,
    "adhesion.cuts": _CUT,
    "adhesion.spacing": _CUT,
    "adhesion.iso-spacing": _CUT,
    "filler.deepest": _deepest,
    "filler.layers": _layers,
    "filler.volume": _volume,
    "filler.mass": _mass,
    "filler.hardener": _hardener,
    "air.humidity-by-wet-bulb": _at(
        "from dry bulb, wet bulb and pressure,",
        _AIR,
        ("shop.wet-bulb", Kind.TEMPERATURE),
        ("shop.air-pressure", Kind.PRESSURE),
    ),
    "air.humidity": _humidity,
    "air.hygrometers-apart": _less(
        "how far apart are", Kind.PERCENT, "shop.relative-humidity", "air.humidity-by-wet-bulb"
    ),
    "air.dew-point": _at("by the Magnus formula from", _AIR, _HUMID),
    "air.dew-margin": _less(
        "surface less dew point,", Kind.TEMPERATURE, "shop.surface-temperature", "air.dew-point"
    ),
    "air.surface-humidity": _at("by the Magnus formula from", _SURFACE, _AIR, _HUMID),
    "air.surface-needed": _surface_needed,
    "air.humidity-needed": _humidity_needed,
    "metal.hold-time": _at(
        "by the humidity at the surface,", ("air.surface-humidity", Kind.PERCENT)
    ),
    "cure.factor": _factor,
    "cure.time": _time,
    "cure.printed-time": _printed,
    "cure.flash": _printed,
    "cure.bake": _bake,
}
"""How each reckoning is written out, by its id. Asked only where the reckoning gave a value."""
