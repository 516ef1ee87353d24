"""Dew point and humidity: whether water is about to condense on the metal.

Temperatures in degC, relative humidity in percent, pressure in Pa. Humidity is over liquid water,
as hygrometers report it, below freezing too.

Sources: Magnus constants WMO-No. 8, Guide to Instruments and Methods of Observation, part I
annex 4.B (from memory); the alternative pair Alduchov and Eskridge 1996, Journal of Applied
Meteorology 35 (pair read in a secondary text). The rule that a surface must stay a stated margin
above the dew point: ISO 8502-4:1993; the margin itself is a parameter.
"""

from __future__ import annotations

import math

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, between, not_negative, number, percent, show
from engine.records import dataclass


@dataclass(frozen=True, slots=True)
class Magnus:
    """Constants of e_s = base_Pa * exp(a*T / (b_degC + T)), with the range they hold in."""

    a: float
    b_degC: float
    base_Pa: float
    lowest_degC: int
    highest_degC: int


MAGNUS_WMO = Magnus(a=17.62, b_degC=243.12, base_Pa=611.2, lowest_degC=-45, highest_degC=60)
MAGNUS_ALDUCHOV_ESKRIDGE = Magnus(
    a=17.625, b_degC=243.04, base_Pa=610.94, lowest_degC=-40, highest_degC=60
)

_AIR = "read the air temperature beside the panel, in degC"
_SURFACE = "read the panel with a contact thermometer, in degC"
_RH = "read the relative humidity with a hygrometer, in percent"
_LIMIT = "set it in the rule set's limits"


def saturation_pressure(temperature_degC: Number, *, magnus: Magnus = MAGNUS_WMO) -> float:
    """Saturation vapour pressure over water, Pa.

    Raises ReckoningError outside the range the constants hold in.
    """
    t = _temperature("temperature_degC", temperature_degC, magnus, _AIR)
    return magnus.base_Pa * math.exp(magnus.a * t / (magnus.b_degC + t))


def dew_point(air_degC: Number, rh_percent: Number, *, magnus: Magnus = MAGNUS_WMO) -> float:
    """Dew point in degC from air temperature and relative humidity; never above the air.

    Raises ReckoningError for air outside the range of the constants, humidity not above 0 and up
    to 100, or air so dry that its dew point falls out of that range.
    """
    t = _temperature("air_degC", air_degC, magnus, _AIR)
    rh = _humidity(rh_percent)
    if rh == 100:
        return t
    gamma = math.log(rh / 100) + magnus.a * t / (magnus.b_degC + t)
    dew = magnus.b_degC * gamma / (magnus.a - gamma)
    if dew < magnus.lowest_degC:
        raise ReckoningError(
            f"the dew point of air at {show(t)} degC and {show(rh)} % is below "
            f"{magnus.lowest_degC} degC, where the formula no longer holds; {_RH}"
        )
    return min(dew, t)


def relative_humidity(
    air_degC: Number, dew_point_degC: Number, *, magnus: Magnus = MAGNUS_WMO
) -> float:
    """Relative humidity in percent from air temperature and dew point.

    Raises ReckoningError when the dew point is above the air.
    """
    t = _temperature("air_degC", air_degC, magnus, _AIR)
    dew = _temperature(
        "dew_point_degC", dew_point_degC, magnus, "read it from a dew-point meter, in degC"
    )
    if dew > t:
        raise ReckoningError(
            f"a dew point of {show(dew)} degC is above the air at {show(t)} degC, which cannot be; "
            "check both readings"
        )
    ratio = saturation_pressure(dew, magnus=magnus) / saturation_pressure(t, magnus=magnus)
    return 100 * ratio


def surface_humidity(
    surface_degC: Number, air_degC: Number, rh_percent: Number, *, magnus: Magnus = MAGNUS_WMO
) -> float:
    """Relative humidity of the air at the surface, percent; above 100 means condensation."""
    _temperature("surface_degC", surface_degC, magnus, _SURFACE)
    rh = _humidity(rh_percent)
    vapour = rh * saturation_pressure(air_degC, magnus=magnus)
    return vapour / saturation_pressure(surface_degC, magnus=magnus)


@dataclass(frozen=True, slots=True)
class MarginNeeds:
    """What would bring a surface the wanted margin above the dew point.

    Either alone is enough: warm the surface by `warm_by_degC` to `surface_needed_degC` with the
    air unchanged, or dry the air by `dry_by_percent` to `rh_needed_percent`. Both shortfalls are
    0 where the margin is already met. Warming the air without drying it leaves the dew point
    where it was.
    """

    met: bool
    dew_point_degC: float
    margin_degC: float
    surface_needed_degC: float
    warm_by_degC: float
    rh_needed_percent: float
    dry_by_percent: float


