"""Order and merging: phases, needs, before, together, and circles."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_jobs import decided, planned, small

from engine.errors import RuleSetError
from engine.plan import Plan, make_plan

TWO = "roof: {finish: bad, dents: 2, area: 2 m2}, left door: {finish: dull, area: 1 m2}"


def keys(plan: Plan) -> list[str]:
    return [task.key for task in plan.tasks]


def test_phases_come_in_order_and_the_car_stands_between_its_panels() -> None:
    assert keys(planned(TWO)) == [
        "wash",
        "sand: left door",
        "strip: roof",
        "fill: roof",
        "degrease: roof",
        "degrease: left door",
        "spot-prime: left door",
        "spray-primer: roof",
        "mask",
        "spray-paint: roof, left door",
        "polish: roof",
        "polish: left door",
        "refit",
    ]


def test_a_step_waits_only_for_what_touches_the_same_panel() -> None:
    plan = planned(TWO)
    assert plan.task("degrease: left door").after == ("sand: left door",)
    assert plan.task("degrease: roof").after == ("fill: roof",)
    assert set(plan.task("mask").after) == {"spot-prime: left door", "spray-primer: roof"}


def test_before_orders_steps_of_one_phase() -> None:
    assert "strip: roof" in planned(TWO).task("fill: roof").after


def test_needs_orders_steps_of_one_phase() -> None:
    """The rule set lists strip before fill; `needs` turns them round."""
    steps = dict(small().steps)
    steps["strip"] = replace(
        steps["strip"], work=replace(steps["strip"].work, before=(), needs=("fill",))
    )
    turned = replace(small(), steps=steps)
    plan = make_plan(turned, decided(TWO, ruleset=turned))
    assert keys(plan).index("fill: roof") < keys(plan).index("strip: roof")


def test_order_is_handed_on_through_a_step_that_is_not_due() -> None:
    steps = dict(small().steps)
    for step, needs in (("fill", ("sand",)), ("sand", ("strip",)), ("strip", ())):
        work = replace(steps[step].work, needs=needs, before=())
        steps[step] = replace(steps[step], work=work)
    turned = replace(small(), steps=steps)
    plan = make_plan(turned, decided("roof: {finish: bad, dents: 2, area: 2 m2}", ruleset=turned))
    assert "sand: roof" not in keys(plan)
    assert plan.task("fill: roof").after == ("strip: roof",)


def test_a_circle_of_steps_is_refused_with_its_steps() -> None:
    steps = dict(small().steps)
    steps["fill"] = replace(steps["fill"], work=replace(steps["fill"].work, before=("strip",)))
    circle = replace(small(), steps=steps)
    with pytest.raises(RuleSetError) as refused:
        make_plan(circle, decided(TWO, ruleset=circle))
    assert refused.value.problems[0].code == "steps-in-a-circle"
    assert "`fill` comes after `strip`" in refused.value.format_message()


def test_panels_are_merged_as_the_step_says() -> None:
    plan = planned(
        "left door: {finish: sound}, left wing: {finish: sound}, right door: {finish: sound}, "
        "roof: {finish: sound}"
    )
    assert keys(plan) == ["cover: left door, left wing", "cover: right door", "cover: roof"]


def test_a_name_with_both_sides_in_it_is_on_neither() -> None:
    plan = planned("left right thing: {finish: sound}, left door: {finish: sound}")
    assert keys(plan) == ["cover: left right thing", "cover: left door"]


def test_every_rule_that_asked_for_a_merged_task_is_kept() -> None:
    task = planned(TWO).task("spray-paint: roof, left door").task
    assert task.rules == ("bad-stripped", "dull-sanded")


def test_the_same_job_gives_the_same_plan() -> None:
    first, second = planned(TWO), planned(TWO)
    assert first.tasks == second.tasks
    assert first.calendar is not None
    assert second.calendar is not None
    assert first.calendar.layout == second.calendar.layout
