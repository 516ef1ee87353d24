"""The calendar: hours, people, booths, waits and recoat windows, by small cases worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction as F
from pathlib import Path

import pytest
from plan_jobs import MONDAY, changed, planned, small

from engine.errors import ReckoningError
from engine.plan.calendar import CoatWindow, Job, Layout, Missed, lay
from engine.plan.worktime import DAY, Stretch, WorkTime
from engine.ruleset.work import Labour

TWO = "roof: {finish: bad, dents: 2, area: 2 m2}, left door: {finish: dull, area: 1 m2}"


def labour() -> Labour:
    found = small().labour
    assert found is not None
    return found


def at(day: int, clock: str) -> int:
    """Minutes of a clock time on a day; the first day is 1."""
    hours, minutes = clock.split(":")
    return (day - 1) * DAY + int(hours) * 60 + int(minutes)


def laid(*jobs: Job, people: int = 2, booths: int = 1, start: datetime | None = MONDAY) -> Layout:
    return lay(jobs, WorkTime(labour(), start), people=people, booths=booths)


def job(key: str, work: int = 60, **more: object) -> Job:
    plain: dict[str, object] = {"after": (), "wait": 0}
    return Job(key=key, work=work, **(plain | more))  # type: ignore[arg-type]


def work_of(layout: Layout, key: str) -> tuple[tuple[int, int], ...]:
    return tuple((stretch.start, stretch.end) for stretch in layout.laid[key].work)


def test_working_days_skip_nights_lunch_days_off_and_weekends() -> None:
    time = WorkTime(labour(), MONDAY)
    assert [len(time.on(day)) for day in range(8)] == [2, 2, 0, 2, 1, 0, 0, 2]
    assert time.date(2) == date(2025, 3, 5)
    undated = WorkTime(labour(), None)
    assert [len(undated.on(day)) for day in range(8)] == [2, 2, 2, 2, 1, 0, 0, 2]
    assert undated.date(2) is None


def test_work_stops_at_lunch_and_at_night_and_goes_on() -> None:
    layout = laid(job("a", 600))
    assert work_of(layout, "a") == (
        (at(1, "08:00"), at(1, "12:00")),
        (at(1, "13:00"), at(1, "17:00")),
        (at(2, "08:00"), at(2, "10:00")),
    )


def test_work_begins_no_earlier_than_the_start() -> None:
    layout = laid(job("a"), start=datetime(2025, 3, 3, 16, 30))
    assert work_of(layout, "a") == (
        (at(1, "16:30"), at(1, "17:00")),
        (at(2, "08:00"), at(2, "08:30")),
    )


def test_same_day_work_that_no_longer_fits_begins_the_next_working_day() -> None:
    layout = laid(job("a", 60, same_day=True), start=datetime(2025, 3, 4, 16, 30))
    assert work_of(layout, "a") == ((at(3, "08:00"), at(3, "09:00")),)


def test_work_in_the_booth_is_not_parted_by_a_break_where_a_stretch_holds_it() -> None:
    before_noon = datetime(2025, 3, 4, 11, 30)
    parted = laid(job("a", 60), start=before_noon).laid["a"]
    assert len(parted.work) == 2
    whole = laid(job("a", 60, booth=True), start=before_noon).laid["a"]
    assert len(whole.work) == 1
    assert whole.start == parted.work[1].start
    # Longer than any stretch of the day it is worked on through the break.
    assert len(laid(job("a", 300, booth=True), start=before_noon).laid["a"].work) > 1


def test_same_day_work_longer_than_any_day_is_told() -> None:
    layout = laid(job("a", 481, same_day=True), job("b", after=("a",)))
    assert "longer than any working day" in layout.not_laid["a"]
    assert layout.not_laid["b"] == "it comes after a, which has no place yet"
    assert laid(job("a", 480, same_day=True)).laid


def test_waiting_runs_on_overnight() -> None:
    layout = laid(job("a", 480, wait=600), job("b", after=("a",)))
    assert layout.laid["a"].until == at(2, "03:00")
    assert work_of(layout, "b") == ((at(2, "08:00"), at(2, "09:00")),)


def test_two_people_do_two_things_and_not_three() -> None:
    layout = laid(job("a"), job("b"), job("c"))
    starts = [layout.laid[key].start for key in "abc"]
    assert starts == [at(1, "08:00"), at(1, "08:00"), at(1, "09:00")]


def test_work_of_two_waits_until_both_are_free() -> None:
    layout = laid(job("a", 60), job("b", 90), job("c", people=2))
    assert layout.laid["c"].start == at(1, "09:30")


def test_more_people_than_there_are_is_told() -> None:
    assert laid(job("a", people=3)).not_laid == {"a": "it takes 3 people and the shop has 2"}


def test_one_booth_takes_one_job_also_while_it_dries() -> None:
    layout = laid(
        job("a", booth=True, booth_while_waiting=True, wait=60),
        job("b", booth=True, wait=120),
        job("c", booth=True),
    )
    assert [layout.laid[key].start for key in "abc"] == [
        at(1, "08:00"),
        at(1, "10:00"),
        at(1, "11:00"),
    ]


def test_without_a_booth_nothing_is_sprayed() -> None:
    layout = laid(job("a", booth=True), booths=0)
    assert layout.not_laid == {"a": "it needs a spray booth and the shop has none"}


def test_a_panel_has_one_thing_done_to_it_and_waits_in_peace() -> None:
    layout = laid(
        job("a", panels=("door",), wait=30), job("b", panels=("door",)), job("c", panels=("roof",))
    )
    assert layout.laid["b"].start == at(1, "09:30")
    assert layout.laid["c"].start == at(1, "08:00")


def test_nobody_works_on_another_panel_while_one_is_in_the_booth() -> None:
    layout = laid(
        job("door", booth=True, booth_while_waiting=True, wait=60, panels=("door",)),
        job("roof", panels=("roof",)),
        job("papers"),
    )
    assert layout.laid["roof"].start == layout.laid["door"].until == at(1, "10:00")
    assert layout.laid["papers"].start == at(1, "08:00")


def test_a_coat_waits_until_hands_are_off_the_other_panels() -> None:
    layout = laid(job("roof", 90, panels=("roof",)), job("door", booth=True, panels=("door",)))
    assert layout.laid["door"].start == layout.laid["roof"].worked


def test_a_time_that_is_not_reckoned_is_never_laid() -> None:
    layout = laid(replace(job("a"), work=None), replace(job("b"), wait=None))
    assert set(layout.not_laid.values()) == {"how long it takes could not be reckoned"}


def test_a_gap_big_enough_is_filled_by_later_work() -> None:
    """The second job waits for the first to dry; the third takes the people free meanwhile."""
    layout = laid(
        job("a", 60, wait=120, people=2), job("b", 60, after=("a",), people=2), job("c", 60)
    )
    assert layout.laid["b"].start == at(1, "11:00")
    assert layout.laid["c"].start == at(1, "09:00")


def test_a_window_opens_before_the_next_coat() -> None:
    layout = laid(job("a"), job("b", after=("a",), windows=(CoatWindow("a", 45, None),)))
    assert layout.laid["b"].start == at(1, "09:45")


def test_a_coat_that_would_dry_too_long_over_the_weekend_is_put_on_later() -> None:
    """On Friday at ten the next coat could follow on Monday alone, past the 24 h."""
    first = job("a", 60, wait=180)
    second = job("b", 60, after=("a",), windows=(CoatWindow("a", 0, 24 * 60),))
    layout = laid(first, second, start=datetime(2025, 3, 7, 10))
    monday = 3 * DAY
    assert layout.laid["a"].start >= monday + 8 * 60 - 24 * 60
    assert layout.laid["b"].start - layout.laid["a"].worked <= 24 * 60
    assert layout.missed == ()


def test_a_window_that_closes_before_it_can_be_kept_is_told_with_by_how_much() -> None:
    """The coat waits 3 h before the next may go on, whose window is open for 2 h."""
    layout = laid(
        job("a", 60, wait=180), job("b", after=("a",), windows=(CoatWindow("a", 0, 120),))
    )
    assert layout.missed == (Missed("b", "a", 120),)
    # It cannot be kept, so nothing is put off for it: lunch lies between.
    assert layout.laid["a"].start == at(1, "08:00")
    assert layout.laid["b"].start == at(1, "13:00")


def test_coats_put_on_before_the_plan_bind_it_too() -> None:
    layout = laid(
        job("a", not_before=at(1, "10:00")), job("b", begin_by=at(1, "08:30")),
        job("c", 120, people=2, begin_by=at(1, "08:30")),
    )  # fmt: skip
    assert layout.laid["a"].start == at(1, "10:00")
    assert layout.missed == (Missed("c", None, at(1, "11:00") - at(1, "08:30")),)


def test_no_working_day_left_is_refused() -> None:
    closed = replace(labour(), week=((),) * 7)
    with pytest.raises(ReckoningError, match="no working day is left"):
        lay([job("a")], WorkTime(closed, MONDAY), people=1, booths=1)


# --- whole plans ------------------------------------------------------------------------------


def test_the_plan_is_laid_on_the_calendar_by_its_longest_times() -> None:
    plan = planned(TWO)
    calendar = plan.calendar
    assert calendar is not None
    layout = calendar.layout
    assert work_of(layout, "wash") == ((at(1, "08:00"), at(1, "09:00")),)
    # Strip takes up to 4 h on 2 m2 and runs over lunch; one person sands meanwhile.
    assert work_of(layout, "strip: roof")[-1][1] == at(1, "14:00")
    assert work_of(layout, "sand: left door") == ((at(1, "09:00"), at(1, "09:55")),)
    assert layout.end > calendar.at_best.end
    assert not plan.conflicts


def test_painting_needs_both_people_and_one_day() -> None:
    layout = planned(TWO).calendar
    assert layout is not None
    paint = layout.layout.laid["spray-paint: roof, left door"]
    assert paint.job.people == 2
    assert paint.start // DAY == (paint.worked - 1) // DAY


def test_a_primer_window_that_the_masking_outlasts_is_told(tmp_path: Path) -> None:
    """A mask of 20 h takes until Friday noon, paint follows on Monday: too late for 24 h."""
    long = {"mask: {fixed: 2 h}": "mask: {fixed: 20 h}"}
    ruleset = changed(tmp_path / "a", labour=long)
    plan = planned(TWO, ruleset=ruleset)
    assert {each.about for each in plan.conflicts} == {"Paint (roof, left door)"}
    assert all("too late after Primer. Scuff it." in each.text for each in plan.conflicts)
    wide = changed(tmp_path / "b", labour=long, products={"closes: 24 h": "closes: 180 h"})
    assert planned(TWO, ruleset=wide).conflicts == ()


def test_work_within_a_time_is_kept_or_told(tmp_path: Path) -> None:
    within = "    within: {after: degrease, time: 1 h, otherwise: Clean it again.}\n    booth"
    steps = {"    booth: while-working": within + ": while-working"}
    ruleset = changed(tmp_path / "a", **{"steps/all": steps})
    plan = planned("left door: {finish: dull, area: 1 m2}", ruleset=ruleset)
    assert plan.conflicts == ()
    waiting = {**steps, "text: Degrease it.": "text: Degrease it.\n    waits: 2 h"}
    ruleset = changed(tmp_path / "b", **{"steps/all": waiting})
    plan = planned("left door: {finish: dull, area: 1 m2}", ruleset=ruleset)
    assert [each.text for each in plan.conflicts] == [
        # Degreased by 10:01 and dry at 12:01, it is primed after lunch, at 13:00 for 11:01.
        "begins 1.98 h too late after Degrease. Clean it again."
    ]


def test_a_coat_someone_else_went_over_binds_no_longer() -> None:
    """The roof is primed whole; its paint goes over that alone, the door's over the spots."""
    coats = planned(TWO).task("spray-paint: roof, left door").coats
    assert {(coat.what, coat.panel, coat.key) for coat in coats} == {
        ("Primer", "left door", "spot-prime: left door"),
        ("Primer", "roof", "spray-primer: roof"),
    }