def wait_for_margin(
    surface_degC: Number,
    air_degC: Number,
    rh_percent: Number,
    *,
    margin_degC: Number,
    magnus: Magnus = MAGNUS_WMO,
) -> MarginNeeds:
    """What to wait for until the surface is `margin_degC` above the dew point."""
    wanted = float(not_negative("margin_degC", margin_degC, _LIMIT))
    surface = _temperature("surface_degC", surface_degC, magnus, _SURFACE)
    rh = _humidity(rh_percent)
    dew = dew_point(air_degC, rh_percent, magnus=magnus)
    needed = dew + wanted
    highest_rh = humidity_for_margin(surface_degC, air_degC, margin_degC=margin_degC, magnus=magnus)
    # Decided once, on the surface side, so that the two shortfalls can never disagree.
    met = surface >= needed
    return MarginNeeds(
        met=met,
        dew_point_degC=dew,
        margin_degC=surface - dew,
        surface_needed_degC=needed,
        warm_by_degC=0.0 if met else needed - surface,
        rh_needed_percent=highest_rh,
        dry_by_percent=0.0 if met else max(0.0, rh - highest_rh),
    )


def humidity_for_margin(
    surface_degC: Number,
    air_degC: Number,
    *,
    margin_degC: Number,
    magnus: Magnus = MAGNUS_WMO,
) -> float:
    """The highest relative humidity of the air, percent, at which the margin is still met.

    100 where the surface is so warm that saturated air would do.
    """
    t = _temperature("air_degC", air_degC, magnus, _AIR)
    surface = _temperature("surface_degC", surface_degC, magnus, _SURFACE)
    highest_dew = surface - float(not_negative("margin_degC", margin_degC, _LIMIT))
    if highest_dew >= t:
        return 100.0
    return relative_humidity(t, highest_dew, magnus=magnus)


@dataclass(frozen=True, slots=True)
class AirLimits:
    """The limits air and surface are judged by; every one comes from the rule set.

    The temperature window applies to air and surface alike.
    """

    margin_degC: Number
    rh_most_percent: Number
    lowest_degC: Number
    highest_degC: Number

    def __post_init__(self) -> None:
        not_negative("margin_degC", self.margin_degC, _LIMIT)
        percent("rh_most_percent", self.rh_most_percent, _LIMIT)
        lowest = number("lowest_degC", self.lowest_degC, _LIMIT)
        highest = number("highest_degC", self.highest_degC, _LIMIT)
        if lowest > highest:
            raise ReckoningError(
                f"the temperature window runs backwards: lowest {show(lowest)} degC, "
                f"highest {show(highest)} degC; {_LIMIT}"
            )


@dataclass(frozen=True, slots=True)
class AirFailure:
    """One limit not met: which, what was measured, the limit, and by how much it was missed."""

    what: str
    measured: float
    limit: float
    short_by: float
    unit: str


@dataclass(frozen=True, slots=True)
class AirVerdict:
    """The air judged against its limits; `failures` in the order of danger to the film."""

    ok: bool
    needs: MarginNeeds
    surface_rh_percent: float
    failures: tuple[AirFailure, ...]


def judge_air(
    surface_degC: Number,
    air_degC: Number,
    rh_percent: Number,
    *,
    limits: AirLimits,
    magnus: Magnus = MAGNUS_WMO,
) -> AirVerdict:
    """Judge surface and air against the limits; a value exactly on a limit passes."""
    needs = wait_for_margin(
        surface_degC, air_degC, rh_percent, margin_degC=limits.margin_degC, magnus=magnus
    )
    failures: list[AirFailure] = []
    if not needs.met:
        failures.append(
            AirFailure(
                "dew-margin",
                needs.margin_degC,
                float(limits.margin_degC),
                needs.warm_by_degC,
                "degC",
            )
        )
    failures += _outside("relative-humidity", rh_percent, None, limits.rh_most_percent, "percent")
    for what, measured in (("air-temperature", air_degC), ("surface-temperature", surface_degC)):
        failures += _outside(what, measured, limits.lowest_degC, limits.highest_degC, "degC")
    return AirVerdict(
        ok=not failures,
        needs=needs,
        surface_rh_percent=surface_humidity(surface_degC, air_degC, rh_percent, magnus=magnus),
        failures=tuple(failures),
    )


def _outside(
    what: str, measured: Number, lowest: Number | None, highest: Number, unit: str
) -> list[AirFailure]:
    value = number(what, measured, _AIR)
    most = number("limit", highest, _LIMIT)
    if value > most:
        return [AirFailure(what, float(value), float(most), float(value - most), unit)]
    least = value if lowest is None else number("limit", lowest, _LIMIT)
    if value < least:
        return [AirFailure(what, float(value), float(least), float(least - value), unit)]
    return []


def _temperature(name: str, value: Number, magnus: Magnus, how: str) -> float:
    return float(between(name, value, magnus.lowest_degC, magnus.highest_degC, how))


def _humidity(rh_percent: Number) -> float:
    rh = percent("rh_percent", rh_percent, _RH)
    if rh == 0:
        raise ReckoningError(f"rh_percent is 0: air with no water has no dew point; {_RH}")
    return float(rh)
