"""The demonstration job shows everything the supplied rules can ask for."""

from __future__ import annotations

import pytest

from engine.decision import Decision
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@pytest.fixture(scope="module")
def decision(ruleset: RuleSet) -> Decision:
    return decide(ruleset, read_job(demo_folder() / "bookmobile.yaml", ruleset))


def test_it_is_decided_whole_over_a_dozen_panels(decision: Decision) -> None:
    assert decision.complete
    assert len(decision.panels) >= 12
    assert not decision.open_questions


def test_it_has_every_treatment(ruleset: RuleSet, decision: Decision) -> None:
    assert {panel.treatment for panel in decision.panels.values()} == set(ruleset.treatments)


@pytest.mark.parametrize("kind", ["holds", "cautions"])
def test_it_has_every_hold_and_every_caution(
    ruleset: RuleSet, decision: Decision, kind: str
) -> None:
    subjects = [decision.car, *(panel.found for panel in decision.panels.values())]
    found = {notice.topic for subject in subjects for notice in getattr(subject, kind)}
    assert found == set(getattr(ruleset, kind))
