"""Evaluating again from an earlier evaluation comes out as evaluating from nothing."""

from __future__ import annotations

from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import SMALL, jobs, rule_sets

from engine.facts import JobFacts, Told
from engine.jobfile import read_job
from engine.reasoning.asking import Inquiry
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import Evaluation, Subject, evaluate
from engine.reasoning.program import Level, compile_ruleset
from engine.reasoning.rerun import evaluate_again
from engine.ruleset import About, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder


@cache
def inquiry() -> Inquiry:
    return inquiry_for(load_ruleset(supplied_ruleset_folder(), with_cases=False))


@cache
def told_facts() -> list[str]:
    return [spec.id for spec in inquiry().program.ruleset.facts.values() if spec.told]


def looks(subject: Subject) -> tuple[object, ...]:
    return (
        subject.vector,
        subject.truths,
        subject.exact,
        subject.refused,
        subject.pending,
        subject.failed,
    )


def assert_same(again: Evaluation, anew: Evaluation) -> None:
    assert looks(again.car) == looks(anew.car)
    assert list(again.panels) == list(anew.panels)
    for name, panel in again.panels.items():
        assert looks(panel) == looks(anew.panels[name]), name


@st.composite
def changed(draw: st.DrawFn, job: JobFacts) -> JobFacts:
    """The job with one fact told anew or withdrawn, or a panel added or taken away."""
    if draw(st.integers(0, 9)) == 0:
        names = list(job.panels)
        if names and draw(st.booleans()):
            gone = draw(st.sampled_from(names))
            kept = {name: sheet for name, sheet in job.panels.items() if name != gone}
            return JobFacts(job.job, job.shop, job.car, kept)
        sheet = job.panels[draw(st.sampled_from(names))] if names else {}
        panels = {**job.panels, f"added {len(names)}": sheet}
        return JobFacts(job.job, job.shop, job.car, panels)
    program = inquiry().program
    spec = program.facts[draw(st.sampled_from(told_facts()))].spec
    panel = None
    if spec.about is About.PANEL:
        if not job.panels:
            return job
        panel = draw(st.sampled_from(list(job.panels)))
    if spec.id in job.sheet(str(spec.about), panel) and draw(st.booleans()):
        return job.withdraw(str(spec.about), panel, spec.id)
    answers = (*inquiry().domains.of(spec.id), Told(None, "don't know"))
    return job.tell(str(spec.about), panel, spec.id, draw(st.sampled_from(answers)))


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_again_is_as_anew(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(["bookmobile.yaml", "bookmobile-open.yaml"]))
    job = read_job(demo_folder() / name, inquiry().program.ruleset)
    evaluation = evaluate(inquiry().program, job)
    for _ in range(data.draw(st.integers(1, 6))):
        job = data.draw(changed(job))
        evaluation = evaluate_again(evaluation, job)
        assert_same(evaluation, evaluate(inquiry().program, job))


@given(st.data())
def test_again_is_as_anew_by_any_rules(data: st.DataObject) -> None:
    ruleset = data.draw(rule_sets(SMALL))
    program = compile_ruleset.__wrapped__(ruleset)
    first, then = (data.draw(jobs(ruleset, most_panels=3)) for _ in range(2))
    mixed = {
        name: first.panels[name] if name in first.panels and data.draw(st.booleans()) else sheet
        for name, sheet in then.panels.items()
    }
    told = first if data.draw(st.booleans()) else then
    again = JobFacts(then.job, told.shop, told.car, mixed)
    assert_same(evaluate_again(evaluate(program, first), again), evaluate(program, again))


def test_what_nothing_changed_for_is_taken_over() -> None:
    program = inquiry().program
    job = read_job(demo_folder() / "bookmobile.yaml", program.ruleset)
    before = evaluate(program, job)
    seen: list[str | None] = []

    def watch(_: int, __: Level, ___: Subject, panel: str | None) -> None:
        seen.append(panel)

    first = next(iter(job.panels))
    after = evaluate_again(before, job.tell("panel", first, "rust", Told("none", "none")), watch)
    assert after.panels[first] is not before.panels[first]
    same = [name for name in job.panels if after.panels[name] is before.panels[name]]
    assert len(same) == len(job.panels) - 1
    assert set(seen) == {None, *job.panels}
