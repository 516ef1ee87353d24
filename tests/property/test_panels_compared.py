"""A fact reckoned from other panels, held to its definition and its questions to completions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import product
from statistics import median
from typing import Any

from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import HERE, LIMITS, SOURCE, SURVEYS, as_rule_set, thorough

from engine.facts import FactValue, JobFacts, Told
from engine.quantity import Kind
from engine.reasoning.asking import Inquiry
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN
from engine.reasoning.program import compile_ruleset
from engine.ruleset.model import (
    About,
    All,
    Choice,
    FactKind,
    FactSpec,
    Leaf,
    Limit,
    Rule,
    RuleSet,
    Then,
)
from engine.ruleset.model import Test as LeafTest

READINGS, SUBSTRATE, PART = "film.readings", "substrate", "part"
TYPICAL, REFERENCE = "film.typical", "film.reference"
MOST_COMPLETIONS = 600


def _told(id_: str, kind: FactKind, **more: Any) -> FactSpec:
    return FactSpec(id_, About.PANEL, kind, HERE, id_, **more)


def _reckoned(id_: str) -> FactSpec:
    thickness = {"quantity": Kind.THICKNESS, "reckoned": id_}
    return FactSpec(id_, About.PANEL, FactKind.QUANTITY, HERE, id_, **thickness)


CHOICES = (Choice("a", "a"), Choice("b", "b"))
FACTS = {
    spec.id: spec
    for spec in (
        _told(READINGS, FactKind.LIST, quantity=Kind.THICKNESS),
        _told(SUBSTRATE, FactKind.CHOICE, choices=CHOICES),
        _told(PART, FactKind.CHOICE, choices=CHOICES, assume="a"),
        _reckoned(TYPICAL),
        _reckoned(REFERENCE),
    )
}
VALUES: dict[str, tuple[FactValue, ...]] = {READINGS: SURVEYS, SUBSTRATE: ("a", "b")}


@st.composite
def rule_sets(draw: st.DrawFn) -> RuleSet:
    """A few rules that test what a panel and its like carry, and what it is made of."""
    tests = st.sampled_from((LeafTest.ABOVE, LeafTest.AT_LEAST, LeafTest.BELOW, LeafTest.AT_MOST))
    film = st.builds(
        lambda fact, test, limit: Leaf(fact, test, limit, HERE),
        st.sampled_from((REFERENCE, REFERENCE, TYPICAL)),
        tests,
        st.sampled_from(LIMITS),
    )
    metal = st.sampled_from("ab").map(
        lambda word: Leaf(SUBSTRATE, LeafTest.IS, frozenset((word,)), HERE)
    )
    known = st.sampled_from(("yes", "no")).map(
        lambda word: Leaf(REFERENCE, LeafTest.KNOWN, word, HERE)
    )
    leaf = st.one_of(film, film, metal, known)
    rules: dict[str, Rule] = {}
    for number in range(draw(st.integers(1, 3))):
        when = All(tuple(draw(st.lists(leaf, min_size=1, max_size=2))), HERE)
        then = draw(
            st.sampled_from((Then(treatment="strip"), Then(holds=("x",)), Then(steps=("y",))))
        )
        id_ = f"rule-{number}"
        rules[id_] = Rule(id_, About.PANEL, "t", when, then, "b", SOURCE, HERE)
    any_film = All((Leaf(SUBSTRATE, LeafTest.IS, frozenset("ab"), HERE),), HERE)
    rules["keep"] = Rule(
        "keep", About.PANEL, "t", any_film, Then(treatment="sand"), "b", SOURCE, HERE
    )
    fewest = Fraction(draw(st.integers(1, 2)))
    limit = "film.panels-for-reference"
    return replace(
        as_rule_set(FACTS, rules),
        limits={limit: Limit(limit, Kind.COUNT, fewest, str(fewest), "", SOURCE, HERE)},
    )


@st.composite
def jobs(draw: st.DrawFn) -> JobFacts:
    """Two to four panels of which a few things are not told."""
    job = JobFacts("job", panels={f"p{number}": {} for number in range(draw(st.integers(2, 4)))})
    slots = [(panel, fact) for panel in job.panels for fact in VALUES]
    unknown = draw(st.sets(st.sampled_from(slots), max_size=3))
    for panel, fact in slots:
        if (panel, fact) not in unknown:
            value = draw(st.sampled_from(VALUES[fact]))
            job = job.tell("panel", panel, fact, Told(value, ""))
    for panel in job.panels:
        part = draw(st.sampled_from((None, None, "a", "b")))
        if part:
            job = job.tell("panel", panel, PART, Told(part, ""))
    return job


def untold(job: JobFacts) -> list[tuple[str, str]]:
    return [
        (panel, fact) for panel, told in job.panels.items() for fact in VALUES if fact not in told
    ]


def completions(job: JobFacts) -> Iterator[tuple[dict[tuple[str, str], FactValue], JobFacts]]:
    missing = untold(job)
    for values in product(*(VALUES[fact] for _, fact in missing)):
        answers = dict(zip(missing, values, strict=True))
        full = job
        for (panel, fact), value in answers.items():
            full = full.tell("panel", panel, fact, Told(value, ""))
        yield answers, full


def truths(evaluation: Evaluation) -> dict[tuple[str, str], Any]:
    return {
        (name, compiled.rule.id): panel.truths[compiled.index]
        for name, panel in evaluation.panels.items()
        for compiled in evaluation.program.rules
    }


def typical(job: JobFacts, panel: str) -> Fraction:
    readings: Any = job.panels[panel][READINGS].value
    return median([sum(spot, Fraction(0)) / len(spot) for spot in readings])


def kind(job: JobFacts, panel: str) -> tuple[Any, Any]:
    part = job.panels[panel].get(PART)
    return job.panels[panel][SUBSTRATE].value, part.value if part else "a"


@given(rule_sets(), jobs())
@thorough(150)
def test_the_reference_is_the_median_of_the_others_of_its_kind(
    ruleset: RuleSet, job: JobFacts
) -> None:
    assume(not untold(job))
    program = compile_ruleset.__wrapped__(ruleset)
    found = evaluate(program, job)
    fewest = ruleset.limits["film.panels-for-reference"].amount
    for panel in job.panels:
        others = [
            typical(job, other)
            for other in job.panels
            if other != panel and kind(job, other) == kind(job, panel)
        ]
        expected = median(others) if others and len(others) >= fewest else None
        subject = found.panels[panel]
        assert subject.exact.get(program.slots[REFERENCE]) == expected
        if expected is None:
            assert subject.vector[program.slots[REFERENCE]] is NOT_APPLICABLE


@given(rule_sets(), jobs())
@thorough(150)
def test_what_is_settled_stays_so_and_no_question_that_matters_is_left_out(
    ruleset: RuleSet, job: JobFacts
) -> None:
    missing = untold(job)
    count = 1
    for _, fact in missing:
        count *= len(VALUES[fact])
    assume(missing and count <= MOST_COMPLETIONS)
    inquiry = Inquiry(compile_ruleset.__wrapped__(ruleset))
    now = evaluate(inquiry.program, job)
    before = truths(now)
    ends = [
        (answers, truths(evaluate(inquiry.program, full))) for answers, full in completions(job)
    ]
    for _, end in ends:
        assert all(end[place] == truth for place, truth in before.items() if truth is not OPEN)
    asked = {(question.panel, question.fact) for question in inquiry.questions(now)}
    for unknown in missing:
        if unknown not in asked:
            assert not matters(unknown, ends, ruleset), (unknown, asked)


def matters(unknown: tuple[str, str], ends: list[Any], ruleset: RuleSet) -> bool:
    """Whether two completions that differ in one answer alone end in different outcomes."""
    seen: dict[object, object] = {}
    for answers, end in ends:
        others = tuple((key, value) for key, value in answers.items() if key != unknown)
        outcome = tuple(
            (panel, *_outcome(panel, end, ruleset))
            for panel in dict.fromkeys(panel for panel, _ in end)
        )
        if seen.setdefault(others, outcome) != outcome:
            return True
    return False


def _outcome(panel: str, end: dict[tuple[str, str], Any], ruleset: RuleSet) -> tuple[object, ...]:
    firing = [rule.then for rule in ruleset.rules.values() if end[panel, rule.id]]
    return (
        any(then.treatment == "strip" for then in firing) or "sand",
        any(then.holds for then in firing),
        any(then.steps for then in firing),
        any(then.treatment for then in firing),
    )
