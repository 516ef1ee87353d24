from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.air import (
    AirLimits,
    dew_point,
    humidity_for_margin,
    judge_air,
    relative_humidity,
    saturation_pressure,
    surface_humidity,
    wait_for_margin,
)
from engine.reckoning.psychrometer import (
    humidity_from_wet_bulb,
    hygrometers_agree,
    wet_bulb_from_humidity,
)

airs = st.floats(-20, 60)
humidities = st.floats(20, 100)
LIMITS = AirLimits(margin_degC=3, rh_most_percent=85, lowest_degC=10, highest_degC=35)


@given(airs, humidities)
def test_dew_point_is_never_above_the_air(air, rh):
    assert dew_point(air, rh) <= air


@given(airs)
def test_saturated_air_is_at_its_dew_point(air):
    assert dew_point(air, 100) == air


@given(airs, humidities, st.floats(0.01, 20))
def test_dew_point_rises_with_humidity(air, rh, more):
    if rh + more <= 100:
        assert dew_point(air, rh) < dew_point(air, rh + more)


@given(st.floats(-20, 59), humidities, st.floats(0.01, 1))
def test_dew_point_rises_with_air_at_the_same_humidity(air, rh, more):
    assert dew_point(air, rh) < dew_point(air + more, rh)


@given(airs, humidities)
def test_humidity_comes_back_from_the_dew_point(air, rh):
    assert relative_humidity(air, dew_point(air, rh)) == pytest.approx(rh, rel=1e-9)


@given(airs, humidities)
def test_surface_at_air_temperature_feels_the_air(air, rh):
    assert surface_humidity(air, air, rh) == pytest.approx(rh)


def test_a_surface_below_the_dew_point_is_over_saturated():
    assert surface_humidity(10, 20, 60) > 100
    assert wait_for_margin(10, 20, 60, margin_degC=3).margin_degC < 0


@given(st.floats(5, 45), st.floats(5, 45), humidities, st.floats(0, 10))
def test_what_is_waited_for_meets_the_margin(surface, air, rh, margin):
    needs = wait_for_margin(surface, air, rh, margin_degC=margin)
    assert needs.met == (needs.warm_by_degC == 0)
    if needs.surface_needed_degC <= 60:
        warmed = wait_for_margin(needs.surface_needed_degC, air, rh, margin_degC=margin)
        assert warmed.margin_degC == pytest.approx(margin, abs=1e-9)
    if needs.rh_needed_percent < 100:
        dried = wait_for_margin(surface, air, needs.rh_needed_percent, margin_degC=margin)
        assert dried.margin_degC == pytest.approx(margin, abs=1e-6)
    else:
        assert needs.met


def test_warming_by_the_shortfall_is_told():
    needs = wait_for_margin(14, 20, 60, margin_degC=3)
    assert not needs.met
    assert needs.warm_by_degC == pytest.approx(needs.dew_point_degC + 3 - 14)
    assert needs.dry_by_percent == pytest.approx(60 - humidity_for_margin(14, 20, margin_degC=3))


def test_a_surface_warmer_than_the_air_may_stand_in_saturated_air():
    assert humidity_for_margin(25, 20, margin_degC=3) == 100


def test_good_air_passes():
    verdict = judge_air(20, 21, 55, limits=LIMITS)
    assert verdict.ok
    assert verdict.failures == ()


def test_exactly_on_a_limit_passes():
    assert judge_air(35, 35, Fraction(85), limits=LIMITS).failures[0].what == "dew-margin"
    assert judge_air(35, 35, 50, limits=LIMITS).ok
    assert judge_air(10, 10, 50, limits=LIMITS).ok
    shade = AirLimits(
        margin_degC=0, rh_most_percent=Fraction(851, 10), lowest_degC=0, highest_degC=50
    )
    assert judge_air(20, 20, 85.1, limits=shade).ok


def test_every_failure_is_told_with_its_shortfall():
    verdict = judge_air(8, 9, 90, limits=LIMITS)
    assert not verdict.ok
    by_name = {failure.what: failure for failure in verdict.failures}
    assert list(by_name) == [
        "dew-margin",
        "relative-humidity",
        "air-temperature",
        "surface-temperature",
    ]
    assert by_name["relative-humidity"].short_by == 5
    assert by_name["air-temperature"].short_by == 1
    assert by_name["surface-temperature"].short_by == 2
    assert by_name["dew-margin"].short_by == pytest.approx(3 - (8 - dew_point(9, 90)))


def test_too_hot_is_told():
    verdict = judge_air(40, 36, 30, limits=LIMITS)
    assert [(f.what, f.short_by) for f in verdict.failures] == [
        ("air-temperature", 1),
        ("surface-temperature", 5),
    ]


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: dew_point(61, 50), "air_degC must be from -45 to 60, not 61"),
        (lambda: dew_point(-46, 50), "air_degC must be from -45 to 60"),
        (lambda: dew_point(20, 0), "rh_percent is 0"),
        (lambda: dew_point(20, 101), "rh_percent must be from 0 to 100"),
        (lambda: dew_point(20, None), "rh_percent is missing; read the relative humidity"),
        (lambda: dew_point(-40, 5), "no longer holds"),
        (lambda: surface_humidity(None, 20, 50), "surface_degC is missing; read the panel"),
        (lambda: saturation_pressure(100), "temperature_degC"),
        (lambda: relative_humidity(20, 21), "above the air"),
        (lambda: AirLimits(3, 85, 30, 10), "runs backwards"),
        (lambda: AirLimits(None, 85, 10, 30), "margin_degC is missing"),
        (lambda: AirLimits(3, 85, 10, None), "highest_degC is missing"),
    ],
)
def test_impossible_air_is_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()


@given(st.floats(8, 45), st.floats(30, 100), st.floats(80_000, 105_000))
def test_wet_bulb_comes_back_and_lies_between_dew_point_and_air(air, rh, pressure):
    wet = wet_bulb_from_humidity(air, rh, pressure_Pa=pressure)
    assert dew_point(air, rh) - 1e-6 <= wet <= air
    assert humidity_from_wet_bulb(air, wet, pressure_Pa=pressure) == pytest.approx(rh, abs=1e-6)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: humidity_from_wet_bulb(20, 21, pressure_Pa=101325), "cannot be"),
        (lambda: humidity_from_wet_bulb(20, -1, pressure_Pa=101325), "below freezing"),
        (lambda: humidity_from_wet_bulb(45, 5, pressure_Pa=101325), "impossibly low"),
        (lambda: humidity_from_wet_bulb(20, 15, pressure_Pa=None), "pressure_Pa is missing"),
        (lambda: humidity_from_wet_bulb(20, 15, pressure_Pa=1000), "too low"),
        (lambda: wet_bulb_from_humidity(3, 20, pressure_Pa=101325), "below freezing"),
        (lambda: wet_bulb_from_humidity(-5, 90, pressure_Pa=101325), "below freezing"),
    ],
)
def test_impossible_bulbs_are_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()


def test_two_instruments_are_held_against_each_other():
    wet = wet_bulb_from_humidity(20, 60, pressure_Pa=101_325)
    same = {"pressure_Pa": 101_325, "tolerance_percent": 3}
    assert hygrometers_agree(20, dew_point(20, 60), wet, **same)
    assert not hygrometers_agree(20, dew_point(20, 70), wet, **same)
