from fractions import Fraction

import pytest

from engine.errors import ReckoningError
from engine.reckoning import inputs


def test_a_float_is_the_decimal_it_prints():
    assert inputs.number("x", 0.1, "measure it") == Fraction(1, 10)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (None, "film is missing; measure it"),
        (True, "film is not a number: True; measure it"),
        ("12", "film is not a number: '12'; measure it"),
        (float("nan"), "film is not a finite number; measure it"),
        (float("inf"), "film is not a finite number; measure it"),
        (10**400, "film is too large to be a measured quantity; measure it"),
        (Fraction(10**16), "film is too large to be a measured quantity; measure it"),
    ],
)
def test_what_is_no_number_is_refused_with_the_way_to_get_it(value, says):
    with pytest.raises(ReckoningError) as caught:
        inputs.number("film", value, "measure it")
    assert caught.value.format_message() == says


@pytest.mark.parametrize(
    ("check", "value", "says"),
    [
        (inputs.positive, 0, "must be more than 0, not 0"),
        (inputs.positive, 1e-300, "too small"),
        (inputs.not_negative, -1, "must be 0 or more, not -1"),
        (inputs.percent, 100.1, "must be from 0 to 100, not 100.1"),
        (inputs.positive_percent, 0, "must be more than 0"),
        (inputs.positive_percent, 101, "must be from 0 to 100"),
        (inputs.whole, 1.5, "must be a whole number"),
        (inputs.whole, 0, "must be more than 0"),
    ],
)
def test_each_check_says_what_would_be_right(check, value, says):
    with pytest.raises(ReckoningError, match=says):
        check("x", value, "measure it")


def test_ends_of_a_range_belong_to_it():
    assert inputs.percent("x", 0, "") == 0
    assert inputs.percent("x", 100, "") == 100
    assert inputs.between("x", 5, 5, 5, "") == 5
