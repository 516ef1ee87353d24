"""Runs the worked cases of a rule set, and says in plain words what happened instead."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from engine.answers import read_value
from engine.decision import Decision, Notice
from engine.errors import InputError, Problem
from engine.facts import JobFacts, Sheet, Told
from engine.quantity import Kind, show_against, to_unit
from engine.reasoning.decide import decide, inquiry_for
from engine.reasoning.evaluate import Evaluation, Known, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.kleene import Truth
from engine.ruleset.cases import OPEN
from engine.ruleset.model import About, CaseSpec, FactSpec, Rule, RuleSet, Then

PANEL = "the panel"
"""What the panel of a worked case is called."""

_DECIMALS = re.compile(r"\d*\.(\d+)")


@dataclass(frozen=True, slots=True)
class CaseResult:
    """What came of one case. `failures` holds one explanation for each expectation not met.

    `nearness` gives, for every rule the case names as quiet and that is quiet, how many tests
    keep it from firing: 1 is a near miss.
    """

    case: CaseSpec
    failures: tuple[str, ...]
    nearness: Mapping[str, int]

    @property
    def passed(self) -> bool:
        return not self.failures


@dataclass(frozen=True, slots=True)
class Coverage:
    """Rules that the passing cases leave untested, in the order of the rule set.

    `never_fired`: no case fires the rule. `never_near`: no case keeps it quiet by a single test.
    """

    never_fired: tuple[str, ...]
    never_near: tuple[str, ...]


def run_cases(ruleset: RuleSet) -> list[CaseResult]:
    """Run every worked case of the rule set, in its order."""
    return [run_case(ruleset, case) for case in ruleset.cases]


def coverage(ruleset: RuleSet, results: Iterable[CaseResult]) -> Coverage:
    """Which rules lack a case that fires them or a near miss."""
    fired: set[str] = set()
    near: set[str] = set()
    for result in results:
        if result.passed:
            fired.update(result.case.fires)
            near.update(rule for rule, tests in result.nearness.items() if tests == 1)
    return Coverage(
        never_fired=tuple(rule for rule in ruleset.rules if rule not in fired),
        never_near=tuple(rule for rule in ruleset.rules if rule not in near),
    )


def run_case(ruleset: RuleSet, case: CaseSpec) -> CaseResult:
    """Run one worked case. A value that cannot be read is a failure of the case."""
    try:
        facts = _facts(ruleset, case)
    except InputError as error:
        return CaseResult(case, tuple(str(problem) for problem in error.problems), {})
    run = _Run(ruleset, case, facts)
    return CaseResult(case, tuple(run.failures()), run.nearness())


def _facts(ruleset: RuleSet, case: CaseSpec) -> JobFacts:
    problems: list[Problem] = []
    sheets: dict[str, Sheet] = {}
    for name, raw in (("shop", case.shop), ("car", case.car), ("panel", case.panel)):
        sheet: dict[str, Told] = {}
        for fact, value in raw.items():
            try:
                sheet[fact] = read_value(ruleset.facts[fact], value, case.place)
            except InputError as error:
                problems += error.problems
        sheets[name] = sheet
    if problems:
        raise InputError(problems)
    # Without a panel every fact gathered over panels would be settled by there being none.
    return JobFacts(case.id, sheets["shop"], sheets["car"], {PANEL: sheets["panel"]})


class _Run:
    """One case worked through."""

    def __init__(self, ruleset: RuleSet, case: CaseSpec, facts: JobFacts) -> None:
        self._ruleset = ruleset
        self._case = case
        self._program = inquiry_for(ruleset).program
        self._evaluation: Evaluation = evaluate(self._program, facts)
        self._explainer = Explainer(self._evaluation)
        decision = decide(ruleset, facts, ask=False)
        if "treatment" in case.expect and decision.panels[PANEL].treatment is None:
            # Only the search for questions shows that no answer can change the treatment.
            decision = decide(ruleset, facts)
        self._decision: Decision = decision

    def nearness(self) -> dict[str, int]:
        return {
            name: len(self._explainer.missing(self._ruleset.rules[name], self._where(name)))
            for name in self._case.quiet
            if self._truth(name) is False
        }

    def failures(self) -> Iterator[str]:
        yield from self._rule_failures(self._case.fires, True)
        yield from self._rule_failures(self._case.quiet, False)
        yield from self._rule_failures(self._case.open, None)
        expect = self._case.expect
        if "treatment" in expect:
            yield from self._treatment(str(expect["treatment"]))
        panel, car = self._decision.panels[PANEL].found, self._decision.car
        for key, there in (
            ("holds", _topics(panel.holds, car.holds)),
            ("cautions", _topics(panel.cautions, car.cautions)),
            ("steps", {step.step: step.rule for step in (*car.steps, *panel.steps)}),
        ):
            yield from self._present(key, _names(expect.get(key)), there)
            yield from self._absent(key, _names(expect.get(f"no-{key}")), there)
        facts = expect.get("facts")
        if isinstance(facts, Mapping):
            for name, raw in facts.items():
                yield from self._fact(str(name), raw)

    # --- rules ---------------------------------------------------------------------------------

    def _where(self, rule: str) -> str | None:
        return PANEL if self._ruleset.rules[rule].about is About.PANEL else None

    def _truth(self, rule: str) -> Truth:
        index = next(r.index for r in self._program.rules if r.rule.id == rule)
        return self._evaluation.subject(self._where(rule)).truths[index]

    def _rule_failures(self, rules: Iterable[str], expected: Truth) -> Iterator[str]:
        for name in rules:
            found = self._truth(name)
            if found is not expected:
                yield (
                    f"{name} should {_SHOULD[expected]}, but it {_IS[found]}; "
                    f"{self._turn(name, expected)}"
                )

    def _turn(self, name: str, expected: Truth) -> str:
        rule, where = self._ruleset.rules[name], self._where(name)
        if expected is None:
            return "a rule is open where a fact it tests is not known"
        tests = self._explainer.missing(rule, where, to_fire=expected)
        return f"{'to fire' if expected else 'to stay quiet'} it needs {'; and '.join(tests)}"

    # --- outcomes ------------------------------------------------------------------------------

    def _treatment(self, expected: str) -> Iterator[str]:
        panel = self._decision.panels[PANEL]
        found = panel.treatment or OPEN
        if found == expected:
            return
        said = f"the treatment should be {expected}, but it is {found}"
        if panel.treatment is None:
            possible = ", ".join(panel.possible) or "none"
            yield f"{said} (still possible: {possible}). {self._waiting()}"
            return
        because = " ".join(f"{why.rule}: {why.text}" for why in panel.because)
        why_not = "" if expected == OPEN else self._explainer.why_not(PANEL, expected)
        yield f"{said}. {because} {why_not}".rstrip()

    def _waiting(self) -> str:
        waiting = [asked.fact for asked in self._decision.questions if "treatment" in asked.parts]
        return f"It waits for {', '.join(waiting)}." if waiting else "No rule decides it."

    def _present(
        self, key: str, expected: Iterable[str], there: Mapping[str, str]
    ) -> Iterator[str]:
        for name in expected:
            if name not in there:
                yield f"the {key[:-1]} {name} should be there; {self._nearest(key, name)}"

    def _absent(self, key: str, unwanted: Iterable[str], there: Mapping[str, str]) -> Iterator[str]:
        for name in unwanted:
            if name in there:
                rule = self._ruleset.rules[there[name]]
                because = self._explainer.wording.because(rule, self._where(rule.id))
                yield f"the {key[:-1]} {name} should not be there; {rule.id} gives it: {because}"

    def _nearest(self, key: str, name: str) -> str:
        """Which rule comes nearest to giving an outcome, and what it lacks."""
        lacking = [
            (self._explainer.missing(rule, self._where(rule.id)), rule.id)
            for rule in self._ruleset.rules.values()
            if name in _given(rule, key)
        ]
        if not lacking:
            return "no rule gives it"
        tests, rule_id = min(lacking, key=lambda pair: len(pair[0]))
        return f"the nearest rule {rule_id} needs {'; and '.join(tests)}"

    # --- facts ---------------------------------------------------------------------------------

    def _fact(self, name: str, raw: object) -> Iterator[str]:
        spec = self._ruleset.facts[name]
        where = PANEL if spec.about is About.PANEL else None
        subject = self._evaluation.subject(where)
        try:
            told = read_value(spec, raw, self._case.place)
        except InputError as error:
            yield from (str(problem) for problem in error.problems)
            return
        text = self._explainer.wording.state(subject, name)
        shown = self._decision.panels[PANEL].found if where else self._decision.car
        fact = shown.facts.get(name)
        if told.value is None:
            if fact is not None:
                yield f"{name} should not be known, but it is {text}"
        elif fact is None or not _agrees(spec, told, fact.value):
            failed = subject.failed.get(name) or subject.refused.get(name)
            wanted = told.written
            if fact is not None and spec.quantity is not None and told.unit is not None:
                # Both in the unit of the case and told apart, so that 130 um is not 130 um.
                text, wanted = _apart(spec.quantity, told, fact.value) or (text, wanted)
            yield f"{name} should be {wanted}, but it is {text}" + (f": {failed}" if failed else "")


def _apart(kind: Kind, told: Told, found: Known) -> tuple[str, str] | None:
    if not isinstance(found, Fraction) or not isinstance(told.value, Fraction):
        return None
    return show_against(found, told.value, kind, told.unit)


_SHOULD: dict[Truth, str] = {True: "fire", False: "stay quiet", None: "be open"}
_IS: dict[Truth, str] = {True: "fires", False: "is quiet", None: "is open"}


def _topics(*groups: Iterable[Notice]) -> dict[str, str]:
    return {notice.topic: notice.rule for group in groups for notice in group}


def _names(raw: object) -> tuple[str, ...]:
    return tuple(str(name) for name in raw) if isinstance(raw, list | tuple) else ()


def _given(rule: Rule, key: str) -> Collection[str]:
    then: Then = rule.then
    return {"holds": then.holds, "cautions": then.cautions, "steps": then.steps}[key]


def _agrees(spec: FactSpec, told: Told, found: Known) -> bool:
    """Equal, or for a number equal to as many decimals as the case writes."""
    if not isinstance(told.value, Fraction) or not isinstance(found, Fraction):
        return told.value == found
    if told.value == found or spec.quantity is None or told.unit is None:
        return told.value == found
    decimals = _DECIMALS.search(told.written)
    if decimals is None:
        return False
    half = Fraction(1, 2 * 10 ** len(decimals.group(1)))
    wanted = to_unit(told.value, spec.quantity, told.unit)
    return abs(to_unit(found, spec.quantity, told.unit) - wanted) <= half


__all__ = ["CaseResult", "Coverage", "coverage", "run_case", "run_cases"]
