"""Cars of which everything is told and for which nothing is recommended all the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cached_property
from typing import Any

import z3

from engine.facts import JobFacts
from engine.prove.encode import Encoding
from engine.prove.result import ProofFinding, Witness
from engine.prove.search import Answer, Search
from engine.prove.witness import PANEL, cut, with_written
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import compile_condition
from engine.reasoning.program import Program
from engine.reasoning.settling import settle
from engine.ruleset.check_use import conditions
from engine.ruleset.depends import leaves
from engine.ruleset.logic import Said
from engine.ruleset.model import FactKind, Leaf, Test
from engine.ruleset.names import TREATMENT
from engine.ruleset.phrase import Phrases

Formula = Any
MOST_GAPS = 8


class Gaps:
    """Finds gaps, each as wide as the facts that make it one; the next lies outside it."""

    def __init__(self, program: Program, search: Search) -> None:
        self._program = program
        self._search = search
        self._below = sorted(program.readers[TREATMENT])
        self.unsettled: list[str] = []

    @property
    def _encoding(self) -> Encoding:
        return self._search.encoding

    def findings(self) -> Iterator[ProofFinding]:
        """Each gap with the tests that make it one; the next lies where they turn out otherwise."""
        whole = self._encoding.all_told(self._below)
        nothing = z3.And(self._encoding.facts[TREATMENT].na, whole)
        outside: list[Formula] = []
        for _ in range(MOST_GAPS):
            found = self._search.car(z3.And(nothing, *outside), self._is_gap)
            if found.answer is Answer.UNSETTLED:
                self.unsettled.append(f"Whether a car is left without a treatment: {found.why}.")
            if found.job is None:
                return
            tests = self._region(found.job, whole)
            yield self._gap(found.job, tests)
            outside.append(z3.Not(z3.And(*(self._formula(test) for test in tests))))
        self.unsettled.append(
            f"Whether there are more gaps: the search ended after {MOST_GAPS} of them."
        )

    def _region(self, job: JobFacts, whole: Formula) -> list[Said]:
        """Few tests that, turning out as for this car, leave any car without a treatment."""
        evaluation = evaluate(self._program, job)
        something = z3.And(whole, z3.Not(self._encoding.facts[TREATMENT].na))
        rest = sorted(self._tests(evaluation), key=self._telling)
        kept: list[Said] = []
        while self._search.possible(self._with(something, kept)) is not Answer.NONE:
            spare = self._spare(something, kept, rest)
            if spare == len(rest):
                return kept
            kept.append(rest[spare])
            rest = rest[spare + 1 :]
        return kept

    def _telling(self, test: Said) -> tuple[bool, int, bool]:
        """Which tests say most to people: on values, of the facts most rules rest on, met."""
        return test.leaf.test is not Test.KNOWN, self._tested[test.leaf.fact], test.holds

    @cached_property
    def _tested(self) -> Counter[str]:
        """How often each fact is tested."""
        return Counter(leaf.fact for leaf in self._leaves())

    def _spare(self, something: Formula, kept: list[Said], rest: list[Said]) -> int:
        """How many of the first of `rest` can go with a gap still following from the others."""
        low, high = 0, len(rest)
        while low < high:
            middle = (low + high + 1) // 2
            formula = self._with(something, kept + rest[middle:])
            if self._search.possible(formula) is Answer.NONE:
                low = middle
            else:
                high = middle - 1
        return low

    def _with(self, formula: Formula, tests: list[Said]) -> Formula:
        return z3.And(formula, *(self._formula(test) for test in tests))

    def _formula(self, test: Said) -> Formula:
        truth = self._encoding.truth(test.leaf)
        return truth.holds if test.holds else truth.fails

    def _tests(self, evaluation: Evaluation) -> Iterator[Said]:
        """Every settled test on what the treatment rests on, once each, and what is not there."""
        vector = evaluation.panels[PANEL].vector
        seen: set[object] = set()
        for leaf in (*self._there(), *self._leaves()):
            key = leaf.fact, leaf.test, leaf.operand
            if key in seen or leaf.fact not in self._below:
                continue
            seen.add(key)
            truth = compile_condition(leaf, self._program.slots)(vector)
            if truth is not None:
                yield Said(leaf, truth)

    def _there(self) -> Iterator[Leaf]:
        for fact in self._below:
            yield Leaf(fact, Test.KNOWN, "yes", self._program.facts[fact].spec.place)

    def _leaves(self) -> Iterator[Leaf]:
        for condition in conditions(self._program.ruleset):
            yield from leaves(condition)

    def _is_gap(self, evaluation: Evaluation) -> bool:
        return settle(self._program, evaluation.panels[PANEL].truths).gap

    def _gap(self, job: JobFacts, tests: list[Said]) -> ProofFinding:
        facts = tuple(dict.fromkeys(test.leaf.fact for test in tests))
        words = [
            word
            for fact in facts
            for word in self._words(fact, [test for test in tests if test.leaf.fact == fact])
        ]
        fewer, needed = cut(self._program, job, self._is_gap)
        return ProofFinding(
            "gap",
            f"no rule gives a treatment {f'where {listed_plainly(words)}' if words else 'at all'}",
            tuple(self._program.facts[fact].spec.place for fact in facts),
            facts,
            "Add a rule for it, or widen the one that should cover it.",
            Witness(with_written(self._program, fewer), needed, None),
            "nothing is recommended here",
        )

    def _words(self, fact: str, tests: list[Said]) -> list[str]:
        """What the tests leave a fact; several on a choice as the choices that are left."""
        spec, phrases = self._program.facts[fact].spec, Phrases(self._program.ruleset)
        if all(test.leaf.test is Test.KNOWN for test in tests):
            there = any((test.leaf.operand == "yes") is test.holds for test in tests)
            return [f"`{fact}` {'is told' if there else 'does not apply'}"]
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
            left = [choice for choice in spec.choice_ids if choice not in spec.not_yet]
            for test in tests:
                if isinstance(test.leaf.operand, frozenset):
                    left = [each for each in left if (each in test.leaf.operand) is test.holds]
            return [f"`{fact}` is {' or '.join(left)}"]
        return [phrases.test(test.leaf, negated=not test.holds) for test in tests]


def listed_plainly(words: list[str]) -> str:
    """`a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
