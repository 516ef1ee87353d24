"""Spots that stand apart, and the two films that hide from Grubbs' test."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.outliers import (
    Grubbs,
    generalised_esd,
    grubbs_critical,
    odd_spots,
    two_groups,
)

films = st.fractions(min_value=0, max_value=3000, max_denominator=1000)
TWO_FILMS = [4.6, 4.7, 4.5, 9.6, 9.8, 9.7]


def odd(means: list[float], *, departure: float = 0.0, percent: float = 25) -> tuple[int, ...]:
    return odd_spots(means, alpha=0.05, at_least=6, at_most_percent=percent, departure=departure)


def furthest(values: list[Fraction] | list[float], *, alpha: float = 0.05) -> Grubbs:
    (test,), _ = generalised_esd(values, alpha=alpha, at_most=1)
    return test


def test_the_furthest_value_is_tested_on_whichever_side_it_lies() -> None:
    assert furthest([10, 11, 12, 13, 40]).index == 4
    assert furthest([10, 11, 12, 13, 40]).outlying
    assert furthest([-17, 10, 11, 12, 13]).index == 0
    assert furthest([-17, 10, 11, 12, 13]).outlying


def test_of_two_values_equally_far_the_higher_is_tested() -> None:
    assert furthest([1, 2, 3]).index == 2
    assert furthest([3, 2, 1]).index == 0


def test_equal_values_have_no_outlier() -> None:
    assert furthest([5, 5, 5]).statistic == 0
    assert odd([5, 5, 5, 5, 5, 5]) == ()


def test_one_odd_spot_is_named_and_nothing_is_removed() -> None:
    means = [118.0, 122, 120, 119, 251, 121, 124, 117]
    assert odd(means) == (4,)
    assert len(means) == 8


def test_two_odd_spots_that_mask_each_other_are_both_named() -> None:
    means = [100.0, 101, 102, 99, 98, 100, 101, 99, 140, 141]
    assert not furthest(means[:6] + means[8:]).outlying
    assert odd(means, percent=30) == (8, 9)


def test_the_gauges_last_digit_is_no_odd_spot() -> None:
    even = [127.0, 127, 127, 127, 127, 130]
    assert odd(even) == (5,)
    assert odd(even, departure=10) == ()
    assert odd([*even[:5], 137.0], departure=10) == (5,)


def test_too_few_spots_are_said_to_be_too_few() -> None:
    with pytest.raises(ReckoningError, match="5 spots are too few to tell an odd one; read 1 more"):
        odd([1, 2, 3, 4, 5])
    with pytest.raises(ReckoningError, match="needs three spots, got 2"):
        grubbs_critical(2, alpha=0.05)
    with pytest.raises(ReckoningError, match="too few to look for 3"):
        generalised_esd([1, 2, 3, 4], alpha=0.05, at_most=3)
    with pytest.raises(ReckoningError, match="One spot cannot show two films"):
        two_groups([1], spread_limit=1, gap_limit=1, gap_ratio=1)


@pytest.mark.parametrize("alpha", [0, 1, 5, -0.1])
def test_a_significance_level_is_a_share(alpha: float) -> None:
    with pytest.raises(ReckoningError, match="significance level"):
        grubbs_critical(8, alpha=alpha)


def test_two_films_hide_from_grubbs_and_are_found_by_their_gap() -> None:
    assert not furthest(TWO_FILMS, alpha=0.1).outlying
    found = two_groups(TWO_FILMS, spread_limit=100, gap_limit=1, gap_ratio=4)
    assert found.gap_over
    assert found.divided
    assert not found.spread_over
    assert found.largest_gap == Fraction("4.9")
    assert found.median_gap == Fraction("0.1")
    assert (found.low, found.high) == ((0, 1, 2), (3, 4, 5))


def test_limits_of_spread_and_gap_are_still_allowed() -> None:
    at = two_groups([0, 1, 2, 6], spread_limit=6, gap_limit=4, gap_ratio=1)
    assert not at.divided
    assert two_groups([0, 1, 2, 6], spread_limit=5.9, gap_limit=4, gap_ratio=1).spread_over
    assert two_groups([0, 1, 2, 6], spread_limit=6, gap_limit=3.9, gap_ratio=1).gap_over
    assert not two_groups([0, 1, 2, 6], spread_limit=6, gap_limit=3.9, gap_ratio=4).gap_over


@given(st.data(), st.lists(films, min_size=6, max_size=15, unique=True))
def test_odd_spots_follow_their_values_not_their_order(
    data: st.DataObject, means: list[Fraction]
) -> None:
    order = data.draw(st.permutations(range(len(means))))
    shuffled = [means[place] for place in order]
    there = {shuffled[place] for place in odd(shuffled)}  # type: ignore[arg-type]
    assert there == {means[place] for place in odd(means)}  # type: ignore[arg-type]


@given(st.lists(films, min_size=6, max_size=15), films.filter(bool))
def test_units_do_not_change_who_is_odd(means: list[Fraction], factor: Fraction) -> None:
    scaled = [mean * factor for mean in means]
    assert furthest(means) == furthest(scaled)
    assert odd(means) == odd(scaled)  # type: ignore[arg-type]


@given(st.lists(films, min_size=3, max_size=15))
def test_grubbs_statistic_never_exceeds_its_bound(values: list[Fraction]) -> None:
    found = furthest(values)
    bound = (len(values) - 1) / math.sqrt(len(values))
    assert 0 <= found.statistic <= bound * (1 + 1e-12)
    assert 0 <= found.index < len(values)


@given(st.integers(3, 60), st.floats(0.001, 0.2), st.floats(1.01, 2))
def test_a_critical_value_rises_as_alpha_falls_and_stays_under_the_bound(
    n: int, alpha: float, more: float
) -> None:
    strict = grubbs_critical(n, alpha=alpha)
    assert strict < (n - 1) / math.sqrt(n) * (1 + 1e-12)
    assert grubbs_critical(n, alpha=alpha * more) <= strict


@given(st.lists(films, min_size=2, max_size=20))
def test_two_groups_share_out_every_spot(values: list[Fraction]) -> None:
    found = two_groups(values, spread_limit=50, gap_limit=25, gap_ratio=4)
    assert sorted(found.low + found.high) == list(range(len(values)))
    assert found.largest_gap <= found.spread
    if found.largest_gap:
        top = max(values[place] for place in found.low)
        assert min(values[place] for place in found.high) - top == found.largest_gap


@given(st.lists(films, min_size=8, max_size=8), st.integers(0, 7))
def test_a_far_enough_spot_is_always_odd(values: list[Fraction], place: int) -> None:
    others = values[:place] + values[place + 1 :]
    assume(len(set(others)) > 2)
    far = max(others) + 100 * (max(others) - min(others))
    moved = [*values[:place], far, *values[place + 1 :]]
    assert place in odd(moved)  # type: ignore[arg-type]
