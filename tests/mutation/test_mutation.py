"""Worked cases notice when a rule is changed: a sample of every kind of change, and the list kept.

`python -m tests.mutation` shows all changes to the cases; this takes some of each kind.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder
from tests.mutation.__main__ import NO_DIFFERENCE, UNNOTICED, WANTED
from tests.mutation.mutants import Mutant, mutants
from tests.mutation.noticing import Noticing
from tests.mutation.sameness import Sameness

SAMPLE = 6
"""Mutants of each kind that are shown to the cases."""


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


@pytest.fixture(scope="module")
def all_mutants(ruleset: RuleSet) -> list[Mutant]:
    return list(mutants(ruleset))


@pytest.fixture(scope="module")
def unnoticed() -> set[str]:
    return set(UNNOTICED.read_text("utf-8").splitlines())


@pytest.fixture(scope="module")
def no_difference() -> set[str]:
    return set(NO_DIFFERENCE.read_text("utf-8").splitlines())


def test_no_mutant_is_the_rule_itself(ruleset: RuleSet, all_mutants: list[Mutant]) -> None:
    assert len({mutant.name for mutant in all_mutants}) > len(all_mutants) * 0.99
    assert all(mutant.changed != ruleset.rules[mutant.rule] for mutant in all_mutants)


def test_the_lists_kept_are_of_these_rules(
    all_mutants: list[Mutant], unnoticed: set[str], no_difference: set[str]
) -> None:
    strange = (unnoticed | no_difference) - {mutant.name for mutant in all_mutants}
    assert strange == set(), "run `python -m tests.mutation --write` to renew the lists"


def test_enough_is_noticed(
    all_mutants: list[Mutant], unnoticed: set[str], no_difference: set[str]
) -> None:
    different = [mutant for mutant in all_mutants if mutant.name not in no_difference]
    assert 1 - len(unnoticed) / len(different) >= WANTED


def test_what_is_said_to_make_no_difference_is_proved(
    ruleset: RuleSet, all_mutants: list[Mutant], no_difference: set[str]
) -> None:
    sameness = Sameness(ruleset)
    said = [mutant for mutant in all_mutants if mutant.name in no_difference]
    assert [mutant.name for mutant in said if not sameness.proved(mutant)] == []


def test_what_makes_a_difference_is_not_proved_away(
    ruleset: RuleSet, all_mutants: list[Mutant]
) -> None:
    noticing, sameness = Noticing(ruleset), Sameness(ruleset)
    noticed = [mutant for mutant in all_mutants[::150] if noticing.case_for(mutant)]
    assert len(noticed) > 20
    assert not any(sameness.proved(mutant) for mutant in noticed)


def test_a_sample_of_mutants_is_noticed(
    ruleset: RuleSet, all_mutants: list[Mutant], unnoticed: set[str], no_difference: set[str]
) -> None:
    noticing = Noticing(ruleset)
    by_kind: dict[str, list[Mutant]] = defaultdict(list)
    for mutant in all_mutants:
        if mutant.name not in unnoticed | no_difference:
            by_kind[mutant.kind].append(mutant)
    missed = [
        mutant.name
        for kind in by_kind.values()
        for mutant in kind[:: max(1, len(kind) // SAMPLE)][:SAMPLE]
        if noticing.case_for(mutant) is None
    ]
    assert missed == []


def test_without_cases_nothing_is_noticed(ruleset: RuleSet, all_mutants: list[Mutant]) -> None:
    assert Noticing(replace(ruleset, cases=())).case_for(all_mutants[0]) is None
