"""The air in the shop and at the surface: humidity, dew point, and what would mend them."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from engine.reckoning import air
from engine.reckoning.psychrometer import humidity_from_wet_bulb
from engine.reckoning.reckoners.base import Given, Reckoner

_PA_PER_BAR = 100_000
_AIR = "shop.air-temperature"
_SURFACE = "shop.surface-temperature"
_HYGROMETER = "shop.relative-humidity"
_HUMIDITY = "air.humidity"
_BY_WET_BULB = "air.humidity-by-wet-bulb"
_DEW_POINT = "air.dew-point"
_MARGIN = "air.dew-margin-least"


def _by_wet_bulb(given: Given) -> Fraction:
    return Fraction(
        humidity_from_wet_bulb(
            given.values[_AIR],
            given.values["shop.wet-bulb"],
            pressure_Pa=given.values["shop.air-pressure"] * _PA_PER_BAR,
        )
    )


def _humidity(given: Given) -> Fraction | None:
    """What the hygrometer says, else what wet and dry bulb come to."""
    told: Fraction | None = given.settled(_HYGROMETER)
    return given.settled(_BY_WET_BULB) if told is None else told


def _apart(given: Given) -> Fraction:
    return Fraction(abs(given.values[_HYGROMETER] - given.values[_BY_WET_BULB]))


def _dew_point(given: Given) -> Fraction:
    return Fraction(air.dew_point(given.values[_AIR], given.values[_HUMIDITY]))


def _surface_humidity(given: Given) -> Fraction:
    return Fraction(
        air.surface_humidity(given.values[_SURFACE], given.values[_AIR], given.values[_HUMIDITY])
    )


def _humidity_needed(given: Given) -> Fraction:
    return Fraction(
        air.humidity_for_margin(
            given.values[_SURFACE], given.values[_AIR], margin_degC=given.limit(_MARGIN)
        )
    )


def _hold_time(given: Given) -> str:
    """How long bared steel may wait, by the humidity of the air at its surface."""
    humidity = given.values["air.surface-humidity"]
    if humidity > given.limit("air.bare-metal-humidity"):
        return "at-once"
    return "watched" if humidity > given.limit("air.bloom-from") else "same-shift"


RECKONERS: Mapping[str, Reckoner] = {
    _BY_WET_BULB: Reckoner((_AIR, "shop.wet-bulb", "shop.air-pressure"), _by_wet_bulb),
    _HUMIDITY: Reckoner((), _humidity, also=(_HYGROMETER, _BY_WET_BULB)),
    "air.hygrometers-apart": Reckoner((_HYGROMETER, _BY_WET_BULB), _apart),
    _DEW_POINT: Reckoner((_AIR, _HUMIDITY), _dew_point),
    "air.dew-margin": Reckoner(
        (_SURFACE, _DEW_POINT),
        lambda given: Fraction(given.values[_SURFACE] - given.values[_DEW_POINT]),
    ),
    # Waits for the dew point too: air that has none is refused there, and once.
    "air.surface-humidity": Reckoner((_SURFACE, _AIR, _HUMIDITY, _DEW_POINT), _surface_humidity),
    "air.surface-needed": Reckoner(
        (_DEW_POINT,),
        lambda given: Fraction(given.values[_DEW_POINT] + given.limit(_MARGIN)),
        (_MARGIN,),
    ),
    "air.humidity-needed": Reckoner((_SURFACE, _AIR), _humidity_needed, (_MARGIN,)),
    "metal.hold-time": Reckoner(
        ("air.surface-humidity",), _hold_time, ("air.bloom-from", "air.bare-metal-humidity")
    ),
}
