"""Student's t: what must hold whatever the figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.distributions import (
    regularised_beta,
    student_t_cdf,
    student_t_quantile,
    student_t_tail,
    student_t_upper,
)

dfs = st.floats(min_value=1, max_value=1e5)


@given(st.floats(min_value=1e-12, max_value=0.499), dfs)
def test_the_quantile_undoes_the_tail(tail: float, df: float) -> None:
    assert student_t_tail(student_t_upper(tail, df), df) == pytest.approx(tail, rel=1e-10)


@given(st.floats(min_value=1e-6, max_value=1 - 1e-6), dfs)
def test_the_distribution_is_symmetric(p: float, df: float) -> None:
    assert student_t_quantile(p, df) == pytest.approx(
        -student_t_quantile(1 - p, df), rel=1e-7, abs=1e-12
    )


@given(st.floats(-50, 50), dfs)
def test_both_sides_share_out_all_probability(t: float, df: float) -> None:
    assert student_t_cdf(t, df) + student_t_tail(t, df) == pytest.approx(1, abs=1e-15)


@given(
    st.integers(0, 1024).map(lambda k: k / 1024),
    st.floats(0.5, 200),
    st.floats(0.5, 200),
)
def test_the_incomplete_beta_function_reflects(x: float, a: float, b: float) -> None:
    assert regularised_beta(x, a, b) == pytest.approx(1 - regularised_beta(1 - x, b, a), abs=1e-12)


@pytest.mark.parametrize("p", [0.6, 0.75, 0.9, 0.975, 0.999])
def test_one_and_two_degrees_of_freedom_have_closed_forms(p: float) -> None:
    cauchy = math.tan(math.pi * (p - 0.5))
    two = (2 * p - 1) * math.sqrt(2 / (1 - (2 * p - 1) ** 2))
    assert student_t_quantile(p, 1) == pytest.approx(cauchy, rel=1e-12)
    assert student_t_quantile(p, 2) == pytest.approx(two, rel=1e-12)


def test_the_middle_is_zero() -> None:
    assert student_t_quantile(0.5, 7) == 0
    assert student_t_tail(0, 7) == 0.5


@pytest.mark.parametrize(("tail", "df"), [(0, 5), (1, 5), (-0.1, 5), (0.05, 0), (0.05, math.inf)])
def test_impossible_arguments_are_refused(tail: float, df: float) -> None:
    with pytest.raises(ReckoningError):
        student_t_upper(tail, df)


@pytest.mark.parametrize("p", [0, 1, 1.5])
def test_impossible_probabilities_are_refused(p: float) -> None:
    with pytest.raises(ReckoningError, match="between 0 and 1"):
        student_t_quantile(p, 5)


def test_the_incomplete_beta_function_refuses_what_it_has_no_value_for() -> None:
    with pytest.raises(ReckoningError, match=r"within 0\.\.1"):
        regularised_beta(1.5, 2, 3)
