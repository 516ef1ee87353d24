"""Dew point, humidity and wet bulb against published values.

Sources: psychrolib 2.5.0 (ASHRAE Handbook, Fundamentals 2017, chapter 1), run here; ISO 8502-4:1993
for the rule of a margin over the dew point (rule read); steam tables of IAPWS-IF97 (values from
memory); Alduchov and Eskridge 1996 (constants read in a secondary text); a protective-coatings
journal of March 2016 for the humidity at a surface 5 degF over the dew point (read).
"""

import psychrolib
import pytest

from engine.quantity import Kind, parse_quantity
from engine.reckoning.air import (
    MAGNUS_ALDUCHOV_ESKRIDGE,
    AirLimits,
    dew_point,
    judge_air,
    relative_humidity,
    saturation_pressure,
    surface_humidity,
)
from engine.reckoning.psychrometer import humidity_from_wet_bulb, wet_bulb_from_humidity

STANDARD_ATMOSPHERE_PA = 101_325

# air degC, RH percent, dew point degC: psychrolib 2.5.0, derived with it and recorded.
DEW_POINTS = [
    (5, 80, 1.84),
    (10, 60, 2.60),
    (10, 85, 7.60),
    (15, 50, 4.67),
    (15, 70, 9.58),
    (18, 65, 11.33),
    (20, 40, 6.00),
    (20, 50, 9.27),
    (20, 60, 12.01),
    (20, 70, 14.37),
    (20, 80, 16.45),
    (20, 85, 17.40),
    (22, 78, 17.99),
    (23, 55, 13.48),
    (25, 40, 10.48),
    (25, 50, 13.86),
    (25, 60, 16.70),
    (25, 70, 19.15),
    (25, 80, 21.31),
    (27, 60, 18.58),
    (30, 50, 18.45),
    (30, 60, 21.39),
    (30, 70, 23.93),
    (30, 80, 26.17),
    (35, 50, 23.02),
    (35, 70, 28.70),
]

# air degF, RH percent, dew point degF: psychrolib 2.5.0, derived with it and recorded.
DEW_POINTS_DEGF = [(70, 50, 50.53), (77, 60, 62.06), (80, 50, 59.71), (90, 70, 78.89)]


def thermometer(degF):
    return parse_quantity(f"{degF} degF", Kind.TEMPERATURE).amount


@pytest.fixture(autouse=True)
def _si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(("air", "rh", "expected"), DEW_POINTS)
def test_dew_point_table(air, rh, expected):
    assert dew_point(air, rh) == pytest.approx(expected, abs=0.05)
    assert psychrolib.GetTDewPointFromRelHum(air, rh / 100) == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(("air", "rh", "expected"), DEW_POINTS_DEGF)
def test_dew_point_table_in_fahrenheit(air, rh, expected):
    assert dew_point(thermometer(air), rh) == pytest.approx(float(thermometer(expected)), abs=0.05)


# Dew points above freezing only: below it psychrolib gives the frost point, over ice.
@pytest.mark.parametrize("air", [9, 14, 21, 28, 36, 44])
@pytest.mark.parametrize("rh", [95, 75, 55, 88])
def test_dew_point_and_back_against_psychrolib(air, rh):
    theirs = psychrolib.GetTDewPointFromRelHum(air, rh / 100)
    assert dew_point(air, rh) == pytest.approx(theirs, abs=0.06)
    assert relative_humidity(air, theirs) == pytest.approx(rh, abs=0.3)


@pytest.mark.parametrize(("air", "rh", "expected"), DEW_POINTS)
def test_second_pair_of_constants_agrees(air, rh, expected):
    # Alduchov and Eskridge 1996, read in a secondary text: good to 0.35 degC from -40 to 60 degC.
    assert dew_point(air, rh, magnus=MAGNUS_ALDUCHOV_ESKRIDGE) == pytest.approx(expected, abs=0.35)


# IAPWS-IF97 steam tables, from memory: degC, Pa.
@pytest.mark.parametrize(
    ("temperature", "expected"),
    [(0.01, 611.657), (10, 1228.2), (20, 2339.3), (30, 4246.9), (40, 7384.4), (50, 12351.3)],
)
def test_saturation_pressure(temperature, expected):
    assert saturation_pressure(temperature) == pytest.approx(expected, rel=0.004)


# psychrolib 2.5.0 at 101 325 Pa, derived with it and recorded.
@pytest.mark.parametrize(
    ("air", "rh", "expected"), [(20, 50, 13.78), (25, 50, 17.89), (30, 50, 22.01)]
)
def test_wet_bulb(air, rh, expected):
    ours = wet_bulb_from_humidity(air, rh, pressure_Pa=STANDARD_ATMOSPHERE_PA)
    assert ours == pytest.approx(expected, abs=0.03)
    back = humidity_from_wet_bulb(air, expected, pressure_Pa=STANDARD_ATMOSPHERE_PA)
    assert back == pytest.approx(rh, abs=0.2)


@pytest.mark.parametrize("pressure", [101_325, 95_000, 84_000])
@pytest.mark.parametrize(("air", "rh"), [(10, 80), (18, 35), (24, 60), (33, 20), (40, 95)])
def test_wet_bulb_against_psychrolib_at_other_pressures(air, rh, pressure):
    theirs = psychrolib.GetTWetBulbFromRelHum(air, rh / 100, pressure)
    assert wet_bulb_from_humidity(air, rh, pressure_Pa=pressure) == pytest.approx(theirs, abs=0.05)
    back = psychrolib.GetRelHumFromTWetBulb(air, theirs, pressure) * 100
    assert humidity_from_wet_bulb(air, theirs, pressure_Pa=pressure) == pytest.approx(back, abs=0.4)


# ISO 8502-4:1993 rule (read) with a margin of 3 degC, dew point by psychrolib.
@pytest.mark.parametrize(("metal", "passes"), [(15.1, True), (14.9, False)])
def test_three_degrees_over_the_dew_point(metal, passes):
    limits = AirLimits(margin_degC=3, rh_most_percent=85, lowest_degC=10, highest_degC=35)
    assert judge_air(metal, 20, 60, limits=limits).ok is passes


# Derived with psychrolib 2.5.0: humidity of the air at a surface 3 degC over the dew point.
@pytest.mark.parametrize(("air", "rh", "expected"), [(20, 60, 82.2), (25, 70, 83.1)])
def test_humidity_at_the_surface(air, rh, expected):
    surface = dew_point(air, rh) + 3
    assert surface_humidity(surface, air, rh) == pytest.approx(expected, abs=0.1)


# A protective-coatings journal, March 2016 (read): 5 degF over the dew point is 82 to 86 percent.
@pytest.mark.parametrize("dew_degF", [40, 50, 60, 70, 80])
def test_published_band_at_five_degrees_fahrenheit(dew_degF):
    dew = float(thermometer(dew_degF))
    surface = dew + float(parse_quantity("5 degF", Kind.TEMPERATURE_DIFFERENCE).amount)
    air = surface + 3
    at_surface = surface_humidity(surface, air, relative_humidity(air, dew))
    assert 82 <= round(at_surface) <= 86
