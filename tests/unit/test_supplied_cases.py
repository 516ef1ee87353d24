"""The worked cases of the supplied rule set: each passes, and no rule goes without."""

from __future__ import annotations

import pytest

from engine.ruleset import load_ruleset
from engine.ruleset.run_cases import coverage, run_case, run_cases
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder())


@pytest.mark.parametrize("case", RULESET.cases, ids=lambda case: case.id)
def test_case(case):
    result = run_case(RULESET, case)
    assert result.passed, f"{case.place}: " + "\n".join(result.failures)


def test_every_rule_fires_in_a_case_and_nearly_fires_in_another():
    lacking = coverage(RULESET, run_cases(RULESET))
    assert lacking.never_fired == ()
    assert lacking.never_near == ()


def test_every_treatment_hold_and_caution_is_expected_by_a_case():
    expected = [case.expect for case in RULESET.cases]

    def named(key):
        return {name for expect in expected for name in expect.get(key, ())}

    assert {expect.get("treatment") for expect in expected} >= set(RULESET.treatments)
    assert named("holds") >= set(RULESET.holds)
    assert named("cautions") >= set(RULESET.cautions)
