"""The logic that proofs rest on is the evaluator's, and what they find is what there is to find."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import LARGE, SMALL, jobs, rule_sets, thorough, told_specs, values

from engine.facts import FactValue, JobFacts, Told
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE
from engine.reasoning.program import Program, compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset import load_ruleset
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet
from engine.ruleset.names import TREATMENT
from engine.ruleset.run_cases import case_facts
from engine.supplied import supplied_ruleset_folder

z3 = pytest.importorskip("z3")

from engine.prove import prove  # noqa: E402
from engine.prove.encode import Encoding, rational  # noqa: E402
from engine.prove.witness import PANEL  # noqa: E402


def one_panel(job: JobFacts) -> JobFacts:
    """The job with its first panel alone, without an empty set, which nobody can tell."""
    (sheet, *_) = job.panels.values()
    kept = {fact: told for fact, told in sheet.items() if told.value != frozenset()}
    sheets = [
        {fact: told for fact, told in each.items() if told.value != frozenset()}
        for each in (job.shop, job.car)
    ]
    return JobFacts(job.job, *sheets, {PANEL: kept})


def pinned(encoding: Encoding, evaluation: Evaluation) -> Iterator[object]:
    """Formulas that tell exactly what the job tells, and reckon what the evaluator reckoned."""
    program, job = evaluation.program, evaluation.job
    for fact, compiled in program.facts.items():
        spec, state = compiled.spec, encoding.facts[fact]
        subject = evaluation.panels[PANEL] if spec.about is About.PANEL else evaluation.car
        if spec.told:
            sheet = job.sheet(str(spec.about), PANEL)
            told = sheet.get(fact)
            unsure = told is not None and (told.value is None or told.value in spec.not_yet)
            yield encoding.told[fact].value == (told is not None and not unsure)
            yield encoding.told[fact].unknown == unsure
            if told is not None and not unsure:
                yield from same_value(fact, spec, told.value)
        elif spec.reckoned is not None:
            found = subject.vector[compiled.slot]
            known = found is not OPEN and found is not NOT_APPLICABLE
            yield state.has == known
            yield state.na == (found is NOT_APPLICABLE)
            if known:
                yield from same_value(fact, spec, subject.exact[compiled.slot])


def same_value(fact: str, spec: FactSpec, value: FactValue) -> Iterator[object]:
    if spec.kind in (FactKind.CHOICE, FactKind.YES_NO, FactKind.SET):
        held = value if isinstance(value, frozenset) else {value}
        for choice in spec.choice_ids:
            yield z3.Bool(f"{fact}:{choice}") == (choice in held)
    elif spec.kind is FactKind.QUANTITY and isinstance(value, Fraction):
        whole = spec.quantity in ("count", "year")
        number = z3.Int(f"number {fact}") if whole else z3.Real(f"number {fact}")
        yield number == rational(value)


def disagreements(encoding: Encoding, evaluation: Evaluation) -> list[object]:
    """Formulas of which each says that a fact or rule comes out otherwise than evaluated."""
    program = evaluation.program
    found = []
    for compiled in program.rules:
        panel = compiled.rule.about is About.PANEL
        subject = evaluation.panels[PANEL] if panel else evaluation.car
        truth, formulas = subject.truths[compiled.index], encoding.rules[compiled.index]
        found.append(formulas.holds != (truth is True))
        found.append(formulas.fails != (truth is False))
    specs = {fact: compiled.spec.about for fact, compiled in program.facts.items()}
    for fact, about in {**specs, TREATMENT: About.PANEL}.items():
        subject = evaluation.panels[PANEL] if about is About.PANEL else evaluation.car
        state, formulas = subject.vector[program.slots[fact]], encoding.facts[fact]
        none = state is OPEN or state is UNSURE or state is NOT_APPLICABLE
        found.append(formulas.has == none)
        found.append(formulas.na != (state is NOT_APPLICABLE))
        found.append(formulas.unsure != (state is UNSURE))
        if isinstance(state, str):
            found += [formula != (choice == state) for choice, formula in formulas.choices.items()]
    return found


def agree(program: Program, encoding: Encoding, several: list[JobFacts]) -> None:
    solver = z3.Solver()
    solver.add(*encoding.constraints)
    for job in several:
        evaluation = evaluate(program, job)
        solver.push()
        solver.add(*pinned(encoding, evaluation))
        assert solver.check() == z3.sat, "what was evaluated cannot happen in the logic"
        solver.add(z3.Or(*disagreements(encoding, evaluation)))
        assert solver.check() == z3.unsat, solver.model()
        solver.pop()


@st.composite
def sets_and_jobs(draw: st.DrawFn) -> tuple[RuleSet, list[JobFacts]]:
    ruleset = draw(rule_sets(LARGE))
    return ruleset, draw(st.lists(jobs(ruleset, most_panels=1), min_size=1, max_size=3))


@given(sets_and_jobs())
@thorough(120)
def test_random_rules_mean_in_logic_what_they_mean_to_the_evaluator(given_) -> None:
    ruleset, several = given_
    program = compile_ruleset.__wrapped__(ruleset)
    agree(program, Encoding(program), [one_panel(job) for job in several])


def test_the_supplied_rules_mean_in_logic_what_they_mean_to_the_evaluator() -> None:
    ruleset = load_ruleset(supplied_ruleset_folder())
    program = compile_ruleset(ruleset)
    cases = [job for job in case_facts(ruleset) if len(job.panels) == 1]
    agree(program, Encoding(program), [one_panel(job) for job in cases[::9]])


def completions(ruleset: RuleSet) -> Iterator[JobFacts]:
    """Every way all facts can be told, or left out where that is possible."""
    specs = list(told_specs(ruleset))
    ways = [
        [None, *(Told(value, "") for value in values(spec) if value != frozenset())]
        for spec in specs
    ]
    for chosen in product(*ways):
        job = JobFacts("j", panels={PANEL: {}})
        for spec, told in zip(specs, chosen, strict=True):
            if told is not None:
                where = PANEL if spec.about is About.PANEL else None
                job = job.tell(str(spec.about), where, spec.id, told)
        yield job


FEW = replace(SMALL, told=3)


@given(rule_sets(FEW))
@thorough(60)
def test_a_gap_is_found_where_trying_every_car_finds_one(ruleset: RuleSet) -> None:
    program = compile_ruleset.__wrapped__(ruleset)
    below = program.readers[TREATMENT]
    there = False
    for job in completions(ruleset):
        evaluation = evaluate(program, job)
        panel = evaluation.panels[PANEL]
        told = all(
            (panel if program.facts[fact].spec.about is About.PANEL else evaluation.car).vector[
                program.slots[fact]
            ]
            not in (OPEN, UNSURE)
            for fact in below
        )
        if told and settle(program, panel.truths).gap:
            there = True
            break
    found = [finding for finding in prove(ruleset).findings if finding.code == "gap"]
    assert bool(found) == there
    for finding in found:
        assert finding.witness is not None
        evaluation = evaluate(compile_ruleset(ruleset), finding.witness.job)
        assert settle(evaluation.program, evaluation.panels[PANEL].truths).gap


@given(rule_sets(FEW))
@thorough(60)
def test_a_rule_said_never_to_fire_fires_in_no_car(ruleset: RuleSet) -> None:
    proof = prove(ruleset)
    dead = {finding.names[0] for finding in proof.findings if finding.code == "never-fires"}
    program = compile_ruleset(ruleset)
    fired: set[str] = set()
    for job in completions(ruleset):
        evaluation = evaluate(program, job)
        for compiled in program.rules:
            panel = compiled.rule.about is About.PANEL
            subject = evaluation.panels[PANEL] if panel else evaluation.car
            if subject.truths[compiled.index] is True:
                fired.add(compiled.rule.id)
    assert not dead & fired
    if not any("ever fires" in text for text in proof.not_proved):
        # Rules that fire only on an answer of "don't know" are no dead ones either.
        testing = {
            rule.id for rule in ruleset.rules.values() if "known" not in repr(rule.when).lower()
        }
        assert testing - fired <= dead | _waiting_for_unknown(ruleset)


def _waiting_for_unknown(ruleset: RuleSet) -> set[str]:
    """Rules that rest on others that test whether something is known."""
    if any("known" in repr(rule.when).lower() for rule in ruleset.rules.values()):
        return set(ruleset.rules)
    for spec in ruleset.facts.values():
        if "known" in repr((spec.ask_when, spec.refusal, spec.gathered)).lower():
            return set(ruleset.rules)
    return set()
