"""Filler: depth, layers, volume, hardener and waiting."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.filler import (
    Shape,
    deepest,
    filling_minutes,
    hardener,
    layers,
    mass,
    rework_metal,
    volume,
)

depths = st.fractions(min_value=0, max_value=50, max_denominator=1000)


def test_the_deepest_counts() -> None:
    assert deepest([1.5, 6.35, 3]) == Fraction("6.35")
    with pytest.raises(ReckoningError, match="No filler depth was given; measure"):
        deepest([])


def test_the_limit_itself_is_still_filler() -> None:
    quarter_inch = Fraction(254, 40)
    assert quarter_inch == Fraction("6.35")
    assert not rework_metal(quarter_inch, limit_mm=6.35)
    assert not rework_metal(6.35, limit_mm=quarter_inch)
    assert rework_metal(6.3500001, limit_mm=quarter_inch)


def test_layers_are_never_thicker_than_allowed() -> None:
    assert [layers(depth, layer_limit_mm=3) for depth in (0, 0.1, 3, 3.01, 6, 6.1)] == [
        0,
        1,
        1,
        2,
        2,
        3,
    ]
    assert layers(0.3, layer_limit_mm=0.1) == 3


@pytest.mark.parametrize("limit", [0, -1, None])
def test_a_layer_needs_a_thickness(limit: float | None) -> None:
    with pytest.raises(ReckoningError, match="see the filler's data sheet"):
        layers(3, layer_limit_mm=limit)  # type: ignore[arg-type]


def test_a_square_metre_a_millimetre_deep_is_a_litre() -> None:
    assert volume(1, depth_mm=1, shape="even", sanded_away_percent=0) == 1
    assert volume(0.04, depth_mm=3, shape="even", sanded_away_percent=40) == Fraction("0.2")


def hollow_by_slices(shape: str, radius: float, peak: float, slices: int = 20_000) -> float:
    total = 0.0
    for step in range(slices):
        r = (step + 0.5) / slices
        profile = {"dish": 1 - r * r, "cone": 1 - r}[shape]
        total += 2 * math.pi * r * profile / slices
    return total * radius**2 * peak


@pytest.mark.parametrize("shape", ["dish", "cone"])
def test_hollows_hold_what_slicing_them_gives(shape: Shape) -> None:
    radius_m, peak_mm = 0.1, 4.0
    area = math.pi * radius_m**2
    found = volume(area, depth_mm=peak_mm, shape=shape, sanded_away_percent=0)
    assert float(found) == pytest.approx(hollow_by_slices(shape, radius_m, peak_mm), rel=1e-6)


def test_a_valley_holds_half_its_box() -> None:
    assert volume(0.06, depth_mm=2, shape="valley", sanded_away_percent=0) == Fraction("0.06")


def test_unheard_of_shapes_and_losses_are_refused() -> None:
    with pytest.raises(ReckoningError, match="give one of even, dish, valley, cone"):
        volume(1, depth_mm=1, shape="bowl", sanded_away_percent=0)  # type: ignore[arg-type]
    with pytest.raises(ReckoningError, match="leaves no filler"):
        volume(1, depth_mm=1, shape="even", sanded_away_percent=100)


def test_hardener_by_mass_within_what_the_filler_allows() -> None:
    grams = mass(0.2, density_g_per_ml=1.9)
    assert grams == 380
    limits = {"least_percent": 1, "most_percent": 3}
    assert hardener(grams, percent_by_mass=2, **limits) == Fraction("7.6")
    assert hardener(100, percent_by_mass=1, **limits) == 1
    assert hardener(100, percent_by_mass=3, **limits) == 3
    with pytest.raises(ReckoningError, match=r"3\.1 % hardener is outside 1 to 3 %"):
        hardener(100, percent_by_mass=3.1, **limits)
    with pytest.raises(ReckoningError, match="outside 1 to 3 %"):
        hardener(100, percent_by_mass=0.9, **limits)


def test_waiting_counts_gaps_between_layers_and_the_end() -> None:
    waits = {"between_layers": 20, "before_primer": 90}
    assert [filling_minutes(count, **waits) for count in (0, 1, 3)] == [0, 90, 130]
    with pytest.raises(ReckoningError, match="whole number"):
        filling_minutes(1.5, **waits)  # type: ignore[arg-type]


@given(depths, depths.filter(bool))
def test_layers_are_enough_and_not_one_too_many(depth: Fraction, limit: Fraction) -> None:
    count = layers(depth, layer_limit_mm=limit)
    assert count * limit >= depth
    assert count == 0 or (count - 1) * limit < depth


@given(depths, depths, st.sampled_from(["even", "dish", "valley", "cone"]))
def test_volume_grows_with_area_and_never_exceeds_its_box(
    area: Fraction, depth: Fraction, shape: Shape
) -> None:
    one = volume(area, depth_mm=depth, shape=shape, sanded_away_percent=0)
    assert one <= area * depth
    assert volume(2 * area, depth_mm=depth, shape=shape, sanded_away_percent=0) == 2 * one
    assert volume(area, depth_mm=depth, shape=shape, sanded_away_percent=50) == 2 * one
