"""A worked case is judged by what `decide` decides, although it is run in a quicker way."""

from __future__ import annotations

import pytest

from engine.reasoning.decide import decide
from engine.ruleset import load_ruleset
from engine.ruleset.run_cases import PANEL, _Run, _Runner
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder())
RUNNER = _Runner(RULESET)
TREATING = [case for case in RULESET.cases if "treatment" in case.expect]


@pytest.mark.parametrize("case", TREATING[::4], ids=lambda case: case.id)
def test_case(case):
    facts = RUNNER.facts(case)
    decision, run = decide(RULESET, facts), _Run(RUNNER, case, facts)
    panel = decision.panels[PANEL]
    assert run._settled.treatment == panel.treatment
    both = (decision.car, panel.found)
    given = {
        "holds": {hold.topic for found in both for hold in found.holds},
        "steps": {step.step for found in both for step in found.steps},
        "cautions": {caution.topic for found in both for caution in found.cautions},
    }
    for key, names in given.items():
        assert set(run._there(key, getattr(RULESET, key))) == names
    subject = run._outcome.panels[PANEL]
    for name, shown in panel.found.facts.items():
        assert run._known(subject, name) == shown.value
