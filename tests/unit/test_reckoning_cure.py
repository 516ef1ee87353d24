from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.cure import (
    RateRule,
    RecoatState,
    RecoatWindow,
    activation_energy_kJ_per_mol,
    arrhenius_time,
    bake,
    heating_time,
    heating_time_constant,
    metal_temperature,
    steady_heating_time,
)

RULE = RateRule(factor=2, per_degC=10, lowest_degC=15, highest_degC=45, span_degC=20)
POT_LIFE = RateRule(factor=2, per_degC=10, lowest_degC=10, highest_degC=40, span_degC=30)
FILM_SET = RateRule(factor=1.3, per_degC=10, lowest_degC=10, highest_degC=40, span_degC=30)
ARRHENIUS = {"activation_kJ_per_mol": 50, "lowest_degC": 10, "highest_degC": 80}
inside = st.floats(15, 45)


@given(st.floats(0.01, 200), st.floats(20, 40), st.floats(20, 40))
def test_the_rate_rule_goes_there_and_back(time, a, b):
    there = RULE.time(time, from_degC=a, to_degC=b)
    assert RULE.time(there, from_degC=b, to_degC=a) == pytest.approx(time)
    assert (there < time) == (b > a) or there == pytest.approx(time)


@given(st.floats(0.01, 200), inside)
def test_no_change_of_temperature_changes_nothing(time, at):
    assert RULE.time(time, from_degC=at, to_degC=at) == pytest.approx(time)


def test_pot_life_and_film_set_keep_their_own_factor():
    # The pot halves while the film sets only a quarter sooner: one factor would mislead.
    assert POT_LIFE.time(1, from_degC=20, to_degC=30) == 0.5
    assert FILM_SET.time(1, from_degC=20, to_degC=30) == pytest.approx(1 / 1.3)


@pytest.mark.parametrize(
    ("start", "end", "says"),
    [
        (14, 20, "the data sheet's 14 degC is outside 15 to 45"),
        (20, 46, "the panel's 46 degC is outside 15 to 45"),
        (20, 41, "more than the 20 degC the rate rule may span"),
        (None, 20, "from_degC is missing"),
    ],
)
def test_the_rate_rule_is_not_stretched(start, end, says):
    with pytest.raises(ReckoningError, match=says):
        RULE.time(1, from_degC=start, to_degC=end)


def test_the_ends_of_the_rule_belong_to_it():
    assert RULE.time(1, from_degC=25, to_degC=45) == 0.25
    assert RULE.time(1, from_degC=35, to_degC=15) == 4


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"factor": 0.5}, "factor must be 1 or more"),
        ({"per_degC": 0}, "per_degC must be more than 0"),
        ({"span_degC": None}, "span_degC is missing"),
        ({"lowest_degC": 50}, "run backwards"),
    ],
)
def test_an_impossible_rule_is_refused(change, says):
    given_ = {"factor": 2, "per_degC": 10, "lowest_degC": 15, "highest_degC": 45, "span_degC": 20}
    with pytest.raises(ReckoningError, match=says):
        RateRule(**(given_ | change))


def test_a_rule_that_overflows_is_refused():
    wild = RateRule(
        factor=10**15, per_degC=Fraction(1, 100), lowest_degC=0, highest_degC=90, span_degC=90
    )
    with pytest.raises(ReckoningError, match="no finite time"):
        wild.time(1, from_degC=90, to_degC=0)


@given(st.floats(0.01, 200), st.floats(10, 80), st.floats(10, 80), st.floats(10, 80))
def test_arrhenius_steps_chain(time, a, b, c):
    first = arrhenius_time(time, from_degC=a, to_degC=b, **ARRHENIUS)
    second = arrhenius_time(first, from_degC=b, to_degC=c, **ARRHENIUS)
    direct = arrhenius_time(time, from_degC=a, to_degC=c, **ARRHENIUS)
    assert second == pytest.approx(direct)


