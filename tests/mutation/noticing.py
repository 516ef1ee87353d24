"""Whether the worked cases notice a mutant.

A case can only notice a mutant of a rule that turns out otherwise in it, or gives something else
where it fires. Which cases those are is seen from the rule set as it is; only they are run again,
those that name the rule first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.facts import JobFacts
from engine.reasoning.evaluate import Evaluation, Subject, evaluate
from engine.reasoning.kleene import compile_condition
from engine.reasoning.program import compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset.model import About, CaseSpec, RuleSet
from engine.ruleset.run_cases import PANEL, case_facts_of, first_failure
from tests.mutation.mutants import Mutant


@dataclass(frozen=True, slots=True)
class Worked:
    """A worked case and what came of it under the rules as they are."""

    case: CaseSpec
    evaluation: Evaluation
    treatment_open: bool

    def subjects(self, about: About) -> list[Subject]:
        """What a rule is worked out for: the car, or the panel of the case and those beside it."""
        if about is not About.PANEL:
            return [self.evaluation.car]
        panels = dict(self.evaluation.panels)
        return [panels.pop(PANEL), *panels.values()]

    def names(self, rule: str) -> bool:
        """Whether the case says what becomes of the rule."""
        return rule in self.case.fires or rule in self.case.quiet or rule in self.case.open


class Noticing:
    """Shows mutants of one rule set to its worked cases."""

    def __init__(self, ruleset: RuleSet) -> None:
        self._ruleset = ruleset
        self._program = compile_ruleset(ruleset)
        self._index = {compiled.rule.id: compiled.index for compiled in self._program.rules}
        self.worked = [
            self._work(case, facts)
            for case, facts in case_facts_of(ruleset)
            if isinstance(facts, JobFacts)
        ]

    def _work(self, case: CaseSpec, facts: JobFacts) -> Worked:
        evaluation = evaluate(self._program, facts)
        settled = settle(self._program, evaluation.panels[PANEL].truths)
        return Worked(case, evaluation, "treatment" in case.expect and settled.treatment is None)

    def case_for(self, mutant: Mutant) -> str | None:
        """The first case that fails under the mutant; None where every case still passes."""
        touched = []
        for worked, otherwise in self._touched(mutant):
            if otherwise and worked.names(mutant.rule):
                return worked.case.id
            touched.append(worked.case)
        failed = first_failure(mutant.in_set(self._ruleset), touched) if touched else None
        return failed.case.id if failed else None

    def touched(self, mutant: Mutant) -> list[CaseSpec]:
        """The cases in which the mutant makes the rule, or what it gives, something else."""
        return [worked.case for worked, _ in self._touched(mutant)]

    def _touched(self, mutant: Mutant) -> Iterator[tuple[Worked, bool]]:
        """Each with whether the rule itself turns out otherwise for what the case looks at."""
        original = self._ruleset.rules[mutant.rule]
        index = self._index[mutant.rule]
        same = mutant.changed.when == original.when
        holds = compile_condition(mutant.changed.when, self._program.slots)
        for worked in self.worked:
            looked_at, *others = worked.subjects(original.about)
            truth = looked_at.truths[index]
            if same:
                if any(subject.truths[index] is not False for subject in (looked_at, *others)):
                    yield worked, False
            elif holds(looked_at.vector) is not truth:
                yield worked, True
            # A treatment that is open is settled by trying the answers that are missing.
            elif (truth is None and worked.treatment_open) or any(
                holds(subject.vector) is not subject.truths[index] for subject in others
            ):
                yield worked, False
