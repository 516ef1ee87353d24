"""What may be done now and what stops the rest: order, holds, waits, recoat windows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from plan_jobs import MONDAY, changed, planned, small

from engine.errors import UsageError
from engine.plan import Plan
from engine.plan.next import Because, Blocked

ROOF = "roof: {finish: bad, dents: 2, area: 2 m2}"
DOOR = "left door: {finish: dull, area: 1 m2}"


def ready(plan: Plan) -> list[str]:
    return [each.task for each in plan.next.ready]


def blocked(plan: Plan, task: str) -> Blocked:
    return next(each for each in plan.next.blocked if each.task == task)


def done(
    *steps: tuple[str, str | None], at: datetime | None = None
) -> Mapping[tuple[str, str | None], datetime | None]:
    return dict.fromkeys(steps, at)


def test_first_comes_what_nothing_precedes() -> None:
    plan = planned(f"{ROOF}, {DOOR}")
    assert ready(plan) == ["wash"]
    by = blocked(plan, "sand: left door").by
    assert [(each.kind, each.names) for each in by] == [(Because.TASK, "wash")]
    assert by[0].text == "Wash (car) comes first"


def test_every_task_is_either_ready_or_blocked() -> None:
    plan = planned(f"{ROOF}, {DOOR}")
    named = ready(plan) + [each.task for each in plan.next.blocked]
    assert sorted(named) == sorted(task.key for task in plan.tasks)
    assert all(each.by for each in plan.next.blocked)


def test_a_hold_of_a_rule_stops_its_panel_from_its_phase_on() -> None:
    plan = planned(f"{ROOF}, {DOOR}", done=done(("wash", None)))
    assert ready(plan) == ["sand: left door"]
    by = blocked(plan, "strip: roof").by
    assert [(each.kind, each.names) for each in by] == [(Because.HOLD, "sign-off")]
    assert by[0].text == "hold `sign-off` (roof): The lead signs."


def test_a_hold_is_named_once_and_not_again_on_what_follows() -> None:
    plan = planned(ROOF)
    assert [
        task.key for task in plan.tasks for hold in task.holds if hold.topic.id == "sign-off"
    ] == ["strip: roof"]


def test_a_release_for_the_panel_or_the_car_lifts_the_hold() -> None:
    for subject in ("roof", None):
        plan = planned(ROOF, done=done(("wash", None)), released=frozenset({("sign-off", subject)}))
        assert ready(plan) == ["strip: roof"]
    other = planned(ROOF, done=done(("wash", None)), released=frozenset({("sign-off", "hood")}))
    assert ready(other) == []


def test_a_hold_the_step_always_has_needs_every_panel() -> None:
    before = done(
        *((step, panel) for step, panel in (("wash", None), ("mask", None))),
        *((step, "left door") for step in ("sand", "degrease", "spot-prime")),
        *((step, "roof door") for step in ("sand", "degrease", "spot-prime")),
    )
    panels = f"{DOOR}, roof door: {{finish: dull, area: 1 m2}}"
    half = planned(panels, done=before, released=frozenset({("air", "left door")}))
    by = blocked(half, "spray-paint: left door, roof door").by
    assert [(each.kind, each.names) for each in by] == [(Because.HOLD, "air")]
    assert "(roof door)" in by[0].text
    whole = planned(panels, done=before, released=frozenset({("air", None)}))
    assert ready(whole) == ["spray-paint: left door, roof door"]


def test_a_hold_that_names_nothing_stops_all_but_what_releases_it(tmp_path: Path) -> None:
    ruleset = changed(tmp_path / "set", **{"rules/all": {"hold: sign-off": "hold: anything"}})
    plan = planned(ROOF, ruleset=ruleset, done=done(("wash", None)))
    assert blocked(plan, "strip: roof").by[0].names == "anything"
    assert plan.task("polish: roof").holds == ()


def test_done_work_leaves_the_plan() -> None:
    plan = planned(DOOR, done=done(("wash", None), ("sand", "left door")))
    assert [task.key for task in plan.tasks][:2] == ["degrease: left door", "spot-prime: left door"]
    assert [due.key for due in plan.done] == [("wash", None), ("sand", "left door")]
    assert [each.product.id for each in plan.materials] == ["cleaner", "primer", "paint"]


def test_a_merged_task_keeps_the_panels_not_done_yet() -> None:
    plan = planned(f"{ROOF}, {DOOR}", done=done(("spray-paint", "roof")))
    assert plan.task("spray-paint: left door").task.panels == ("left door",)


PRIMED = (("wash", None), ("sand", "left door"), ("degrease", "left door"))


def primed(at: datetime | None, now: datetime | None) -> Plan:
    work = {**done(*PRIMED), ("spot-prime", "left door"): at, ("mask", None): None}
    return planned(DOOR, done=work, released=frozenset({("air", None)}), now=now, start=now)


def test_a_wait_ends_by_the_clock() -> None:
    work = {**done(*PRIMED), ("spot-prime", "left door"): MONDAY}
    early = planned(DOOR, done=work, now=MONDAY + timedelta(minutes=59))
    by = blocked(early, "mask").by
    assert [(each.kind, each.text) for each in by] == [
        (Because.WAIT, "Prime spots (left door) waits until 2025-03-03 09:00")
    ]
    late = planned(DOOR, done=work, now=MONDAY + timedelta(minutes=60))
    assert ready(late) == ["mask"]


def test_a_wait_without_a_clock_is_left_to_the_reader() -> None:
    work = {**done(*PRIMED), ("spot-prime", "left door"): None}
    plan = planned(DOOR, done=work)
    assert plan.next.ready[0].provided == ("1 h have passed since Prime spots (left door)",)


def test_a_recoat_window_opens_and_closes_by_the_clock() -> None:
    """Open from 30 min to 24 h after the primer; the ends belong to the window."""
    for hours, expected in (
        (0.49, "Primer on left door can be gone over from 2025-03-03 08:30"),
        (0.5, None),
        (24, None),
        (24.1, "Primer on left door had to be gone over by 2025-03-04 08:00. Scuff it."),
    ):
        plan = primed(MONDAY, MONDAY + timedelta(hours=hours))
        if expected is None:
            assert ready(plan) == ["spray-paint: left door"]
        else:
            by = blocked(plan, "spray-paint: left door").by
            assert [(each.kind, each.text) for each in by] == [(Because.WINDOW, expected)]


def test_a_recoat_window_without_a_clock_is_left_to_the_reader() -> None:
    plan = primed(None, None)
    assert plan.next.ready[0].provided == ("Primer on left door was done 30 min to 24 h ago",)
    assert any("the time after Primer is kept" in each.text for each in plan.assumptions)


def test_a_coat_put_on_yesterday_binds_the_calendar() -> None:
    plan = primed(MONDAY, MONDAY + timedelta(hours=25))
    assert [each.text for each in plan.conflicts] == ["begins 1 h too late after Primer. Scuff it."]


def test_an_open_panel_is_planned_as_far_as_it_is_settled() -> None:
    plan = planned(f"{DOOR}, roof: {{}}")
    assert [task.key for task in plan.tasks if "roof" in task.task.panels] == []
    assert any(
        each.about == "roof" and each.what == "treatment" and "tell finish" in each.why
        for each in plan.missing
    )


def test_nothing_due_is_an_empty_plan() -> None:
    plan = planned("roof: {}")
    assert plan.tasks == ()
    assert plan.materials == ()
    assert plan.calendar is not None
    assert plan.calendar.layout.end == 0
    assert plan.next.ready == ()
    assert small().labour is not None


def test_work_over_the_whole_car_is_offered_with_the_panels_still_undecided() -> None:
    work = done(*((step, "roof") for step in ("strip", "fill", "degrease")), ("wash", None))
    plan = planned(f"{ROOF}, door: {{}}", done=work, released=frozenset({("sign-off", None)}))
    assert plan.next.ready[0].task == "spray-primer: roof"
    assert plan.next.ready[0].provided == ("it is not wanted on door, still undecided",)


def test_times_of_several_zones_are_put_on_one_clock() -> None:
    """Primed at 08:00 in one zone is 07:00 in the zone of the shop an hour to the west."""
    east, west = timezone(timedelta(hours=1)), UTC
    work = {**done(*PRIMED), ("spot-prime", "left door"): MONDAY.replace(tzinfo=east)}
    now = MONDAY.replace(tzinfo=west) - timedelta(minutes=1)
    early = planned(DOOR, done=work, now=now, start=now)
    assert blocked(early, "mask").by[0].text == (
        "Prime spots (left door) waits until 2025-03-03 08:00"
    )
    late = now + timedelta(minutes=1)
    assert ready(planned(DOOR, done=work, now=late, start=late)) == ["mask"]


def test_times_with_and_without_a_zone_are_refused() -> None:
    work = {**done(*PRIMED), ("spot-prime", "left door"): MONDAY.replace(tzinfo=UTC)}
    with pytest.raises(UsageError, match="some times name their time zone"):
        planned(DOOR, done=work, now=MONDAY)
