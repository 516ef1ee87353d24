"""Times, ranges and panels of a plan in words, by examples worked by hand."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction as F

import pytest
from plan_jobs import MONDAY, planned, small

from cli.output.plan_words import (
    clock,
    counted,
    day_name,
    days_of_work,
    either,
    in_all,
    in_full,
    labouring,
    lasting,
    listed,
    moment,
    numbers,
)
from engine.plan.worktime import DAY, WorkTime
from engine.ruleset.work import Span


def span(low: F | int, high: F | int | None = None) -> Span:
    return Span(F(low), F(low if high is None else high))


def worktime(start: datetime | None) -> WorkTime:
    labour = small().labour
    assert labour is not None
    return WorkTime(labour, start)


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (span(0), "0 min"),
        (span(F(1, 3600)), "1 min"),
        (span(F(20, 60), F(35, 60)), "20 to 35 min"),
        (span(F(45, 60), F(90, 60)), "45 min to 1 h 30 min"),
        (span(1, 2), "1 to 2 h"),
        (span(F(130, 60), F(190, 60)), "2 h 10 min to 3 h 10 min"),
        (span(47), "47 h"),
        (span(48), "2 days"),
        (span(95), "3 days 23 h"),
        (span(24, 168), "24 h to 7 days"),
    ],
)
def test_lengths_of_time(hours: Span, text: str) -> None:
    assert lasting(hours) == text


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (span(F(11, 6)), "1 h 50 min"),
        (span(F(19, 2), 10), "9 h 30 min to 10 h"),
        (span(F(9710, 100), F(19380, 100)), "97 to 194 h"),
    ],
)
def test_hours_of_work_are_whole_once_there_are_many(hours: Span, text: str) -> None:
    assert labouring(hours) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        ("2.7 fl oz", "5.1 fl oz", "2.7 to 5.1 fl oz"),
        ("250 ml", "1.2 L", "250 ml to 1.2 L"),
        ("1 gal", "1 gal", "1 gal"),
        ("4", "7", "4 to 7"),
        ("$12.50", "$14", "$12.50 to $14"),
    ],
)
def test_a_unit_both_ends_share_is_said_once(low: str, high: str, text: str) -> None:
    assert either(low, high) == text


def test_numbers_are_drawn_together() -> None:
    assert numbers([3]) == "3"
    assert numbers([3, 4]) == "3, 4"
    assert numbers([1, 3, 4, 5, 9]) == "1, 3 to 5, 9"


def test_singular_and_plural() -> None:
    assert counted(1, "task") == "1 task"
    assert counted(0, "task") == "0 tasks"
    assert counted(2, "person", "people") == "2 people"
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"


def test_days_with_and_without_a_start() -> None:
    dated, undated = worktime(MONDAY), worktime(None)
    assert day_name(dated, 2) == "Wednesday 5 March 2025"
    assert moment(dated, 2 * DAY + 8 * 60 + 5) == "Wed 5 Mar 08:05"
    assert day_name(undated, 7) == "Day 8, Monday"
    assert moment(undated, 7 * DAY) == "day 8 00:00"


def test_a_stretch_that_ends_at_midnight_ends_at_24() -> None:
    assert clock(3 * DAY, end=True) == "24:00"
    assert clock(3 * DAY) == "00:00"


def test_in_all_counts_days_on_which_somebody_works() -> None:
    plan = planned("left door: {finish: dull, area: 1 m2}")
    assert plan.calendar is not None
    assert days_of_work(plan.calendar.layout) == len(
        {stretch.start // DAY for laid in plan.calendar.layout.laid.values()
         for stretch in laid.work}
    )  # fmt: skip
    # Wash 1 h; sand 35 to 55 min; degrease 6; prime 12; mask 2 h; paint two people 40 min and
    # 15 min flash between two coats, so 110; polish 15 to 30; refit 1 to 3 h.
    low = 60 + 35 + 6 + 12 + 120 + 110 + 15 + 60
    high = 60 + 55 + 6 + 12 + 120 + 110 + 30 + 180
    assert (low, high) == (418, 573)
    assert in_all(plan).startswith("6 h 58 min to 9 h 33 min of work on ")


def test_work_without_a_time_is_said_to_be_left_out() -> None:
    """The lid has no area, so sanding, painting and polishing it have no time."""
    assert in_all(planned("lid: {finish: dull}")).endswith(", without 3 tasks whose time is open")


PANELS = ("roof", "bonnet", "lid", "left door", "right door", "sill")


@pytest.mark.parametrize(
    ("panels", "short", "full"),
    [
        ([], "car", "car"),
        ([None], "car", "car"),
        (["roof"], "roof", "roof"),
        (["roof", "roof", "lid"], "roof, lid", "roof, lid"),
        (PANELS[:3], "roof, bonnet, lid", "roof, bonnet, lid"),
        (PANELS, "all panels", "all panels"),
        ([None, *PANELS], "car, all panels", "car, all panels"),
        (PANELS[:5], "all panels but sill", "all panels but sill"),
        (PANELS[1:5], "all panels but roof and sill", "all panels but roof and sill"),
    ],
)
def test_panels_in_words(panels: list[str | None], short: str, full: str) -> None:
    plan = planned(", ".join(f"{name}: {{finish: sound}}" for name in PANELS))
    assert plan.setting.called(panels) == short
    assert in_full(plan, panels) == full


def test_long_lists_are_shortened_only_where_nobody_works_by_them() -> None:
    names = [*PANELS, "front wing", "rear wing"]
    plan = planned(", ".join(f"{name}: {{finish: sound}}" for name in names))
    assert plan.setting.called(names[:5]) == "roof, bonnet, lid and 2 more"
    assert in_full(plan, names[:5]) == "roof, bonnet, lid, left door, right door"
    assert plan.setting.called([None, *names[:5]]) == "car, roof, bonnet, lid and 2 more"
    assert in_full(plan, [None, *names[:5]]) == "car, roof, bonnet, lid, left door, right door"


def test_two_panels_that_are_all_there_are_are_named() -> None:
    plan = planned("roof: {finish: sound}, lid: {finish: sound}")
    assert plan.setting.called(["roof", "lid"]) == "roof, lid"
