"""Film acceptance: who is named, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.film_acceptance import (
    Pa2Result,
    RestrictionLevel,
    iso19840_acceptance,
    iso19840_corrected,
    pa2_acceptance,
)

LEVELS = {1: RestrictionLevel(100, 100, 100, 100), 5: RestrictionLevel(80, None, 100, None)}
ISO: dict[str, Any] = {
    "nominal": 100,
    "scope_from": 40,
    "lowest_percent": 80,
    "below_share_percent": 20,
    "maximum": 300,
}


def pa2(*areas: list[float], level: int = 1) -> Pa2Result:
    return pa2_acceptance(
        areas, minimum=100, maximum=150, level=level, levels=LEVELS, spots_per_area=3
    )


def test_limits_themselves_are_met() -> None:
    assert pa2([100, 150, 125]).accepted
    assert pa2([80, 500, 90], level=5).accepted


def test_the_failing_spot_and_the_failing_mean_are_told_apart() -> None:
    spot = pa2([99.9, 120, 130]).areas[0]
    assert (spot.spots_outside, spot.mean_ok, spot.accepted) == ((0,), True, False)
    mean = pa2([80, 85, 90], level=5).areas[0]
    assert (mean.spots_outside, mean.mean_ok, mean.accepted) == ((), False, False)


def test_one_bad_area_fails_the_whole() -> None:
    found = pa2([120, 120, 120], [120, 120, 200])
    assert [area.accepted for area in found.areas] == [True, False]
    assert not found.accepted


def test_what_cannot_be_judged_is_refused() -> None:
    with pytest.raises(ReckoningError, match="no restriction level 2; give one of 1, 5"):
        pa2([1, 2, 3], level=2)
    with pytest.raises(ReckoningError, match="Area 2 has 2 spots and needs 3; read 1 more"):
        pa2([120, 120, 120], [120, 120])
    with pytest.raises(ReckoningError, match="at least one area"):
        pa2()
    with pytest.raises(ReckoningError, match="below the minimum"):
        pa2_acceptance([[1]], minimum=150, maximum=100, level=1, levels=LEVELS, spots_per_area=1)


@given(st.data(), st.lists(st.integers(0, 300), min_size=3, max_size=8))
def test_order_within_an_area_does_not_matter(data: st.DataObject, spots: list[int]) -> None:
    shuffled = data.draw(st.permutations(spots))
    assert pa2([*spots]).accepted == pa2([*shuffled]).accepted


def test_each_iso_requirement_fails_alone() -> None:
    fine = iso19840_acceptance([100] * 10, **ISO)
    assert fine.accepted
    thin = iso19840_acceptance([79.9, *[110] * 9], **ISO)
    assert (thin.too_thin, thin.accepted) == ((0,), False)
    assert iso19840_acceptance([80, *[110] * 9], **ISO).accepted
    share = iso19840_acceptance([90, 90, *[110] * 8], **ISO)
    assert (share.share_below_ok, share.mean_ok, share.accepted) == (False, True, False)
    thick = iso19840_acceptance([301, *[110] * 9], **ISO)
    assert (thick.too_thick, thick.accepted) == ((0,), False)
    assert iso19840_acceptance([301, *[110] * 9], **{**ISO, "maximum": None}).accepted
    mean = iso19840_acceptance([80, *[101] * 9], **ISO)
    assert (mean.mean_ok, mean.share_below_ok) == (False, True)


def test_an_iso_share_of_none_below_is_met_by_none_below() -> None:
    strict = {**ISO, "below_share_percent": 0}
    assert iso19840_acceptance([100, 101], **strict).accepted
    assert not iso19840_acceptance([99, 110], **strict).accepted


def test_iso_scope_profiles_and_empty_surveys() -> None:
    with pytest.raises(ReckoningError, match="below 40 µm, where this method starts"):
        iso19840_acceptance([30], **{**ISO, "nominal": 39})
    with pytest.raises(ReckoningError, match="No readings were given"):
        iso19840_acceptance([], **ISO)
    with pytest.raises(ReckoningError, match="ISO 8503-1 comparator and give one of fine"):
        iso19840_corrected([100], profile="rough", corrections={"fine": 10})
    assert iso19840_corrected([5], profile="fine", corrections={"fine": 10}) == (-5,)
