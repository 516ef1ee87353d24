"""Cars of which everything is told and for which nothing is recommended all the same."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import z3

from engine.facts import JobFacts, Told
from engine.prove.encode import Encoding
from engine.prove.result import ProofFinding, Witness
from engine.prove.search import Answer, Search
from engine.prove.witness import PANEL, cut, with_written
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import OPEN, UNSURE, compile_condition
from engine.reasoning.program import Program
from engine.reasoning.settling import settle
from engine.ruleset.depends import leaves
from engine.ruleset.model import About, FactKind, FactSpec
from engine.ruleset.names import TREATMENT
from engine.ruleset.report import listed

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
        told = self._encoding.all_told(self._below)
        nothing = z3.And(self._encoding.facts[TREATMENT].na, told)
        outside: list[Formula] = []
        for _ in range(MOST_GAPS):
            found = self._search.car(z3.And(nothing, *outside), self._is_gap)
            if found.answer is Answer.UNSETTLED:
                self.unsettled.append(f"Whether a car is left without a treatment: {found.why}.")
            if found.job is None:
                return
            job, needed = cut(self._program, found.job, self._is_gap)
            yield self._gap(job, needed)
            outside.append(z3.Not(self._alike(job, needed)))
        self.unsettled.append(
            f"Whether there are more gaps: the search ended after {MOST_GAPS} of them."
        )

    def _is_gap(self, evaluation: Evaluation) -> bool:
        return settle(self._program, evaluation.panels[PANEL].truths).gap

    def _alike(self, job: JobFacts, needed: tuple[str, ...]) -> Formula:
        """All cars that no test on the needed facts, or on what rests on them, can tell apart."""
        evaluation = evaluate(self._program, job)
        same: list[Formula] = []
        for compiled in self._program.rules:
            for leaf in leaves(compiled.rule.when):
                if leaf.fact == TREATMENT or leaf.fact not in self._program.facts:
                    continue
                if not self._program.readers[leaf.fact] & set(needed):
                    continue
                truth = self._encoding.truth(leaf)
                spec = self._program.facts[leaf.fact].spec
                subject = evaluation.panels[PANEL] if spec.about is About.PANEL else evaluation.car
                state = subject.vector[self._program.slots[leaf.fact]]
                if state is OPEN or state is UNSURE:
                    continue
                holds = compile_condition(leaf, self._program.slots)(
                    evaluation.panels[PANEL].vector
                )
                same.append(truth.holds if holds else truth.fails)
        return z3.And(*same) if same else z3.BoolVal(True)

    # --- as findings ------------------------------------------------------------------------------

    def _gap(self, job: JobFacts, needed: tuple[str, ...]) -> ProofFinding:
        return ProofFinding(
            "gap",
            f"no rule gives a treatment {self._where(job)}",
            tuple(self._program.facts[fact].spec.place for fact in needed),
            needed,
            "Add a rule for it, or widen the one that should cover it.",
            Witness(with_written(self._program, job), needed, None),
            "nothing is recommended here",
        )

    def _where(self, job: JobFacts) -> str:
        said = [
            _said(self._program.facts[fact].spec, told)
            for _, _, fact, told in with_written(self._program, job)
        ]
        return f"where {', '.join(said)}" if said else "whatever is told"


def _said(spec: FactSpec, told: Told) -> str:
    if told.value is None:
        return f"`{spec.id}` is not known"
    if spec.kind is FactKind.SET and isinstance(told.value, frozenset):
        return f"`{spec.id}` is {listed(sorted(told.value))}"
    return f"`{spec.id}` is {told.written}"
