"""How each reckoned fact is written out with the numbers that were put in.

A reckoning is words and amounts in turn, such as `median of the spot means` and `4.9, 5.1, 5.1`;
none of the amounts is worked out here other than the reckoner itself works it out.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.quantity import Kind
from engine.reckoning.filler import FILLED_SHARE
from engine.reckoning.reckoners.base import Given
from engine.reckoning.reckoners.cure import drying_of
from engine.reckoning.reckoners.shown_film import FILM_SHOWN
from engine.reckoning.reckoners.written import Amounts, PutIn, Shown, at, less, one
from engine.words import say, sentence

# --- air ------------------------------------------------------------------------------------------


def _humidity(given: Given) -> PutIn:
    told = given.settled("shop.relative-humidity") is not None
    return (sentence("as the hygrometer says") if told else sentence("as wet and dry bulb say"),)


def _surface_needed(given: Given) -> PutIn:
    margin = given.limit("air.dew-margin-least")
    return (
        sentence("dew point plus the least margin,"),
        one(given.values["air.dew-point"], Kind.TEMPERATURE),
        "+",
        one(margin, Kind.TEMPERATURE_DIFFERENCE),
    )


def _humidity_needed(given: Given) -> PutIn:
    return (
        sentence("what air of"),
        one(given.values["shop.air-temperature"], Kind.TEMPERATURE),
        sentence("may hold with its dew point"),
        one(given.limit("air.dew-margin-least"), Kind.TEMPERATURE_DIFFERENCE),
        sentence("below a surface of"),
        one(given.values["shop.surface-temperature"], Kind.TEMPERATURE),
    )


# --- filler ---------------------------------------------------------------------------------------


def _deepest(given: Given) -> PutIn:
    depths = [depth for spot in given.values["filler.readings"] for depth in spot]
    return (sentence("the deepest of"), Amounts(tuple(depths), Kind.DEPTH))


def _layers(given: Given) -> PutIn:
    return (
        sentence("whole layers in"),
        one(given.values["filler.to-build"], Kind.DEPTH),
        sentence("of at most"),
        one(given.limit("filler.layer-limit"), Kind.DEPTH),
    )


def _volume(given: Given) -> PutIn:
    shape = given.values["filler.shape"]
    lost = given.limit("filler.sanded-away")
    return (
        sentence("area x depth x share filled / share kept:"),
        one(given.values["filler.area"], Kind.AREA),
        "x",
        one(given.values["filler.to-build"], Kind.DEPTH),
        f"x {FILLED_SHARE[shape]} ({shape}) /",
        one(100 - lost, Kind.PERCENT),
    )


def _mass(given: Given) -> PutIn:
    return (
        sentence("volume x density,"),
        one(given.values["filler.volume"], Kind.VOLUME),
        "x",
        one(given.limit("filler.density"), Kind.DENSITY),
    )


def _hardener(given: Given) -> PutIn:
    return (
        one(given.limit("filler.hardener-share"), Kind.PERCENT),
        sentence("of"),
        one(given.values["filler.mass"], Kind.MASS),
    )


# --- cure -----------------------------------------------------------------------------------------


def _factor(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.warmer is not None
    warmer = drying.warmer
    return (
        one(Fraction(warmer.factor), Kind.NUMBER),
        sentence("for every"),
        one(Fraction(warmer.per_degC), Kind.TEMPERATURE_DIFFERENCE),
        sentence("from the data sheet's"),
        one(drying.at_degC, Kind.TEMPERATURE),
        sentence("to the surface's"),
        one(given.values["shop.surface-temperature"], Kind.TEMPERATURE),
    )


def _time(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.cured_h is not None
    return (
        sentence("the data sheet's"),
        one(drying.cured_h, Kind.TIME),
        "x",
        one(given.values["cure.factor"], Kind.NUMBER),
    )


def _bake(given: Given) -> PutIn:
    drying = drying_of(given)
    assert drying is not None
    assert drying.bake is not None
    times = (drying.bake.ramp_h, drying.bake.hold_h)
    return (sentence("ramp and hold,"), Amounts(times, Kind.TIME, ("+",)))


def _printed(given: Given) -> PutIn:
    title = given.system().title
    return (say("as the data sheet of the topcoat has it ({title})", title=title),)


_FILM = (("film.typical", Kind.THICKNESS),)
_CUT = at(sentence("the table's row for a film of"), *_FILM)
_RUST = at(sentence("the table's row for a rusty share of"), ("rust-area", Kind.PERCENT))
_AIR = ("shop.air-temperature", Kind.TEMPERATURE)
_SURFACE = ("shop.surface-temperature", Kind.TEMPERATURE)
_HUMID = ("air.humidity", Kind.PERCENT)

SHOWN: Mapping[str, Shown] = {
    **FILM_SHOWN,
    "rust.grade": _RUST,
    "rust.degree": _RUST,
    "adhesion.astm-class": at(sentence("beside ISO 2409 class"), ("adhesion-class", Kind.NUMBER)),
    "adhesion.test": _CUT,
    "adhesion.cuts": _CUT,
    "adhesion.spacing": _CUT,
    "adhesion.iso-spacing": _CUT,
    "filler.deepest": _deepest,
    "filler.layers": _layers,
    "filler.volume": _volume,
    "filler.mass": _mass,
    "filler.hardener": _hardener,
    "air.humidity-by-wet-bulb": at(
        sentence("from dry bulb, wet bulb and pressure,"),
        _AIR,
        ("shop.wet-bulb", Kind.TEMPERATURE),
        ("shop.air-pressure", Kind.PRESSURE),
    ),
    "air.humidity": _humidity,
    "air.hygrometers-apart": less(
        sentence("how far apart are"),
        Kind.PERCENT,
        "shop.relative-humidity",
        "air.humidity-by-wet-bulb",
    ),
    "air.dew-point": at(sentence("by the Magnus formula from"), _AIR, _HUMID),
    "air.dew-margin": less(
        sentence("surface less dew point,"),
        Kind.TEMPERATURE,
        "shop.surface-temperature",
        "air.dew-point",
    ),
    "air.surface-humidity": at(sentence("by the Magnus formula from"), _SURFACE, _AIR, _HUMID),
    "air.surface-needed": _surface_needed,
    "air.humidity-needed": _humidity_needed,
    "metal.hold-time": at(
        sentence("by the humidity at the surface,"), ("air.surface-humidity", Kind.PERCENT)
    ),
    "cure.factor": _factor,
    "cure.time": _time,
    "cure.printed-time": _printed,
    "cure.flash": _printed,
    "cure.bake": _bake,
}
"""How each reckoning is written out, by its id. Asked only where the reckoning gave a value."""
