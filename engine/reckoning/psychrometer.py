"""Humidity from a wet and a dry bulb, and back.

The thermodynamic wet bulb, which a well aspirated or briskly whirled psychrometer reads closely.
Source of the energy balance: ASHRAE Handbook, Fundamentals (2017), chapter 1, equations for the
humidity ratio above freezing (from memory). Only above freezing: with ice on the wick the balance
is another.
"""

from __future__ import annotations

from engine.errors import ReckoningError
from engine.reckoning.air import MAGNUS_WMO, Magnus, relative_humidity, saturation_pressure
from engine.reckoning.inputs import Number, between, number, percent, positive, show

# Ratio of the molar masses of water and dry air.
_MASS_RATIO = 0.621945
# kJ/kg and kJ/(kg K): evaporation at 0 degC, its fall with temperature, dry air, steam, water.
_EVAPORATION = 2501.0
_EVAPORATION_FALL = 2.326
_DRY_AIR = 1.006
_STEAM = 1.86
_WATER = 4.186

_DRY = "read the dry bulb, in degC"
_WET = "read the wet bulb, in degC; below freezing use an electronic hygrometer instead"
_PRESSURE = "read the barometer at the shop, in Pa (not reduced to sea level)"
_RH = "read the relative humidity with a hygrometer, in percent"


def humidity_from_wet_bulb(
    air_degC: Number, wet_bulb_degC: Number, *, pressure_Pa: Number, magnus: Magnus = MAGNUS_WMO
) -> float:
    """Relative humidity in percent from dry and wet bulb at the given air pressure.

    Raises ReckoningError for a wet bulb above the dry one or below freezing, or for a pair so far
    apart that the air would hold less than no water.
    """
    dry, pressure = _dry_and_pressure(air_degC, pressure_Pa, magnus)
    wet = float(number("wet_bulb_degC", wet_bulb_degC, _WET))
    if wet < 0:
        raise ReckoningError(f"wet_bulb_degC is {show(wet)}, below freezing; {_WET}")
    if wet > dry:
        raise ReckoningError(
            f"a wet bulb of {show(wet)} degC above a dry bulb of {show(dry)} degC cannot be; "
            "check that the wick is wet and the two were not swapped"
        )
    ratio = _humidity_ratio(dry, wet, pressure, magnus)
    if ratio < 0:
        raise ReckoningError(
            f"a wet bulb of {show(wet)} degC is impossibly low for a dry bulb of {show(dry)} degC; "
            "read both again"
        )
    vapour = pressure * ratio / (_MASS_RATIO + ratio)
    return min(100.0, 100 * vapour / saturation_pressure(dry, magnus=magnus))


def wet_bulb_from_humidity(
    air_degC: Number, rh_percent: Number, *, pressure_Pa: Number, magnus: Magnus = MAGNUS_WMO
) -> float:
    """Wet bulb in degC from air temperature and relative humidity at the given air pressure.

    Raises ReckoningError where the wet bulb would be below freezing.
    """
    dry, pressure = _dry_and_pressure(air_degC, pressure_Pa, magnus)
    rh = float(percent("rh_percent", rh_percent, _RH))
    vapour = rh / 100 * saturation_pressure(dry, magnus=magnus)
    wanted = _MASS_RATIO * vapour / (pressure - vapour)
    low, high = 0.0, dry
    if dry < 0 or _humidity_ratio(dry, low, pressure, magnus) > wanted:
        raise ReckoningError(
            f"air at {show(dry)} degC and {show(rh)} % has a wet bulb below freezing, where this "
            "balance does not hold; use an electronic hygrometer instead"
        )
    # Halving to the last bit: the ratio rises steadily with the wet bulb, so this cannot miss.
    while low < (middle := (low + high) / 2) < high:
        if _humidity_ratio(dry, middle, pressure, magnus) < wanted:
            low = middle
        else:
            high = middle
    return high


def hygrometers_agree(
    air_degC: Number,
    dew_point_degC: Number,
    wet_bulb_degC: Number,
    *,
    pressure_Pa: Number,
    tolerance_percent: Number,
) -> bool:
    """Whether two instruments tell the same humidity within `tolerance_percent` (of RH)."""
    allowed = positive("tolerance_percent", tolerance_percent, "set it in the rule set's limits")
    by_wet = humidity_from_wet_bulb(air_degC, wet_bulb_degC, pressure_Pa=pressure_Pa)
    by_dew = relative_humidity(air_degC, dew_point_degC)
    return abs(by_wet - by_dew) <= allowed


def _humidity_ratio(dry: float, wet: float, pressure: float, magnus: Magnus) -> float:
    saturated = saturation_pressure(wet, magnus=magnus)
    at_wet_bulb = _MASS_RATIO * saturated / (pressure - saturated)
    gained = (_EVAPORATION - _EVAPORATION_FALL * wet) * at_wet_bulb - _DRY_AIR * (dry - wet)
    return gained / (_EVAPORATION + _STEAM * dry - _WATER * wet)


def _dry_and_pressure(air_degC: Number, pressure_Pa: Number, magnus: Magnus) -> tuple[float, float]:
    dry = float(between("air_degC", air_degC, magnus.lowest_degC, magnus.highest_degC, _DRY))
    pressure = float(positive("pressure_Pa", pressure_Pa, _PRESSURE))
    if pressure <= 2 * saturation_pressure(dry, magnus=magnus):
        raise ReckoningError(
            f"pressure_Pa of {show(pressure)} is too low for air at {show(dry)} degC; {_PRESSURE}"
        )
    return dry, pressure
