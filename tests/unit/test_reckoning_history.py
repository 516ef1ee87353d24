"""What a survey says of a panel's past."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.history import FilmHistory, film_history
from engine.reckoning.survey import survey

LIMITS: dict[str, Any] = {
    "thin_below": 50,
    "factory_high": 180,
    "spread_limit": 50,
    "gap_limit": 25,
    "gap_ratio": 4,
    "alpha": 0.05,
    "fewest_spots": 3,
    "fewest_for_odd": 6,
    "odd_percent": 25,
    "odd_departure": 25,
}


def history(*spots: float, **changed: Any) -> FilmHistory:
    return film_history(survey(spots), **{**LIMITS, **changed})


@pytest.mark.parametrize(
    ("spots", "kind"),
    [
        ((125, 130, 128), "factory-like"),
        ((180, 180, 180), "factory-like"),
        ((181, 181, 181), "repainted"),
        ((250, 255, 262), "repainted"),
        ((50, 50, 50), "factory-like"),
        ((49, 49, 49), "thin"),
        ((120, 122, 240), "mixed"),
        ((116, 119, 114, 243, 249, 246), "mixed"),
        ((30, 32, 95), "mixed"),
    ],
)
def test_kinds_and_their_edges(spots: tuple[float, ...], kind: str) -> None:
    assert history(*spots).kind == kind


def test_what_made_a_film_mixed_is_kept() -> None:
    found = history(116, 119, 114, 243, 249, 246)
    assert (found.groups.spread_over, found.groups.spread) == (True, 135)
    assert (found.groups.gap_over, found.groups.largest_gap) == (True, 124)
    assert (found.groups.low, found.groups.high) == ((0, 1, 2), (3, 4, 5))
    assert found.odd_spots == ()


def test_an_odd_spot_alone_makes_a_mixed_film() -> None:
    found = history(120, 121, 122, 120, 121, 122, 150, gap_limit=100)
    assert found.kind == "mixed"
    assert found.odd_spots == (6,)
    assert not found.groups.divided
    assert history(120, 121, 122, 120, 121, 122, 123, gap_limit=100).kind == "factory-like"


def test_a_test_that_could_not_be_made_is_told_from_one_that_found_nothing() -> None:
    assert history(125, 130, 128).odd_spots is None
    assert history(*[125] * 6).odd_spots == ()


def test_the_typical_film_counts_and_not_the_thinnest_spot() -> None:
    assert history(45, 60, 62).kind == "factory-like"


def test_too_few_spots_and_crossed_limits_are_refused() -> None:
    with pytest.raises(ReckoningError, match=r"It takes 3 spots .* and 1 were read; read 2 more"):
        history(125)
    with pytest.raises(ReckoningError, match="above the top of a factory film"):
        history(125, 130, 128, thin_below=200)


@given(st.data(), st.lists(st.integers(0, 600), min_size=3, max_size=12))
def test_order_does_not_change_the_kind(data: st.DataObject, spots: list[int]) -> None:
    assert history(*spots).kind == history(*data.draw(st.permutations(spots))).kind


@given(st.lists(st.integers(0, 600), min_size=3, max_size=12))
def test_only_an_even_film_has_a_kind_by_level(spots: list[int]) -> None:
    found = history(*spots)
    if max(spots) - min(spots) > LIMITS["spread_limit"]:
        assert found.kind == "mixed"
    elif found.kind == "repainted":
        assert sorted(spots)[len(spots) // 2] > LIMITS["factory_high"]
    elif found.kind == "thin":
        assert min(spots) < LIMITS["thin_below"]
