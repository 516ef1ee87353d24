"""Student's t: what must hold whatever the figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.distributions import student_t_upper

dfs = st.floats(min_value=1, max_value=1e5)
tails = st.floats(min_value=1e-12, max_value=0.499)


@given(tails, dfs)
def test_both_sides_mirror_each_other(tail: float, df: float) -> None:
    assert student_t_upper(1 - tail, df) == pytest.approx(
        -student_t_upper(1 - (1 - tail), df), rel=1e-7
    )


@given(tails, st.floats(1.01, 2), dfs)
def test_what_is_exceeded_less_often_is_further_out(tail: float, more: float, df: float) -> None:
    wider = min(tail * more, 0.4999)
    if wider > tail * 1.001:
        assert student_t_upper(tail, df) > student_t_upper(wider, df) > 0


@given(tails, dfs, st.floats(1.1, 5))
def test_fewer_readings_reach_further(tail: float, df: float, more: float) -> None:
    assert student_t_upper(tail, df) > student_t_upper(tail, df * more) * (1 - 1e-9)


@given(dfs)
def test_where_the_way_of_solving_changes_there_is_no_step(df: float) -> None:
    below, above = student_t_upper(0.25, df), student_t_upper(math.nextafter(0.25, 1), df)
    assert above == pytest.approx(below, rel=1e-11)


@given(st.floats(1e-9, 0.49))
def test_one_two_and_four_degrees_of_freedom_have_closed_forms(tail: float) -> None:
    # Cauchy's quantile for one; for two and four those of W. T. Shaw, Sampling Student's T
    # distribution, 2006 (from memory).
    share = 4 * tail * (1 - tail)
    cauchy = 1 / math.tan(math.pi * tail)
    two = (1 - 2 * tail) * math.sqrt(2 / share)
    four = 2 * math.sqrt(math.cos(math.acos(math.sqrt(share)) / 3) / math.sqrt(share) - 1)
    assert student_t_upper(tail, 1) == pytest.approx(cauchy, rel=1e-10)
    assert student_t_upper(tail, 2) == pytest.approx(two, rel=1e-10)
    assert student_t_upper(tail, 4) == pytest.approx(four, rel=1e-7, abs=1e-7)


def test_the_middle_is_zero() -> None:
    assert student_t_upper(0.5, 7) == 0


@pytest.mark.parametrize(
    ("tail", "df"), [(0, 5), (1, 5), (1.5, 5), (-0.1, 5), (0.05, 0), (0.05, math.inf)]
)
def test_impossible_arguments_are_refused(tail: float, df: float) -> None:
    with pytest.raises(ReckoningError, match=r"between 0 and 1|degree of freedom"):
        student_t_upper(tail, df)
