"""The sums of a plan without its days are those of the whole plan."""

from __future__ import annotations

import pytest

from engine.jobfile import read_job
from engine.plan import make_plan
from engine.plan.as_json import plan_json
from engine.plan.totals import totals
from engine.reasoning.decide import Assembly, decide, evaluated
from engine.ruleset.load import load_ruleset
from engine.ruleset.run_cases import case_facts
from engine.supplied import demo_folder, supplied_ruleset_folder


@pytest.fixture(scope="module")
def ruleset():
    return load_ruleset(supplied_ruleset_folder())


@pytest.fixture(scope="module")
def jobs(ruleset):
    demo = [read_job(demo_folder() / f"{name}.yaml", ruleset) for name in ("bookmobile",)]
    return [*demo, *list(case_facts(ruleset))[::23]]


def test_sums_are_those_of_the_whole_plan(ruleset, jobs):
    compared = 0
    for job in jobs:
        plan = make_plan(ruleset, decide(ruleset, job))
        found = totals(ruleset, Assembly(evaluated(ruleset, job)[0]).bare())
        assert found.person_hours == plan.hours.person_hours
        assert set(plan.hours.left_out) <= {task.key for task in plan.tasks}
        stuff = {
            str(material.get("product") or material.get("grade")): material["amount"]
            for material in plan_json(plan)["materials"]
            if material["amount"] and (material["amount"]["high"] or material.get("product"))
        }
        assert {*(id for id, _ in found.products), *found.sheets} == set(stuff)
        for material in plan.materials:
            compared += 1
            measure = material.product.handling.measured_by
            whole = plan.setting.measured(material.amount, measure)
            assert found.products[material.product.id, measure] == whole
            assert set(material.not_reckoned) <= set(found.left_out)
    assert compared > 100


def test_a_decision_without_words_decides_the_same(ruleset, jobs):
    for job in jobs:
        worded, bare = decide(ruleset, job), Assembly(evaluated(ruleset, job)[0]).bare()
        assert bare.complete == worded.complete
        for name, panel in worded.panels.items():
            assert bare.panels[name].treatment == panel.treatment
            assert bare.panels[name].gap == panel.gap
            assert bare.panels[name].found.steps == panel.found.steps
            facts = bare.panels[name].found.facts
            assert {id: fact.value for id, fact in facts.items()} == {
                id: fact.value for id, fact in panel.found.facts.items()
            }
        assert bare.car.steps == worded.car.steps
