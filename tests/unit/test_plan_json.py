"""The plan inside the decision's JSON form."""

from __future__ import annotations

import json
from typing import Any

from jsonschema import Draft202012Validator
from plan_jobs import MONDAY, decided, small

from engine.plan import Progress, make_plan, merged
from engine.supplied import schema_folder

PANELS = "roof: {finish: bad, dents: 2, area: 2 m2}, left door: {finish: dull, area: 1 m2}"


def shown(progress: Progress | None = None, panels: str = PANELS) -> dict[str, Any]:
    decision = decided(panels, ruleset=small())
    plan = make_plan(small(), decision, progress=progress, start=MONDAY)
    # Through text and back: what a program reads.
    found: dict[str, Any] = json.loads(json.dumps(merged(decision, plan), allow_nan=False))
    return found


def test_it_keeps_to_the_schema_of_a_decision() -> None:
    schema = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(shown())


def test_everything_a_decision_says_is_still_said() -> None:
    plain = decided(PANELS, ruleset=small()).as_json()
    with_plan = shown()
    for key in set(plain) - {"panels", "car", "materials", "labour", "calendar"}:
        assert with_plan[key] == plain[key]
    for name, panel in plain["panels"].items():
        there = {step["step"]: step["title"] for step in panel["steps"]}
        assert {s["step"]: s["title"] for s in with_plan["panels"][name]["steps"]} == there


def test_steps_of_a_panel_name_their_task_in_working_order() -> None:
    steps = shown()["panels"]["left door"]["steps"]
    assert [step["step"] for step in steps] == [
        "sand", "degrease", "spot-prime", "spray-paint", "polish",
    ]  # fmt: skip
    assert steps[3]["task"] == "spray-paint: roof, left door"
    assert [step["number"] for step in steps] == sorted(step["number"] for step in steps)
    assert not any(step["done"] for step in steps)


def test_done_steps_are_marked_and_have_no_task() -> None:
    progress = Progress({("wash", None): None, ("sand", "left door"): None}, frozenset())
    found = shown(progress)
    first = found["panels"]["left door"]["steps"][0]
    assert (first["step"], first["done"], "task" in first) == ("sand", True, False)
    assert found["plan"]["done"] == [
        {"step": "wash", "panel": None},
        {"step": "sand", "panel": "left door"},
    ]


def test_materials_in_canonical_units_with_words_beside() -> None:
    found = shown()
    paint = next(each for each in found["materials"] if each["product"] == "paint")
    assert paint["amount"] == {
        "low": 0.733333, "high": 0.733333, "unit": "L", "text": "0.73 L",
    }  # fmt: skip
    assert [(part["part"], part["cans"]) for part in paint["parts"]] == [
        ("paint", [{"size": 0.5, "text": "0.5 L", "count": 1}]),
        ("hardener", [{"size": 0.25, "text": "0.25 L", "count": 1}]),
        ("thinner", [{"size": 1.0, "text": "1 L", "count": 1}]),
    ]
    assert paint["voc"]["high"] == 308.0
    sheets = next(each for each in found["materials"] if each["product"] == "P150")
    assert (sheets["kind"], sheets["amount"]["low"], sheets["amount"]["high"]) == ("abrasive", 2, 3)


def test_labour_calendar_and_cost() -> None:
    found = shown()
    assert found["labour"]["example"] is True
    assert found["labour"]["people"] == 2
    entries = found["calendar"]
    assert entries[0] == {
        "what": "work", "task": "wash", "number": 1, "step": "wash", "title": "Wash",
        "panels": [], "people": 1,
        "from": {"day": 1, "date": "2025-03-03", "time": "08:00"},
        "to": {"day": 1, "date": "2025-03-03", "time": "09:00"},
    }  # fmt: skip
    begins = [(entry["from"]["day"], entry["from"]["time"]) for entry in entries]
    assert begins == sorted(begins)
    assert {entry["what"] for entry in entries} == {"work", "wait"}
    assert found["plan"]["finish"]["whole"] is True
    assert found["plan"]["cost"]["total"]["unit"] == "EUR"
    assert found["plan"]["cost"]["total"]["text"].startswith("€")
    assert found["plan"]["cost"]["not_priced"] == ["putty", "primer"]


def test_tasks_carry_holds_gear_grits_and_sources() -> None:
    tasks = {task["task"]: task for task in shown()["plan"]["tasks"]}
    paint = tasks["spray-paint: roof, left door"]
    assert paint["holds"][0]["for"] == ["roof", "left door"]
    assert paint["holds"][0]["open_for"] == ["roof", "left door"]
    assert paint["products"][0]["batches"] == 3
    assert [gear["gear"] for gear in paint["gear"]] == ["hood", "mask"]
    assert tasks["sand: left door"]["grits"] == ["P80", "P150", "P320"]
    assert tasks["strip: roof"]["holds"][0]["because"] == ["It is bad."]
    assert all(task["source"] for task in tasks.values())


def test_the_same_inputs_give_the_same_bytes() -> None:
    assert json.dumps(shown()) == json.dumps(shown())
