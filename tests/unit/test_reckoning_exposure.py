from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning import exposure

levels = st.floats(0, 500)


@given(st.lists(st.tuples(levels, st.floats(0.25, 4)), min_size=1, max_size=6))
def test_an_average_over_its_own_hours_lies_between_the_levels(samples):
    hours = sum(Fraction(repr(h)) for _, h in samples)
    average = exposure.time_weighted_average(samples, reference_h=hours)
    measured = [Fraction(repr(level)) for level, _ in samples]
    assert min(measured) <= average <= max(measured)


def test_a_mixture_may_be_over_where_no_part_is():
    assert exposure.mixture_sum([(60, 100), (60, 100)]) > 1


@given(st.floats(0.5, 24), st.floats(1, 1000))
def test_a_long_shift_never_allows_more_dose(hours, dose):
    limit = exposure.extended_shift_limit(hours, allowed_dose=dose, reference_h=8)
    assert limit * Fraction(repr(hours)) <= Fraction(repr(dose))


@given(st.floats(0, 1000), st.floats(10, 400))
def test_ppm_comes_back(ppm, mass):
    gas = {"molar_mass_g": mass, "molar_volume_L": 24.45}
    there = exposure.mg_m3_from_ppm(ppm, **gas)
    assert exposure.ppm_from_mg_m3(there, **gas) == Fraction(repr(ppm))


@given(st.floats(1, 400), st.floats(0.5, 15), st.floats(1, 10))
def test_dilution_air_brings_the_vapour_to_the_share_of_the_lel(vapour, lel, factor):
    air = exposure.dilution_air(vapour, lel_percent=lel, safety_factor=factor)
    exact = Fraction(repr(vapour))
    share = exact / (exact + air / Fraction(repr(factor)))
    assert share * 100 == Fraction(repr(lel))


def test_dilution_flow():
    assert exposure.dilution_flow(64, liquid_per_h=0.5) == 32


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: exposure.time_weighted_average([], reference_h=8), "no samples"),
        (
            lambda: exposure.time_weighted_average([(5, 1)], reference_h=None),
            "reference_h is missing",
        ),
        (
            lambda: exposure.time_weighted_average([(-5, 1)], reference_h=8),
            "concentration must be 0",
        ),
        (lambda: exposure.mixture_sum([]), "no substances"),
        (lambda: exposure.mixture_sum([(5, 0)]), "limit must be more than 0"),
        (
            lambda: exposure.extended_shift_limit(25, allowed_dose=400, reference_h=8),
            "longer than a day",
        ),
        (
            lambda: exposure.dilution_air(30, lel_percent=100, safety_factor=4),
            "lel_percent must be below 100",
        ),
        (lambda: exposure.dilution_air(30, lel_percent=1.4, safety_factor=0.5), "above the LEL"),
        (
            lambda: exposure.molar_volume_L(temperature_degC=-300, pressure_Pa=101325),
            "absolute zero",
        ),
    ],
)
def test_impossible_exposure_is_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()
