"""Panels that look alike share what is unknown of them, each as if looked at alone."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from strategies import SMALL, jobs, rule_sets

from engine.facts import JobFacts
from engine.reasoning.asking import Inquiry, Stake
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.program import compile_ruleset
from engine.reasoning.tracing import Reads, Tracer, Unknown
from engine.ruleset.model import RuleSet


@st.composite
def with_twins(draw: st.DrawFn) -> tuple[RuleSet, JobFacts]:
    """A job in which some panels were told exactly the same."""
    ruleset = draw(rule_sets(SMALL))
    job = draw(jobs(ruleset, most_panels=3))
    panels = dict(job.panels)
    for name in list(panels)[: draw(st.integers(1, 3))]:
        panels[f"{name} again"] = panels[name]
    order = draw(st.permutations(list(panels)))
    return ruleset, replace(job, panels={name: panels[name] for name in order})


def one_by_one(inquiry: Inquiry, evaluation: Evaluation) -> dict[Unknown, Stake]:
    found: dict[Unknown, Stake] = {}
    for where in (None, *evaluation.panels):
        tracing = Tracer(inquiry.program, Reads(inquiry.program)).over(evaluation)
        resting = inquiry._resting(evaluation, where, tracing)
        for unknown, (applies, below) in resting.items():
            found.setdefault(unknown, Stake()).add(where, below, applies)
    return found


@given(with_twins())
def test_sharing_changes_nothing(given_: tuple[RuleSet, JobFacts]) -> None:
    ruleset, job = given_
    inquiry = Inquiry(compile_ruleset.__wrapped__(ruleset))
    evaluation = evaluate(inquiry.program, job)
    shared, alone = inquiry.stakes(evaluation), one_by_one(inquiry, evaluation)
    assert dict(shared) == alone
    assert list(shared) == list(alone)
    assert inquiry.stakes(evaluation) is shared