@given(st.floats(1.05, 8), st.floats(0, 40), st.floats(1, 40))
def test_the_energy_of_a_factor_gives_the_factor_back(factor, start, more):
    energy = activation_energy_kJ_per_mol(factor, from_degC=start, to_degC=start + more)
    time = arrhenius_time(
        1,
        from_degC=start,
        to_degC=start + more,
        activation_kJ_per_mol=energy,
        lowest_degC=0,
        highest_degC=100,
    )
    assert 1 / time == pytest.approx(factor)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: arrhenius_time(1, from_degC=5, to_degC=20, **ARRHENIUS), "outside 10 to 80"),
        (
            lambda: arrhenius_time(
                1, from_degC=80, to_degC=10, **(ARRHENIUS | {"activation_kJ_per_mol": 1e9})
            ),
            "no finite time",
        ),
        (lambda: activation_energy_kJ_per_mol(2, from_degC=20, to_degC=20), "are equal"),
        (lambda: activation_energy_kJ_per_mol(2, from_degC=30, to_degC=20), "no faster"),
        (lambda: activation_energy_kJ_per_mol(1, from_degC=20, to_degC=30), "no faster"),
        (lambda: activation_energy_kJ_per_mol(2, from_degC=-300, to_degC=20), "absolute zero"),
    ],
)
def test_impossible_arrhenius_is_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()


@given(st.floats(0, 40), st.floats(70, 90), st.floats(0.02, 1))
def test_heating_reaches_the_target_when_it_says(start, oven, tau):
    air = {"start_degC": start, "oven_degC": oven, "time_constant_h": tau}
    hours = heating_time(target_degC=60, **air)
    assert metal_temperature(hours, **air) == pytest.approx(60)
    back = heating_time_constant(hours, start_degC=start, oven_degC=oven, reached_degC=60)
    assert back == pytest.approx(tau)


def test_hot_metal_needs_no_ramp():
    assert heating_time(start_degC=60, oven_degC=50, target_degC=60, time_constant_h=1) == 0
    assert steady_heating_time(start_degC=65, target_degC=60, rate_degC_per_h=100) == 0


def test_steady_ramp_before_the_hold():
    ramp = steady_heating_time(start_degC=20, target_degC=60, rate_degC_per_h=160)
    assert ramp == Fraction(1, 4)
    baked = bake(0.5, ramp_h=ramp)
    assert (baked.ramp_h, baked.hold_h, baked.total_h) == (0.25, 0.5, 0.75)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (
            lambda: heating_time(start_degC=20, oven_degC=60, target_degC=60, time_constant_h=1),
            "never reaches 60 degC",
        ),
        (
            lambda: heating_time_constant(1, start_degC=20, oven_degC=80, reached_degC=90),
            "is not between",
        ),
        (
            lambda: heating_time_constant(1, start_degC=20, oven_degC=20, reached_degC=20),
            "is not between",
        ),
        (
            lambda: steady_heating_time(start_degC=20, target_degC=60, rate_degC_per_h=0),
            "more than 0",
        ),
        (lambda: bake(0, ramp_h=0), "time_h|hold_h"),
    ],
)
def test_impossible_heating_is_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()


WINDOW = RecoatWindow(opens_h=0.5, closes_h=24)


@pytest.mark.parametrize(
    ("elapsed", "state"),
    [
        (0, RecoatState.TOO_EARLY),
        (0.49, RecoatState.TOO_EARLY),
        (0.5, RecoatState.OPEN),
        (24, RecoatState.OPEN),
        (24.01, RecoatState.CLOSED_SCUFF),
    ],
)
def test_recoat_states(elapsed, state):
    assert WINDOW.state(elapsed) is state


def test_a_window_without_an_end_stays_open():
    assert RecoatWindow(1, None).state(10_000) is RecoatState.OPEN


def test_waiting_for_the_window():
    assert WINDOW.wait_h(0.2) == Fraction(3, 10)
    assert WINDOW.wait_h(5) == 0


def test_ends_that_cross_are_refused():
    with pytest.raises(ReckoningError, match="before it opens"):
        RecoatWindow(2, 1)
