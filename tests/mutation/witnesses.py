"""Cars that tell a mutant from its rule, written as worked cases that would notice it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import yaml

from engine.prove.encode import Encoding
from engine.prove.search import Search
from engine.prove.witness import PANEL, Cars, Shows, cut, with_written, written
from engine.reasoning.evaluate import Evaluation, Subject, evaluate
from engine.reasoning.kleene import Truth, compile_condition
from engine.reasoning.program import compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset.model import About, RuleSet
from tests.mutation.mutants import Mutant
from tests.mutation.sameness import MILLISECONDS, Sameness

_SAID = {True: "fires", False: "quiet", None: "open"}


class Witnesses:
    """Looks for cars under one rule set, each with one panel and put to the evaluator."""

    def __init__(self, ruleset: RuleSet) -> None:
        self._ruleset = ruleset
        self._program = compile_ruleset(ruleset)
        self._index = {compiled.rule.id: compiled.index for compiled in self._program.rules}
        encoding = Encoding(self._program)
        self._search = Search(encoding, Cars(self._program), MILLISECONDS)
        self._sameness = Sameness(ruleset, encoding=encoding)

    def case(self, mutant: Mutant) -> dict[str, Any] | None:
        """A worked case that passes and fails under the mutant; None where no car was found."""
        shows = self._shows(mutant)
        found = self._search.car(self._sameness.difference(mutant), shows)
        if found.job is None:
            return None
        job, _ = cut(self._program, found.job, shows)
        evaluation = evaluate(self._program, with_written(self._program, job))
        (panel,) = job.panels.values()
        sheets = {
            name: {fact: written(self._ruleset.facts[fact], told) for fact, told in sheet.items()}
            for name, sheet in (("shop", job.shop), ("car", job.car), ("panel", panel))
        }
        return {
            "case": mutant.name,
            **{name: sheet for name, sheet in sheets.items() if sheet},
            **self._expected(mutant, evaluation),
        }

    def _expected(self, mutant: Mutant, evaluation: Evaluation) -> dict[str, Any]:
        truth = self._subject(mutant, evaluation).truths[self._index[mutant.rule]]
        said: dict[str, Any] = {_SAID[truth]: [mutant.rule]}
        original, changed = self._ruleset.rules[mutant.rule].then, mutant.changed.then
        expect: dict[str, Any] = {
            key: left
            for key in ("holds", "cautions", "steps")
            if (left := [n for n in getattr(original, key) if n not in getattr(changed, key)])
        }
        if original.treatment != changed.treatment:
            settled = settle(self._program, evaluation.panels[PANEL].truths)
            expect["treatment"] = settled.treatment or "open"
        if original.conclude != changed.conclude:
            expect["facts"] = dict(set(original.conclude) - set(changed.conclude))
        return {**said, **({"expect": expect} if expect else {})}

    def _subject(self, mutant: Mutant, evaluation: Evaluation) -> Subject:
        of_panel = mutant.changed.about is About.PANEL
        return evaluation.panels[PANEL] if of_panel else evaluation.car

    def _shows(self, mutant: Mutant) -> Shows:
        original, index = self._ruleset.rules[mutant.rule], self._index[mutant.rule]
        if mutant.changed.when != original.when:
            holds = compile_condition(mutant.changed.when, self._program.slots)

            def turns_out_otherwise(evaluation: Evaluation) -> bool:
                subject = self._subject(mutant, evaluation)
                return holds(subject.vector) is not subject.truths[index]

            return turns_out_otherwise
        under = compile_ruleset(mutant.in_set(self._ruleset))

        def gives_otherwise(evaluation: Evaluation) -> bool:
            other = evaluate(under, evaluation.job)
            return self._given(evaluation, self._ruleset) != self._given(other, under.ruleset)

        return gives_otherwise

    def _given(self, evaluation: Evaluation, ruleset: RuleSet) -> tuple[object, ...]:
        """All that rules come to: outcomes, what is concluded, how far down."""
        found: set[tuple[str, str]] = set()
        panel, car = evaluation.panels[PANEL], evaluation.car
        for rule in ruleset.rules.values():
            truth: Truth = (panel if rule.about is About.PANEL else car).truths[
                self._index[rule.id]
            ]
            for key in ("holds", "cautions", "steps"):
                if truth or (truth is None and rule.applies_while_open and key != "steps"):
                    found |= {(key, name) for name in getattr(rule.then, key)}
        return found, settle(evaluation.program, panel.truths).treatment, panel.vector, car.vector


def cases_yaml(cases: Iterable[dict[str, Any]]) -> str:
    """Worked cases as the text of a file of them."""
    return yaml.safe_dump({"cases": list(cases)}, sort_keys=False, allow_unicode=True, width=96)
