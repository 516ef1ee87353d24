"""Questions are exactly those whose answer can change an outcome, by trying every completion."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any

from hypothesis import assume, given
from hypothesis import strategies as st
from reference import Completion, Lack, Reference, Unknown
from strategies import SMALL, jobs, places, rule_sets, thorough, told_specs, values

from engine.facts import JobFacts, Told
from engine.reasoning.asking import Inquiry
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import OPEN, UNSURE
from engine.reasoning.program import compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset.depends import leaves
from engine.ruleset.model import FactSpec, RuleSet
from engine.ruleset.model import Test as LeafTest

MOST_COMPLETIONS = 300
BUDGET = 50_000
OPEN_TREATMENT = ("treatment", "")

Ends = dict[tuple[str | None, tuple[str, str]], Any]


class Completions:
    """Every way the answers still missing could turn out, each with what comes of it.

    A fact answered with "don't know" may yet be found out. `revisable`: that would also take back
    what a rule made of its not being known, and what is settled would no longer stay so.
    """

    def __init__(self, ruleset: RuleSet, job: JobFacts) -> None:
        self._ruleset = ruleset
        self._job = job
        known_tested = {
            leaf.fact
            for condition in _conditions(ruleset)
            for leaf in leaves(condition)
            if leaf.test is LeafTest.KNOWN
        }
        self.answers: dict[Unknown, list[Told]] = {}
        self.revisable = False
        for spec in told_specs(ruleset):
            for where in places(spec, tuple(job.panels)):
                told = job.sheet(str(spec.about), where).get(spec.id)
                unsure = told is not None and (told.value is None or told.value in spec.not_yet)
                if _settled_by(spec, told, unsure):
                    continue
                self.answers[where, spec.id] = [Told(value, "") for value in values(spec)]
                self.revisable |= unsure and spec.id in known_tested
                if unsure or spec.id in known_tested:
                    self.answers[where, spec.id].append(Told(None, ""))

    def __len__(self) -> int:
        count = 1
        for answers in self.answers.values():
            count *= len(answers)
        return count

    def ends(self) -> Iterator[tuple[Completion, Ends]]:
        for several in product(*self.answers.values()):
            completion = dict(zip(self.answers, several, strict=True))
            reference = Reference(self._ruleset, self._job, completion)
            yield (
                completion,
                {
                    (where, part): state
                    for where in (None, *self._job.panels)
                    for part, state in reference.parts(where).items()
                },
            )


def _settled_by(spec: FactSpec, told: Told | None, unsure: bool) -> bool:
    """Whether no answer is missing: it was told for good, or is never asked for."""
    if told is not None and not unsure and spec.refusal is None:
        return True
    return spec.assume is not None or (not spec.asked and not unsure)


def _conditions(ruleset: RuleSet) -> Iterator[Any]:
    for rule in ruleset.rules.values():
        yield rule.when
    for spec in ruleset.facts.values():
        yield from (spec.ask_when,) if spec.ask_when else ()
        yield from (spec.refusal.when,) if spec.refusal else ()
        yield from (spec.gathered.condition,) if spec.gathered else ()


@st.composite
def nearly_told(draw: st.DrawFn) -> tuple[RuleSet, JobFacts]:
    ruleset = draw(rule_sets(SMALL))
    return ruleset, draw(jobs(ruleset, most_panels=2, most_unknown=4))


def open_parts(evaluation: Evaluation, ends: Ends) -> set[tuple[str | None, tuple[str, str]]]:
    """The parts of the outcome that are open before anything more is told."""
    reference = Reference(evaluation.program.ruleset, evaluation.job, {})
    return {(where, part) for where, part in ends if reference.parts(where)[part] is Lack.OPEN}


@given(nearly_told())
@thorough(400)
def test_a_question_is_asked_exactly_where_its_answer_can_matter(given_) -> None:
    ruleset, job = given_
    completions = Completions(ruleset, job)
    assume(1 < len(completions) <= MOST_COMPLETIONS and not completions.revisable)
    inquiry = Inquiry(compile_ruleset.__wrapped__(ruleset), budget=BUDGET, at_once=BUDGET)
    evaluation = evaluate(inquiry.program, job)
    ended = list(completions.ends())
    still_open = open_parts(evaluation, ended[0][1])
    matters: dict[Unknown, set[str]] = {}
    for unknown in completions.answers:
        where, fact = unknown
        state = evaluation.subject(where).vector[inquiry.program.slots[fact]]
        if state not in (OPEN, UNSURE) or fact in evaluation.subject(where).pending:
            continue
        kinds = bears_on(unknown, ended, still_open)
        if kinds:
            matters[unknown] = kinds
    asked = {(q.panel, q.fact): set(q.parts) for q in inquiry.questions(evaluation)}
    assert asked == matters, (asked, matters)
    first = inquiry.next_question(evaluation)
    assert (first is None) is (not matters)
    if first is not None and first.panel is None:
        assert (first.panel, first.fact) in matters


def bears_on(unknown: Unknown, ended: list[tuple[Completion, Ends]], still_open: set) -> set[str]:
    """The kinds of outcome of which a part differs between two answers, all else alike."""
    seen: dict[object, dict[object, Any]] = {}
    found: set[str] = set()
    for completion, ends in ended:
        others = tuple(
            (other, answer.value) for other, answer in completion.items() if other != unknown
        )
        for place in still_open:
            state = ends[place]
            if state is Lack.OPEN:
                continue
            first = seen.setdefault(others, {}).setdefault(place, state)
            if first != state:
                found.add(KINDS[place[1][0]])
    return found


KINDS = {"treatment": "treatment", "holds": "hold", "cautions": "caution", "steps": "step"}


@given(nearly_told())
@thorough(400)
def test_what_is_settled_is_so_in_every_completion(given_) -> None:
    """And where no completion changes a treatment that looks open, no question bears on it."""
    ruleset, job = given_
    completions = Completions(ruleset, job)
    assume(len(completions) <= MOST_COMPLETIONS and not completions.revisable)
    inquiry = Inquiry(compile_ruleset.__wrapped__(ruleset), budget=BUDGET)
    evaluation = evaluate(inquiry.program, job)
    before = Reference(ruleset, job, {})
    ended = [ends for _, ends in completions.ends()]
    questions = inquiry.questions(evaluation)
    for where in (None, *job.panels):
        for part, state in before.parts(where).items():
            came_to = {ends[where, part] for ends in ended}
            if state is not Lack.OPEN:
                assert came_to == {state}
            if part == OPEN_TREATMENT and state is Lack.OPEN and len(came_to) == 1:
                bearing = [
                    q for q in questions if q.panel in (None, where) and "treatment" in q.parts
                ]
                assert not bearing or len(job.panels) > 1
    for name in job.panels:
        subject = evaluation.panels[name]
        settled = settle(inquiry.program, subject.truths)
        if settled.treatment is None and not settled.gap:
            came_to = {ends[name, OPEN_TREATMENT] for ends in ended} - {Lack.OPEN}
            named = {"" if end is Lack.NOT_APPLICABLE else end for end in came_to}
            assert named - {""} <= set(settled.possible)
            complete = inquiry.complete(evaluation, name)
            if complete is not None:
                then = settle(inquiry.program, complete.truths)
                assert then.gap or then.treatment in named
