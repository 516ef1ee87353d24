"""Film surveys by SSPC-PA 2 and ISO 19840, with the tables the rule set supplies.

Trust marks: [read] seen in a text of the standard or one quoting it; [memory]; [derived].
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml

from engine.reckoning.film_acceptance import (
    Limits,
    RestrictionLevel,
    iso19840_acceptance,
    iso19840_corrected,
    pa2_acceptance,
    pa2_limits,
)
from engine.reckoning.gauge import combined_accuracy, gauge_check, less_correction
from engine.reckoning.survey import (
    SQUARE_FOOT_M2,
    SizeStep,
    spot_mean,
    spots_needed,
    stepped_count,
)

ROOT = Path(__file__).resolve().parents[2]
TABLES = yaml.safe_load((ROOT / "rulesets/refinish/tables/survey.yaml").read_text("utf-8"))[
    "tables"
]


def rows(table: str) -> list[list[Any]]:
    return TABLES[f"survey.{table}"]["rows"]  # type: ignore[no-any-return]


def fraction(value: Any) -> Any:
    return None if value is None else Fraction(str(value))


LEVELS = {row[0]: RestrictionLevel(*row[1:]) for row in rows("pa2-levels")}
AREAS = [SizeStep(*row) for row in rows("pa2-areas")]
COUNTS = {name.replace("-", "_"): least for name, least in rows("pa2-counts")}
ISO_COUNTS = [SizeStep(*row) for row in rows("iso19840-counts")]
CORRECTIONS = dict(rows("iso19840-corrections"))
ISO_LIMITS = dict(rows("iso19840-acceptance"))


def test_pa2_spot_is_the_mean_of_its_readings() -> None:
    """SSPC-PA 2, clause 3 [read]: 4.2, 4.6, 4.4 mil make a spot of 4.4 mil."""
    assert spot_mean([4.2, 4.6, 4.4]) == Fraction("4.4")


# SSPC-PA 2, clause 8 [read]; the car of 215 ft2 is derived from the same rule.
@pytest.mark.parametrize(
    ("square_feet", "areas", "spots", "readings"),
    [
        (1, 1, 5, 15),
        (100, 1, 5, 15),
        (101, 2, 10, 30),
        (200, 2, 10, 30),
        (215, 3, 15, 45),
        (300, 3, 15, 45),
        (301, 3, 15, 45),
        (1000, 3, 15, 45),
        (1001, 4, 20, 60),
        (2000, 4, 20, 60),
        (2001, 5, 25, 75),
        (12_500, 15, 75, 225),
    ],
)
def test_pa2_number_of_areas_spots_and_readings(
    square_feet: int, areas: int, spots: int, readings: int
) -> None:
    found = spots_needed(
        square_feet * SQUARE_FOOT_M2, steps=AREAS, unit_m2=SQUARE_FOOT_M2, **COUNTS
    )
    assert (found.areas, found.spots, found.readings) == (areas, spots, readings)


def test_pa2_default_limits_on_8_to_12_mil() -> None:
    """SSPC-PA 2 [read]: specified 8 to 12 mil, each spot from 6.4 to 14.4 mil."""
    spots, areas = pa2_limits(minimum=8, maximum=12, level=3, levels=LEVELS)
    assert spots == Limits(Fraction("6.4"), Fraction("14.4"))
    assert areas == Limits(Fraction(8), Fraction(12))


# SSPC-PA 2, Table 1 [memory]: limits of a spot for 4 to 6 mil.
@pytest.mark.parametrize(
    ("level", "low", "high"),
    [(1, "4", "6"), (2, "4", "7.2"), (3, "3.2", "7.2"), (4, "3.2", "9"), (5, "3.2", None)],
)
def test_pa2_restriction_levels(level: int, low: str, high: str | None) -> None:
    spots, _ = pa2_limits(minimum=4, maximum=6, level=level, levels=LEVELS)
    assert (spots.low, spots.high) == (Fraction(low), fraction(high))


# Derived from SSPC-PA 2, clause 9: 8 to 12 mil, level 3.
@pytest.mark.parametrize(
    ("spots", "accepted"),
    [
        ([6.4, 9, 10, 10, 14.4], True),
        ([6.3, 10, 10, 10, 10], False),
        ([14.5, 9, 9, 9, 9], False),
        ([7, 7, 7, 8, 8], False),
        ([13, 13, 13, 12, 10], False),
        ([8, 8, 8, 8, 8], True),
        ([12, 12, 12, 12, 12], True),
    ],
)
def test_pa2_acceptance_of_one_area(spots: list[float], accepted: bool) -> None:
    found = pa2_acceptance(
        [spots],
        minimum=8,
        maximum=12,
        level=3,
        levels=LEVELS,
        spots_per_area=COUNTS["spots_per_area"],
    )
    assert found.accepted is accepted


def test_pa2_a_single_wild_reading_is_not_judged() -> None:
    """SSPC-PA 2 [read]: only spots and areas are judged; 20 mil hides in a spot of 12 mil."""
    spots = [[20.0, 8, 8], 9, 9, 9, 9]
    found = pa2_acceptance([spots], minimum=8, maximum=12, level=3, levels=LEVELS, spots_per_area=5)
    assert found.accepted


def test_pa2_base_metal_reading() -> None:
    """SSPC-PA 2, clause 5 [read]: 5.1 less 0.4 is 4.7 mil."""
    assert less_correction([5.1], correction=0.4) == [Fraction("4.7")]


def test_pa2_combined_accuracy() -> None:
    """SSPC-PA 2, note on verification [memory]: 5 % and 5 % make 7 %."""
    assert combined_accuracy(5, 5) == pytest.approx(7.07, abs=0.005)


@pytest.mark.parametrize(("reading", "passed"), [(9.3, True), (10.7, True), (9.2, False)])
def test_pa2_gauge_on_a_10_mil_shim(reading: float, passed: bool) -> None:
    """SSPC-PA 2, note on verification [memory]: from 9.3 to 10.7 mil the gauge is in order."""
    tolerance = round(combined_accuracy(5, 5)) / 100 * 10
    assert gauge_check([reading], known=10, tolerance=tolerance).passed is passed


# ISO 19840, Table 1 [memory].
@pytest.mark.parametrize(
    ("profile", "left"), [("fine", 120), ("medium", 105), ("coarse", 90), ("unknown", 105)]
)
def test_iso19840_correction_of_130_um(profile: str, left: int) -> None:
    assert iso19840_corrected([130], profile=profile, corrections=CORRECTIONS) == (left,)


# ISO 19840, Table 2 [memory].
@pytest.mark.parametrize(
    ("square_metres", "readings"),
    [
        (0.5, 5), (1, 5), (1.1, 10), (3, 10), (10, 15), (20, 20), (30, 20), (100, 30),
        (101, 40), (200, 40), (201, 50), (1000, 120),
    ],
)  # fmt: skip
def test_iso19840_number_of_readings(square_metres: float, readings: int) -> None:
    assert stepped_count(square_metres, steps=ISO_COUNTS) == readings


EXAMPLE = [82, 96, 104, 110, 121, 98, 107, 115, 103, 126]


# ISO 19840, clause 8 [memory]; figures derived.
@pytest.mark.parametrize(
    ("readings", "mean", "accepted"),
    [
        (EXAMPLE, "106.2", False),
        ([100, *EXAMPLE[1:5], 100, *EXAMPLE[6:]], "108.2", True),
        ([79, 104, 104, 110, 121, 108, 107, 115, 103, 126], "107.7", False),
        ([90, 95, 105, 105, 105, 105, 105, 105, 105, 105], "102.5", False),
        ([85, 101, 101, 101, 101, 101, 101, 101, 101, 101], "99.4", False),
    ],
)
def test_iso19840_acceptance_of_100_um(readings: list[int], mean: str, accepted: bool) -> None:
    found = iso19840_acceptance(
        readings,
        nominal=100,
        scope_from=ISO_LIMITS["scope-from-um"],
        lowest_percent=ISO_LIMITS["lowest-percent"],
        below_share_percent=ISO_LIMITS["below-share-percent"],
        maximum=300,
    )
    assert found.mean == Fraction(mean)
    assert found.accepted is accepted
