"""Gauge checks, suspect readings and base metal."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.gauge import (
    Checked,
    Suspect,
    Taken,
    gauge_check,
    less_correction,
    suspect_readings,
    zero_check,
)

GOOD, BAD = Checked(True), Checked(False)


def test_a_gauge_at_its_tolerance_passes_and_beyond_it_fails() -> None:
    assert gauge_check([102.9, 103, 103.1], known=100, tolerance=3).passed
    assert not gauge_check([103, 103.1, 103.1], known=100, tolerance=3).passed
    assert gauge_check([97, 97, 97], known=100, tolerance=3).error == -3


def test_the_zero_may_read_below_zero() -> None:
    assert zero_check([-1, 0, 1], tolerance=0.5).passed
    assert not zero_check([-2, -1, -1], tolerance=1).passed


@pytest.mark.parametrize("known", [0, -5])
def test_zero_is_no_certified_thickness(known: int) -> None:
    with pytest.raises(ReckoningError, match="read it from the shim or block"):
        gauge_check([1], known=known, tolerance=1)


def test_a_check_without_readings_is_refused() -> None:
    with pytest.raises(ReckoningError, match="No zero reading was given"):
        zero_check([], tolerance=1)


def test_between_two_passed_checks_readings_stand() -> None:
    assert suspect_readings([GOOD, Taken(100), Taken(110), GOOD]) == ()


def test_a_failed_closing_check_reaches_back_to_the_last_good_one_only() -> None:
    log = [GOOD, Taken(100), GOOD, Taken(110), Taken(120), BAD]
    assert suspect_readings(log) == (
        Suspect(1, 110, "failed-after"),
        Suspect(2, 120, "failed-after"),
    )


def test_every_way_to_be_suspect() -> None:
    log = [Taken(1), GOOD, Taken(2), BAD, Taken(3), GOOD, Taken(4), GOOD, Taken(5)]
    assert [(found.index, found.why) for found in suspect_readings(log)] == [
        (0, "no-check-before"),
        (1, "failed-after"),
        (2, "failed-before"),
        (4, "no-check-after"),
    ]


def test_without_any_check_everything_is_suspect() -> None:
    assert [found.index for found in suspect_readings([Taken(1), Taken(2)])] == [0, 1]


@given(st.lists(st.one_of(st.booleans().map(Checked), st.integers(0, 500).map(Taken))))
def test_a_reading_stands_exactly_between_two_passed_checks(log: list[Checked | Taken]) -> None:
    suspects = {found.index for found in suspect_readings(log)}
    count = 0
    for place, entry in enumerate(log):
        if isinstance(entry, Checked):
            continue
        before = next((e for e in reversed(log[:place]) if isinstance(e, Checked)), BAD)
        after = next((e for e in log[place:] if isinstance(e, Checked)), BAD)
        assert (count in suspects) != (before.passed and after.passed)
        count += 1


def test_base_metal_comes_off_each_reading_and_spots_stay_spots() -> None:
    assert less_correction([5.1, [4.9, 5.0]], correction=0.4) == [
        Fraction("4.7"),
        [Fraction("4.5"), Fraction("4.6")],
    ]


def test_a_film_below_the_base_metal_reading_is_refused() -> None:
    with pytest.raises(ReckoningError, match=r"0\.3 µm is below the 0\.4 µm that is taken"):
        less_correction([0.3], correction=0.4)
    with pytest.raises(ReckoningError, match=r"0 or more, not -0\.1; read the bare"):
        less_correction([5.1], correction=-0.1)
