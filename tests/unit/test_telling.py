"""Findings on a command line that are not written as fact and value: what they may mean."""

from __future__ import annotations

from functools import cache

import pytest

from cli.telling import told_changes
from engine.errors import InputError, PrepwrightError, UsageError
from engine.facts import JobFacts
from engine.jobfile import read_job
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder


@cache
def demo() -> tuple[RuleSet, JobFacts]:
    ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)
    return ruleset, read_job(demo_folder() / "bookmobile.yaml", ruleset)


def refused(text: str) -> PrepwrightError:
    with pytest.raises((InputError, UsageError)) as caught:
        told_changes(*demo(), [text])
    assert isinstance(caught.value, PrepwrightError)
    return caught.value


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("roof: rust bubbles", "'roof visible defects: rust-bubbles'"),
        ("roof rust bubbles", "'roof visible defects: rust-bubbles'"),
        ("bonnet clear is peeling", "'bonnet visible defects: peeling'"),
    ],
)
def test_free_words_are_offered_as_fact_and_value(said: str, written: str) -> None:
    assert written in refused(said).format_message()


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("roof: rust bubbles", "roof visible defects: rust-bubbles"),
        ("bonnet clear is peeling", "bonnet visible defects: peeling"),
    ],
)
def test_what_is_offered_can_be_taken(said: str, written: str) -> None:
    assert f"'{written}'" in refused(said).format_message()
    (change,) = told_changes(*demo(), [written])
    assert (change.panel, change.fact) == (written.split()[0], "defects")


def test_words_that_mean_nothing_are_only_refused() -> None:
    assert "write it as 'roof rust: perforated'" in refused("the dog ate it").format_message()
    assert "nothing is called `dog`" in refused("roof dog: it").format_message()