def test_without_a_start_work_begins_on_a_monday_without_a_date() -> None:
    plan = planned(TWO, start=None)
    assert plan.calendar is not None
    assert plan.calendar.worktime.date(0) is None
    assert any("begins on a Monday" in each.text for each in plan.assumptions)


def test_a_shop_without_a_booth_books_the_place_to_spray() -> None:
    plan = planned(TWO, shop="surface-temperature: 20 degC, spray-booth: no")
    assert plan.conflicts == ()
    assert any("takes one job at a time" in each.text for each in plan.assumptions)


def test_what_follows_unreckoned_work_is_counted_not_guessed() -> None:
    plan = planned("lid: {finish: dull}")
    assert [each.text for each in plan.conflicts] == [
        "not on the calendar: how long it takes could not be reckoned",
        "6 later tasks have no place on it for the same reason",
    ]


def test_minutes_are_rounded_up() -> None:
    assert WorkTime(labour(), MONDAY).work(0, 1, same_day=False) == (Stretch(480, 481),)
    plan = planned("left door: {finish: dull, area: 1.01 m2}")
    assert plan.calendar is not None
    sand = plan.calendar.layout.laid["sand: left door"].job.work
    assert sand == 56
    assert plan.task("sand: left door").times.hands_on is not None
    assert plan.task("sand: left door").times.hands_on.high == F(15, 60) + F(404, 600)
