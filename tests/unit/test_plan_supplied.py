"""The supplied rule set plans the demonstration job: nothing is left unreckoned or out of hours."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache

import pytest
from jsonschema import Draft202012Validator
from plan_jobs import MONDAY

from engine.decision import Decision
from engine.jobfile import read_job
from engine.plan import Plan, make_plan, merged
from engine.plan.holds import stops
from engine.plan.merge import Task, dues, parted
from engine.plan.worktime import DAY
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.ruleset.work import Span
from engine.supplied import demo_folder, schema_folder, supplied_ruleset_folder


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@cache
def demo(name: str) -> tuple[Decision, Plan]:
    decision = decide(supplied(), read_job(demo_folder() / name, supplied()), ask=False)
    return decision, make_plan(supplied(), decision, start=MONDAY)


def test_every_due_step_is_in_exactly_one_task() -> None:
    decision, plan = demo("bookmobile.yaml")
    due = sorted(str(each.key) for each in dues(supplied(), decision))
    assert sorted(str(part) for task in plan.tasks for part in task.task.parts) == due


def test_every_task_has_its_times_and_a_place_on_the_calendar() -> None:
    _, plan = demo("bookmobile.yaml")
    assert plan.calendar is not None
    assert plan.hours.left_out == ()
    assert plan.calendar.layout.not_laid == {}
    assert set(plan.calendar.layout.laid) == {task.key for task in plan.tasks}


def test_films_of_every_painted_panel_are_reckoned() -> None:
    _, plan = demo("bookmobile.yaml")
    coated = [each for each in plan.materials if each.product.handling.volume_solids is not None]
    assert {"basecoat", "clearcoat"} <= {each.product.id for each in coated}
    for each in coated:
        assert each.not_reckoned == ()
        assert 0 < each.amount.low <= each.amount.high
        assert all(part.cans is not None for part in each.parts)
        for part in each.parts:
            assert part.cans is not None
            assert part.cans.bought_L >= part.amount.high


def test_clear_for_the_van_by_hand() -> None:
    """Litres a m2 at 63.5 um: solids 45 % thinned by a tenth, 10 % lost, 60 % landed.

    Every panel of the van but small flaps is over the small band, so the whole lies near that.
    """
    decision, plan = demo("bookmobile.yaml")
    clear = next(each for each in plan.materials if each.product.id == "clearcoat")
    task = next(task for task in plan.tasks if task.task.step.id == "spray-clearcoat")
    areas = [plan.setting.area(panel) for panel in task.task.panels]
    total = sum(area.high for area in areas if area is not None)
    each_m2 = 63.5 * 1.1 / (10 * 45) / 0.9 / 0.6
    assert float(clear.amount.high) == pytest.approx(float(total) * each_m2, rel=0.05)
    assert decision.panels["bonnet"].treatment == "sand"


def test_nothing_is_sanded_before_wash_and_degrease() -> None:
    _, plan = demo("bookmobile.yaml")
    number = {task.key: task.number for task in plan.tasks}
    sanding = [task.number for task in plan.tasks if task.grits]
    cleaning = [n for key, n in number.items() if key.startswith(("wash", "degrease-car"))]
    assert cleaning
    assert max(cleaning) < min(sanding)
    assert plan.next.ready[0].task == plan.tasks[0].key


def test_paint_goes_on_in_the_booth_in_one_day_and_inside_its_windows() -> None:
    _, plan = demo("bookmobile.yaml")
    assert plan.calendar is not None
    assert [each for each in plan.conflicts if "too late" in each.text] == []
    sprayed = [task for task in plan.tasks if task.task.step.id.startswith("spray-")]
    assert sprayed
    for task in sprayed:
        laid = plan.calendar.layout.laid[task.key]
        if task.task.step.work.same_day:
            assert laid.start // DAY == (laid.worked - 1) // DAY


def test_nothing_is_done_to_a_vehicle_in_the_booth_but_what_it_is_there_for() -> None:
    _, plan = demo("bookmobile.yaml")
    assert plan.calendar is not None
    laid = [each for each in plan.calendar.layout.laid.values() if each.job.panels]
    sprayed = [each for each in laid if each.job.booth]
    assert sprayed
    for inside in sprayed:
        for other in laid:
            if other is not inside:
                assert all(
                    stretch.end <= inside.start or stretch.start >= inside.booth_until
                    for stretch in other.work
                ), (inside.job.key, other.job.key)
    assert any("in the booth" in each.text for each in plan.assumptions)


def test_no_day_of_the_shop_passes_without_work_on_the_van() -> None:
    """Coats held back for their windows are held back no further than they must be."""
    _, plan = demo("bookmobile.yaml")
    assert plan.calendar is not None
    for layout in (plan.calendar.layout, plan.calendar.at_best):
        days = {stretch.start // DAY for laid in layout.laid.values() for stretch in laid.work}
        idle = [day for day in range(max(days)) if day not in days and day % 7 < 5]
        assert idle == []


def test_coarse_sanding_comes_before_fine_on_every_panel() -> None:
    decision, plan = demo("bookmobile.yaml")
    number = {part: task.number for task in plan.tasks for part in task.task.parts}
    fine = ("sand-finish", "sand-ecoat", "sand-composite")
    coarse = ("feather-chips", "sand-off-chalk", "sand-out-etching", "sand-down-to-budget")
    pairs = [
        (number[one, panel], number[other, panel])
        for panel in decision.panels
        for one in coarse
        for other in fine
        if (one, panel) in number and (other, panel) in number
    ]
    assert pairs
    assert all(first < second for first, second in pairs)


def test_booth_air_and_papers_are_seen_to_before_anything_is_sprayed() -> None:
    _, plan = demo("bookmobile.yaml")
    number = {task.task.step.id: task.number for task in plan.tasks}
    first = min(task.number for task in plan.tasks if task.task.step.work.booth is not None)
    for step in ("ready-booth", "check-breathing-air", "mend-dew-margin", "respirator-papers-us"):
        assert number[step] < first, step


def test_every_coat_the_build_counts_on_is_put_on() -> None:
    """What the paint system says for a treatment is what the steps of that treatment spray."""
    _, plan = demo("bookmobile.yaml")
    assert [each for each in plan.assumptions if "the build" in each.text] == []


def test_what_a_step_of_the_car_takes_follows_the_panels_to_be_painted() -> None:
    decision, plan = demo("bookmobile.yaml")
    painted = [name for name, panel in decision.panels.items() if panel.treatment != "leave"]
    assert len(painted) == len(decision.panels) - 1
    labour = supplied().labour
    assert labour is not None
    for step in ("take-off-trim", "mask-vehicle", "refit"):
        rates = labour.times[step]
        assert rates.per_panel
        (task,) = (task for task in plan.tasks if task.task.step.id == step)
        assert task.times.hands_on == rates.fixed + rates.per_panel.times(len(painted))
    (film,) = (each for each in plan.materials if each.product.id == "masking-film")
    (use,) = (
        use
        for use in supplied().steps["mask-vehicle"].work.products
        if use.product == "masking-film"
    )
    assert use.use is not None
    assert film.amount.high >= (use.use.fixed + use.use.per_panel.times(len(painted))).high


def test_one_go_that_no_day_is_long_enough_for_is_parted() -> None:
    """Times in h of three panels against a day of 8 h: as few parts as hold, in their order."""
    spray = supplied().steps["spray-surfacer"]
    whole = Task(spray, ("left", "right", "roof", "door"), ("a-rule",))
    hours = {"left": 5, "right": 3, "roof": 2, "door": 9}

    def attended(task: Task) -> Span:
        return Span.exactly(Fraction(sum(hours[panel] for panel in task.panels)))

    parts = parted(whole, attended, Fraction(8))
    assert [part.panels for part in parts] == [("left", "right"), ("roof",), ("door",)]
    assert {part.step.id for part in parts} == {"spray-surfacer"}
    assert parted(whole, attended, Fraction(19)) == (whole,)
    assert parted(whole, lambda _: None, Fraction(1)) == (whole,)


def test_example_times_are_owned_up_to() -> None:
    _, plan = demo("bookmobile.yaml")
    assert any("example figures" in each.text for each in plan.assumptions)
    assert plan.cost.total is None
    assert plan.cost.lines[0].why == "labour.yaml gives no rate"


@pytest.mark.parametrize("name", ["bookmobile.yaml", "bookmobile-open.yaml"])
def test_the_json_form_keeps_to_the_schema(name: str) -> None:
    decision, plan = demo(name)
    schema = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(json.loads(json.dumps(merged(decision, plan))))


def test_an_open_decision_is_planned_as_far_as_it_goes() -> None:
    decision, plan = demo("bookmobile-open.yaml")
    open_panels = {name for name, panel in decision.panels.items() if panel.treatment is None}
    assert open_panels
    assert {each.about for each in plan.missing if each.what == "treatment"} == open_panels


# --- the content ------------------------------------------------------------------------------


def test_every_kind_of_grit_can_be_stepped_by_the_table() -> None:
    for step in supplied().steps.values():
        grits = step.work.grits
        if grits is not None:
            grades = [row[0] for row in supplied().tables["abrasives.p-grades"].rows]
            assert grits.start in grades, step.id
            assert grits.finish in grades, step.id


def test_films_name_products_that_can_be_reckoned() -> None:
    for step in supplied().steps.values():
        for use in step.work.products:
            handling = supplied().products[use.product].handling
            if use.as_film:
                assert handling.volume_solids is not None, (step.id, use.product)
                assert handling.drying is not None, (step.id, use.product)
            assert handling.cans, use.product
    for step in supplied().steps.values():
        if step.work.waits_for is not None:
            for product in step.work.waits_for.products:
                assert supplied().products[product].handling.drying is not None


def test_two_pack_paint_asks_for_supplied_air() -> None:
    for product in supplied().products.values():
        handling = product.handling
        if "hardener" in handling.parts or "activator" in handling.parts:
            assert "supplied-air-hood" in handling.gear, product.id


def test_every_treatment_that_paints_names_its_coats() -> None:
    coats = {name: treatment.coats for name, treatment in supplied().treatments.items()}
    assert coats == {
        "leave": None,
        "sand": "if-sanded",
        "partial-strip": "if-partly-stripped",
        "strip": "if-stripped",
        "renew": "if-stripped",
    }


def test_every_hold_stops_something() -> None:
    for hold in supplied().holds.values():
        assert any(stops(hold, step) for step in supplied().steps.values()), hold.id
        assert not all(stops(hold, step) for step in supplied().steps.values()), hold.id


def test_usual_areas_are_ranges_of_positive_areas() -> None:
    table = supplied().tables["plan.panel-areas"]
    rows = {row[0]: (Fraction(str(row[1])), Fraction(str(row[2]))) for row in table.rows}
    assert {"bonnet", "hood", "roof", "door", "wing", "fender", "bumper"} <= set(rows)
    assert all(0 < low < high for low, high in rows.values())


def test_air_is_read_just_before_each_coat_of_the_demonstration() -> None:
    """Not once in the morning; bare metal is primed within the shift it is cleaned in anyway."""
    _, plan = demo("bookmobile.yaml")
    tasks = {task.key: task for task in plan.tasks}
    sprayed = 0
    for task in plan.tasks:
        coats = [use.product for use in task.task.step.work.products if use.as_film]
        if not coats or coats == ["clearcoat"]:
            continue
        sprayed += 1
        if task.task.step.id == "prime-bare-metal":
            read = [tasks[key].task.step.work.releases for key in task.after]
            assert ("air",) in read
            continue
        hours = {"sealer": 1, "basecoat": 4, "single-stage": 4}.get(coats[0], 2)
        readings = [
            timed
            for timed in task.coats
            if timed.key and "air" in tasks[timed.key].task.step.work.releases
        ]
        assert {timed.panel for timed in readings} == set(task.task.panels)
        assert all(timed.window.closes_h == hours for timed in readings)
    assert sprayed > 5
    assert plan.conflicts == ()
