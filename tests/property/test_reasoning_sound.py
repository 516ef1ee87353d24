"""What the evaluator concludes holds by definition, stays, and does not hang on any order."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import Lack, Reference
from strategies import (
    LARGE,
    SMALL,
    answers,
    as_rule_set,
    jobs,
    places,
    rule_sets,
    thorough,
    told_specs,
)

from engine.facts import JobFacts
from engine.reasoning.asking import Inquiry
from engine.reasoning.evaluate import Evaluation, evaluate, state_of
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE
from engine.reasoning.program import compile_ruleset
from engine.reasoning.second import SecondEngine, available
from engine.reasoning.settling import settle
from engine.ruleset.model import About, RuleSet

MARKS = {Lack.OPEN: OPEN, Lack.UNSURE: UNSURE, Lack.NOT_APPLICABLE: NOT_APPLICABLE}


@st.composite
def sets_and_jobs(draw: st.DrawFn, size=LARGE, most: int = 4) -> tuple[RuleSet, list[JobFacts]]:
    ruleset = draw(rule_sets(size))
    return ruleset, draw(st.lists(jobs(ruleset), min_size=1, max_size=most))


@pytest.mark.skipif(available() is not None, reason=str(available()))
@given(sets_and_jobs())
@thorough(300)
def test_the_second_engine_agrees(given_) -> None:
    ruleset, several = given_
    program = compile_ruleset.__wrapped__(ruleset)
    with SecondEngine(program) as engine:
        for job in several:
            evaluate(program, job, watch=engine.watch())


@given(sets_and_jobs())
@thorough(300)
def test_states_and_truths_are_those_of_the_definition(given_) -> None:
    ruleset, several = given_
    program = compile_ruleset.__wrapped__(ruleset)
    for job in several:
        found = evaluate(program, job)
        reference = Reference(ruleset, job, {})
        for where in (None, *job.panels):
            subject, of_panel = found.subject(where), where is not None
            for compiled in program.rules:
                if (compiled.rule.about is About.PANEL) is of_panel:
                    truth = reference.fires(where, compiled.rule)
                    assert subject.truths[compiled.index] is truth, compiled.rule.id
            for fact, slot in program.slots.items():
                about = About.PANEL if fact == "treatment" else ruleset.facts[fact].about
                if (about is About.PANEL) is of_panel:
                    state = reference.state(where, fact)
                    marked = MARKS[state] if isinstance(state, Lack) else state_of(state)
                    assert subject.vector[slot] == marked, fact


@given(sets_and_jobs(most=2), st.data())
@thorough(300)
def test_telling_what_was_open_never_turns_what_was_settled(given_, data) -> None:
    """Open: nobody told it, nothing is assumed for it yet, and it may apply; or it was refused.

    A fact that does not apply or stands assumed is settled, and "don't know" is an answer; to
    tell such a fact is to revise it.
    """
    ruleset, several = given_
    program = compile_ruleset.__wrapped__(ruleset)
    for job in several:
        before = evaluate(program, job)
        for _ in range(4):
            open_ = [
                (where, spec)
                for spec in told_specs(ruleset)
                for where in places(spec, tuple(job.panels))
                if before.subject(where).vector[program.slots[spec.id]] is OPEN
                and spec.id not in before.subject(where).pending
            ]
            if not open_:
                break
            where, spec = data.draw(st.sampled_from(open_))
            job = job.tell(str(spec.about), where, spec.id, data.draw(answers(spec)))
            after = evaluate(program, job)
            for name in (None, *job.panels):
                old, new = before.subject(name), after.subject(name)
                assert all(
                    was is None or was is now
                    for was, now in zip(old.truths, new.truths, strict=True)
                )
                assert all(
                    was is OPEN or was is UNSURE or was == now
                    for was, now in zip(old.vector, new.vector, strict=True)
                )
            before = after


@given(sets_and_jobs(SMALL, most=2), st.randoms(use_true_random=False))
@thorough(120)
def test_the_order_of_rules_and_facts_changes_nothing(given_, random: Random) -> None:
    ruleset, several = given_
    rules = list(ruleset.rules.items())
    random.shuffle(rules)
    shuffled = as_rule_set(dict(ruleset.facts), dict(rules))
    one, other = (
        Inquiry(compile_ruleset.__wrapped__(each), budget=20_000) for each in (ruleset, shuffled)
    )
    for job in several:
        sheets = [list(sheet.items()) for sheet in (job.shop, job.car)]
        panels = [(name, list(sheet.items())) for name, sheet in job.panels.items()]
        for entries in (*sheets, *(sheet for _, sheet in panels), panels):
            random.shuffle(entries)
        mixed = replace(
            job,
            shop=dict(sheets[0]),
            car=dict(sheets[1]),
            panels={name: dict(sheet) for name, sheet in panels},
        )
        first, second = evaluate(one.program, job), evaluate(other.program, mixed)
        assert outcome(first) == outcome(second)
        assert {(q.panel, q.fact, q.parts, frozenset(q.rules)) for q in one.questions(first)} == {
            (q.panel, q.fact, q.parts, frozenset(q.rules)) for q in other.questions(second)
        }


def outcome(evaluation: Evaluation) -> dict[object, object]:
    """Treatments, and the holds, cautions and steps of the rules that fire or stay open."""
    found: dict[object, object] = {}
    for where in (None, *evaluation.panels):
        subject = evaluation.subject(where)
        for compiled in evaluation.program.rules:
            truth = subject.truths[compiled.index]
            if truth is not False and (compiled.rule.about is About.PANEL) is (where is not None):
                then = compiled.rule.then
                for part in (*then.holds, *then.cautions, *then.steps):
                    found.setdefault((where, part, truth), set()).add(compiled.rule.id)
        if where is not None:
            settled = settle(evaluation.program, subject.truths)
            rules = evaluation.program.rules
            found[where] = (
                settled.treatment,
                settled.possible,
                settled.gap,
                {rules[index].rule.id for index in settled.winners},
                {
                    (rules[index].rule.id, frozenset(rules[other].rule.id for other in beaten))
                    for index, beaten in settled.losers
                },
            )
    return found


@given(sets_and_jobs(most=2))
@thorough(150)
def test_the_same_facts_give_the_same_states(given_) -> None:
    ruleset, several = given_
    program = compile_ruleset.__wrapped__(ruleset)
    again = compile_ruleset.__wrapped__(ruleset)
    for job in several:
        runs = [evaluate(program, job), evaluate(program, job), evaluate(again, job)]
        for where in (None, *job.panels):
            first, *others = (run.subject(where) for run in runs)
            for other in others:
                assert first.vector == other.vector
                assert first.truths == other.truths
                assert (first.exact, first.refused, first.pending, first.failed) == (
                    other.exact,
                    other.refused,
                    other.pending,
                    other.failed,
                )
