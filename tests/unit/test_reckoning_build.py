"""The film budget: what there is, what comes off, what goes on."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.build import (
    ecoat_guard,
    forecast,
    forecast_partly_stripped,
    forecast_stripped,
    must_come_off,
    over_limit,
)

films = st.fractions(min_value=0, max_value=3000, max_denominator=1000)
coat_lists = st.lists(st.fractions(min_value=0, max_value=100, max_denominator=100), max_size=6)
MIL = Fraction(254, 10)


def test_budget_by_hand() -> None:
    coats = [1 * MIL, 1 * MIL, Fraction("2.5") * MIL]
    assert forecast(6 * MIL, coats, sanded=Fraction("0.5") * MIL) == 10 * MIL
    total = forecast(11 * MIL, coats, sanded=Fraction("0.5") * MIL)
    assert total == 15 * MIL
    assert over_limit(total, limit=12 * MIL) == 3 * MIL
    assert must_come_off(11 * MIL, coats, limit=12 * MIL) == Fraction("3.5") * MIL


def test_decimal_figures_meet_the_limit_exactly() -> None:
    assert over_limit(forecast(190.6, [76.2, 63.5], sanded=25.5), limit=304.8) == 0
    assert must_come_off(190.6, [50.7, 63.5], limit=304.8) == 0


def test_partly_stripped_keeps_at_most_what_is_there() -> None:
    assert forecast_partly_stripped(400, [50, 60], undercoat=45) == 155
    assert forecast_partly_stripped(30, [50, 60], undercoat=45) == 140
    assert forecast_stripped([50, 60]) == 110
    assert forecast_stripped([]) == 0


def test_sanding_through_is_refused() -> None:
    assert forecast(20, [], sanded=20) == 0
    with pytest.raises(ReckoningError, match="goes through to the substrate"):
        forecast(20, [50], sanded=20.1)


def test_coats_that_alone_exceed_the_limit_are_refused() -> None:
    assert must_come_off(100, [304.8], limit=304.8) == 100
    with pytest.raises(ReckoningError, match="The new coats alone make 305 um"):
        must_come_off(100, [305], limit=304.8)


@pytest.mark.parametrize(
    ("existing", "coats", "message"),
    [
        (None, [50], "the existing film is missing; survey the film"),
        (-1, [50], "the existing film must be 0 or more"),
        (100, [50, -1], "new coat 2 must be 0 or more"),
        (100, [50, None], "new coat 2 is missing; see the coat's data sheet"),
    ],
)
def test_missing_and_impossible_films(
    existing: float | None, coats: list[float | None], message: str
) -> None:
    with pytest.raises(ReckoningError, match=message):
        forecast(existing, coats, sanded=0)  # type: ignore[arg-type]


def test_the_ecoat_guard_closes_at_its_floor() -> None:
    at = ecoat_guard(50, ecoat=20, zinc=5, margin=25)
    assert (at.floor, at.above, at.near) == (50, 0, True)
    over = ecoat_guard(50.1, ecoat=20, zinc=5, margin=25)
    assert over.above == Fraction("0.1")
    assert not over.near
    assert ecoat_guard(49, ecoat=20, zinc=5, margin=25).above == -1


@given(films, coat_lists, films.filter(bool))
def test_taking_off_what_must_come_off_ends_at_the_limit(
    existing: Fraction, coats: list[Fraction], limit: Fraction
) -> None:
    if sum(coats) > limit:
        with pytest.raises(ReckoningError):
            must_come_off(existing, coats, limit=limit)
        return
    off = must_come_off(existing, coats, limit=limit)
    total = forecast(existing, coats, sanded=off)
    assert over_limit(total, limit=limit) == 0
    assert off == 0 or total == limit


@given(films, coat_lists, films, films)
def test_deeper_treatment_never_leaves_more_film(
    existing: Fraction, coats: list[Fraction], undercoat: Fraction, part: Fraction
) -> None:
    sanded = min(part, existing)
    partly = forecast_partly_stripped(existing, coats, undercoat=undercoat)
    assert forecast_stripped(coats) <= partly <= forecast(existing, coats, sanded=0)
    assert forecast_stripped(coats) <= forecast(existing, coats, sanded=sanded)
