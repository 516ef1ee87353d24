"""Runs the worked cases of a rule set, and says in plain words what happened instead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from engine.answers import read_value
from engine.errors import InputError, Problem
from engine.facts import JobFacts, Sheet, Told
from engine.quantity import Kind, show_against, to_unit
from engine.reasoning.components import TREATMENT_PART
from engine.reasoning.decide import decide, inquiry_for
from engine.reasoning.evaluate import Evaluation, Known, Subject, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.kleene import NOT_APPLICABLE, UNSURE, State, Truth
from engine.reasoning.kleene import OPEN as OPEN_STATE
from engine.reasoning.settling import settle
from engine.reasoning.witness import Verdict
from engine.ruleset.case_tests import NOTHING_SEEN, OneWay, Seen, tests_of
from engine.ruleset.cases import OPEN
from engine.ruleset.model import About, CaseSpec, FactSpec, Rule, RuleSet, Then

PANEL = "the panel"
"""What the panel of a worked case is called."""

BESIDE = "panel {} beside it"
"""What the other panels of its vehicle are called."""

_DECIMALS = re.compile(r"\d*\.(\d+)")


@dataclass(frozen=True, slots=True)
class CaseResult:
    """What came of one case. `failures` holds one explanation for each expectation not met.

    `nearness` gives, for every rule the case names as quiet and that is quiet, how many tests
    keep it from firing: 1 is a near miss. `seen` tells which tests of the rules held in it and
    which did not, as far as passing cases run before it left that to be seen.
    """

    case: CaseSpec
    failures: tuple[str, ...]
    nearness: Mapping[str, int]
    seen: Seen = NOTHING_SEEN

    @property
    def passed(self) -> bool:
        return not self.failures


@dataclass(frozen=True, slots=True)
class Coverage:
    """What the passing cases leave untested, in the order of the rule set.

    `never_fired`: no case fires the rule. `never_near`: no case keeps it quiet by a single test.
    `one_way`: tests that hold in every case, or in none, by rule.
    """

    never_fired: tuple[str, ...]
    never_near: tuple[str, ...]
    one_way: tuple[OneWay, ...] = ()


def run_cases(ruleset: RuleSet) -> list[CaseResult]:
    """Run every worked case of the rule set, in its order."""
    runner = _Runner(ruleset)
    return [runner.run(case) for case in ruleset.cases]


def first_failure(ruleset: RuleSet, cases: Iterable[CaseSpec]) -> CaseResult | None:
    """Run cases in this order until one fails; None where all of them pass."""
    runner = _Runner(ruleset)
    return next((result for case in cases if not (result := runner.run(case)).passed), None)


def coverage(ruleset: RuleSet, results: Iterable[CaseResult]) -> Coverage:
    """Which rules lack a case that fires them or a near miss, and which tests a second way."""
    fired: set[str] = set()
    near: set[str] = set()
    seen = NOTHING_SEEN
    for result in results:
        if result.passed:
            fired.update(result.case.fires)
            near.update(rule for rule, tests in result.nearness.items() if tests == 1)
            seen = seen.and_also(result.seen)
    return Coverage(
        never_fired=tuple(rule for rule in ruleset.rules if rule not in fired),
        never_near=tuple(rule for rule in ruleset.rules if rule not in near),
        one_way=tuple(tests_of(ruleset).one_way(seen)),
    )


def run_case(ruleset: RuleSet, case: CaseSpec) -> CaseResult:
    """Run one worked case. A value that cannot be read is a failure of the case."""
    return _Runner(ruleset).run(case)


def case_facts_of(ruleset: RuleSet) -> Iterator[tuple[CaseSpec, JobFacts | InputError]]:
    """Every worked case with its facts, or with what is wrong with their values."""
    runner = _Runner(ruleset)
    for case in ruleset.cases:
        try:
            yield case, runner.facts(case)
        except InputError as error:
            yield case, error


def case_facts(ruleset: RuleSet) -> Iterator[JobFacts]:
    """The facts of every worked case whose values can be read, with its panel."""
    for _, facts in case_facts_of(ruleset):
        if isinstance(facts, JobFacts):
            yield facts


_Giver = tuple[Rule, int, str | None]
"""A rule that gives something, its index, and whose truths tell whether it fires."""


class _Runner:
    """Runs the cases of one rule set; what cases share is worked out once."""

    def __init__(self, ruleset: RuleSet) -> None:
        self.ruleset = ruleset
        self.program = inquiry_for(ruleset).program
        self.tests = tests_of(ruleset)
        self.watch = self.tests.watch()
        self.index = {compiled.rule.id: compiled.index for compiled in self.program.rules}
        self.givers = {key: self._givers(key) for key in ("holds", "cautions", "steps")}
        # Cases share the values of their base, as the same objects.
        self._read: dict[tuple[str, int], Told] = {}

    def _givers(self, key: str) -> dict[str, list[_Giver]]:
        found: dict[str, list[_Giver]] = {}
        for rule in self.ruleset.rules.values():
            where = PANEL if rule.about is About.PANEL else None
            for name in _given(rule, key):
                found.setdefault(name, []).append((rule, self.index[rule.id], where))
        return found

    def run(self, case: CaseSpec) -> CaseResult:
        try:
            facts = self.facts(case)
        except InputError as error:
            return CaseResult(case, tuple(str(problem) for problem in error.problems), {})
        run = _Run(self, case, facts)
        failures = tuple(run.failures())
        seen = NOTHING_SEEN if failures else self.watch.see(run.evaluation, PANEL)
        return CaseResult(case, failures, run.nearness(), seen)

    def facts(self, case: CaseSpec) -> JobFacts:
        problems: list[Problem] = []

        def sheet(raw: Mapping[str, object]) -> Sheet:
            told: dict[str, Told] = {}
            for fact, value in raw.items():
                key = fact, id(value)
                try:
                    if key not in self._read:
                        self._read[key] = read_value(self.ruleset.facts[fact], value, case.place)
                    told[fact] = self._read[key]
                except InputError as error:
                    problems.extend(error.problems)
            return told

        # Without a panel every fact gathered over panels would be settled by there being none.
        panels = {PANEL: sheet(case.panel)}
        panels |= {BESIDE.format(n): sheet(raw) for n, raw in enumerate(case.beside, start=1)}
        facts = JobFacts(case.id, sheet(case.shop), sheet(case.car), panels)
        if problems:
            raise InputError(problems)
        return facts


class _Run:
    """One case worked through. Words are only looked for where something is not as expected."""

    def __init__(self, runner: _Runner, case: CaseSpec, facts: JobFacts) -> None:
        self._runner = runner
        self._ruleset = runner.ruleset
        self._case = case
        self.evaluation: Evaluation = evaluate(runner.program, facts)
        self._explainer = Explainer(self.evaluation)
        self._outcome = self.evaluation
        self._settled = settle(runner.program, self.evaluation.panels[PANEL].truths)
        treatment = self._settled.treatment
        if "treatment" in case.expect and treatment is None and not any(self._waits_for()):
            self._complete(facts)

    def _waits_for(self) -> Iterator[str]:
        """Facts of which some answer can change the treatment that is open."""
        inquiry, end = inquiry_for(self._ruleset), (PANEL, TREATMENT_PART)
        for unknown, stake in inquiry.stakes(self.evaluation).items():
            if end in stake.ends():
                verdict, _ = inquiry.search(self.evaluation, unknown, *end)
                if verdict is not Verdict.NEVER:
                    yield unknown[1]

    def _complete(self, facts: JobFacts) -> None:
        """Settle a treatment that looks open although no answer can change it, as `decide` does."""
        completed = inquiry_for(self._ruleset).complete(self.evaluation, PANEL)
        if completed is not None and decide(self._ruleset, facts).panels[PANEL].treatment:
            anyway = {PANEL: completed.truths}
            self._outcome = evaluate(self._runner.program, facts, anyway=anyway)
            self._settled = settle(self._runner.program, self._outcome.panels[PANEL].truths)

    def nearness(self) -> dict[str, int]:
        return {
            name: self._runner.tests.fewest(
                self._ruleset.rules[name], self.evaluation.subject(self._where(name)).vector
            )
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
        for key in ("holds", "cautions", "steps"):
            wanted, unwanted = _names(expect.get(key)), _names(expect.get(f"no-{key}"))
            if wanted or unwanted:
                there = self._there(key, (*wanted, *unwanted))
                yield from self._present(key, wanted, there)
                yield from self._absent(key, unwanted, there)
        facts = expect.get("facts")
        if isinstance(facts, Mapping):
            for name, raw in facts.items():
                yield from self._fact(str(name), raw)

    # --- rules ---------------------------------------------------------------------------------

    def _where(self, rule: str) -> str | None:
        return PANEL if self._ruleset.rules[rule].about is About.PANEL else None

    def _truth(self, rule: str) -> Truth:
        return self.evaluation.subject(self._where(rule)).truths[self._runner.index[rule]]

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
        found = self._settled.treatment or OPEN
        if found == expected:
            return
        said = f"the treatment should be {expected}, but it is {found}"
        if self._settled.treatment is None:
            possible = ", ".join(self._settled.possible) or "none"
            yield f"{said} (still possible: {possible}). {self._waiting()}"
            return
        explainer = Explainer(self._outcome)
        winners = [self._runner.program.rules[index].rule for index in self._settled.winners]
        because = " ".join(f"{r.id}: {explainer.wording.because(r, PANEL)}" for r in winners)
        why_not = "" if expected == OPEN else explainer.why_not(PANEL, expected)
        yield f"{said}. {because} {why_not}".rstrip()

    def _waiting(self) -> str:
        waiting = ", ".join(self._waits_for())
        return f"It waits for {waiting}." if waiting else "No rule decides it."

    def _there(self, key: str, names: Iterable[str]) -> dict[str, str]:
        """Those of these holds, cautions or steps that are given, each with a rule that does."""
        found: dict[str, str] = {}
        for name in names:
            for rule, index, where in self._runner.givers[key].get(name, ()):
                truth = self._outcome.subject(where).truths[index]
                if truth is True or (truth is None and rule.applies_while_open and key != "steps"):
                    found[name] = rule.id
                    break
        return found

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
        subject = self._outcome.subject(where)
        try:
            told = read_value(spec, raw, self._case.place)
        except InputError as error:
            yield from (str(problem) for problem in error.problems)
            return
        text = self._explainer.wording.state(subject, name)
        known = self._known(subject, name)
        if told.value is None:
            if known is not None:
                yield f"{name} should not be known, but it is {text}"
        elif known is None or not _agrees(spec, told, known):
            failed = subject.failed.get(name) or subject.refused.get(name)
            wanted = told.written
            if known is not None and spec.quantity is not None and told.unit is not None:
                # Both in the unit of the case and told apart, so that 130 um is not 130 um.
                text, wanted = _apart(spec.quantity, told, known) or (text, wanted)
            yield f"{name} should be {wanted}, but it is {text}" + (f": {failed}" if failed else "")

    def _known(self, subject: Subject, name: str) -> Known | None:
        slot = self._runner.program.slots[name]
        state: State = subject.vector[slot]
        if state is OPEN_STATE or state is UNSURE or state is NOT_APPLICABLE:
            return None
        return subject.exact.get(slot, state)


def _apart(kind: Kind, told: Told, found: Known) -> tuple[str, str] | None:
    if not isinstance(found, Fraction) or not isinstance(told.value, Fraction):
        return None
    return show_against(found, told.value, kind, told.unit)


_SHOULD: dict[Truth, str] = {True: "fire", False: "stay quiet", None: "be open"}
_IS: dict[Truth, str] = {True: "fires", False: "is quiet", None: "is open"}


def _names(raw: object) -> tuple[str, ...]:
    return tuple(str(name) for name in raw) if isinstance(raw, list | tuple) else ()


def _given(rule: Rule, key: str) -> tuple[str, ...]:
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


__all__ = [
    "CaseResult",
    "Coverage",
    "OneWay",
    "coverage",
    "first_failure",
    "run_case",
    "run_cases",
]
