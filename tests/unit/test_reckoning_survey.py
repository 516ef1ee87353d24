"""Spots, their summing up, and sampling counts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.survey import (
    SQUARE_FOOT_M2,
    SizeStep,
    interval_of,
    spot_mean,
    spot_means,
    spots_needed,
    stepped_count,
    survey,
)

films = st.fractions(min_value=0, max_value=3000, max_denominator=1000)
spot_lists = st.lists(films, min_size=1, max_size=20)
STEPS = [SizeStep(0, 300, 0, 1, 100), SizeStep(300, 1000, 3, 0, None)]


def test_the_mean_of_readings_around_a_limit_meets_it_exactly() -> None:
    assert spot_mean([11.9, 12.0, 12.1]) == 12
    assert spot_mean([Fraction("11.9"), 12, Fraction("12.1")]) == 12
    mil = Fraction(254, 10)
    assert spot_mean([Fraction("11.9") * mil, 12 * mil, Fraction("12.1") * mil]) == 12 * mil


def test_a_lone_number_is_its_own_spot() -> None:
    assert spot_means([120, [118, 122, 121]]) == (120, Fraction(361, 3))


def test_a_survey_sums_up_spot_means_not_single_readings() -> None:
    found = survey([[90, 110, 100], 130, [120, 120], 125])
    assert found.spots == (100, 130, 120, 125)
    assert (found.typical, found.low, found.high) == (Fraction(245, 2), 100, 130)
    assert (found.spread, found.n, found.mean) == (30, 4, Fraction(475, 4))
    assert found.sd == pytest.approx(13.149778198382917, rel=1e-15)


def test_one_odd_spot_hardly_moves_what_is_typical() -> None:
    assert survey([100, 102, 104, 900, 103]).typical == 103


def test_one_spot_has_no_scatter() -> None:
    assert survey([100]).sd is None
    with pytest.raises(ReckoningError, match="at least two spots"):
        interval_of(survey([100]), confidence=0.95)


@pytest.mark.parametrize(
    ("readings", "message"),
    [
        ([], "No film readings were given; read the panel"),
        ([100, []], "Spot 2: No film reading was given"),
        ([100, [90, -1]], "Spot 2: film reading 2 must be 0 or more, not -1; check the gauge"),
        ([float("nan")], "Spot 1: film reading 1 is not a finite number"),
        ([float("inf")], "Spot 1: film reading 1 is not a finite number"),
        ([None], "Spot 1: film reading 1 is missing"),
        ([True], "Spot 1: film reading 1 is not a number"),
        (["90"], "Spot 1: film reading 1 is not a number"),
    ],
)
def test_readings_that_cannot_be_are_refused_with_their_place(
    readings: list[object], message: str
) -> None:
    with pytest.raises(ReckoningError, match=message):
        survey(readings)  # type: ignore[arg-type]


@pytest.mark.parametrize("confidence", [0, 1, -0.5, 95])
def test_a_confidence_level_is_a_share(confidence: float) -> None:
    with pytest.raises(ReckoningError, match="above 0 and below 1"):
        interval_of(survey([1, 2, 3]), confidence=confidence)


@given(st.data(), spot_lists)
def test_order_does_not_matter(data: st.DataObject, spots: list[Fraction]) -> None:
    shuffled = data.draw(st.permutations(spots))
    first, second = survey(spots), survey(shuffled)
    assert (first.typical, first.low, first.high, first.mean, first.sd) == (
        second.typical,
        second.low,
        second.high,
        second.mean,
        second.sd,
    )


@given(spot_lists)
def test_changing_the_unit_changes_every_figure_alike(spots: list[Fraction]) -> None:
    mil = Fraction(254, 10)
    in_mil, in_um = survey(spots), survey([spot * mil for spot in spots])
    assert in_um.typical == in_mil.typical * mil
    assert in_um.spread == in_mil.spread * mil
    assert in_um.mean == in_mil.mean * mil


@given(spot_lists)
def test_what_is_typical_lies_within_the_readings(spots: list[Fraction]) -> None:
    found = survey(spots)
    assert found.low <= found.typical <= found.high
    assert found.low <= found.mean <= found.high
    assert found.spread >= 0


@given(
    st.lists(films, min_size=2, max_size=12),
    st.floats(min_value=0.5, max_value=0.9),
    st.floats(min_value=0.01, max_value=0.09),
)
def test_more_confidence_never_narrows_the_interval(
    spots: list[Fraction], level: float, more: float
) -> None:
    narrow = interval_of(survey(spots), confidence=level)
    wide = interval_of(survey(spots), confidence=level + more)
    assert narrow.low <= float(narrow.mean) <= narrow.high
    assert wide.half_width >= narrow.half_width


def test_counts_at_the_edges_of_a_sampling_table() -> None:
    assert [stepped_count(size, steps=STEPS) for size in (0, 1, 100, 101, 300, 301, 1000)] == [
        0,
        1,
        1,
        2,
        3,
        3,
        3,
    ]


def test_a_surface_beyond_the_table_is_refused() -> None:
    with pytest.raises(ReckoningError, match="No row of the sampling table covers"):
        stepped_count(1001, steps=STEPS)


def test_an_area_written_in_decimal_metres_stays_on_its_boundary() -> None:
    counted = spots_needed(
        9.290304, steps=STEPS, unit_m2=SQUARE_FOOT_M2, spots_per_area=5, readings_per_spot=3
    )
    assert (counted.areas, counted.spots, counted.readings) == (1, 5, 15)


@pytest.mark.parametrize("area", [0, -1, None])
def test_an_area_must_be_measured(area: float | None) -> None:
    with pytest.raises(ReckoningError, match="measure the panel"):
        spots_needed(
            area,  # type: ignore[arg-type]
            steps=STEPS,
            unit_m2=1,
            spots_per_area=5,
            readings_per_spot=3,
        )
