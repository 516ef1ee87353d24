"""What is still unknown below an open rule: the answers that could still move it.

The trace follows open states alone: from a rule to the open facts it tests, through concluded,
reckoned and gathered facts, gates and refusals, down to what a person could tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from engine.reasoning.evaluate import Evaluation, Subject
from engine.reasoning.kleene import OPEN, UNSURE, Check
from engine.reasoning.program import TREATMENT, CompiledFact, Program
from engine.reasoning.settling import still_deciding
from engine.ruleset.depends import facts_read
from engine.ruleset.model import About, Condition

Where = str | None
"""A panel's name, or None for the car and the shop."""

Unknown = tuple[Where, str]
"""Whose fact, and the id of the fact."""


_MOST_KEPT = 1_024
"""Subjects whose traces are kept."""


@dataclass(slots=True)
class Trace:
    """What lies below a rule or a fact.

    `unknowns` are in the order met; the value tells whether the fact is known to apply, so that
    its question makes sense now. `gathers`: the trace went through a fact gathered from panels.
    """

    unknowns: dict[Unknown, bool] = field(default_factory=dict)
    gathers: bool = False

    def take(self, other: Trace) -> None:
        self.unknowns.update(other.unknowns)
        self.gathers |= other.gathers


class Reads:
    """The facts each rule, gate, refusal and gathering of a program reads, in a fixed order."""

    def __init__(self, program: Program) -> None:
        specs = program.ruleset.facts.values()
        self.rules = [_reads(compiled.rule.when) for compiled in program.rules]
        self.gates = {spec.id: _reads(spec.ask_when) for spec in specs}
        self.refusals = {
            spec.id: _reads(spec.refusal.when if spec.refusal else None) for spec in specs
        }
        self.gathered = {
            spec.id: _reads(spec.gathered.condition if spec.gathered else None) for spec in specs
        }


def _reads(condition: Condition | None) -> tuple[str, ...]:
    return tuple(sorted(facts_read(condition)))


class Tracer:
    """Traces rules in evaluations of one program.

    Traces within one subject are kept as long as the tracer, by the identity of the subject, so
    that evaluations that share subjects share their traces.
    """

    def __init__(self, program: Program, reads: Reads) -> None:
        self.program = program
        self.reads = reads
        self._kept: dict[tuple[int, int], tuple[Subject, Subject, dict[str, Trace]]] = {}

    def below(self, evaluation: Evaluation, where: Where, rules: Iterable[int]) -> Trace:
        """What is unknown below open rules about one subject."""
        return Tracing(self, evaluation).rules(where, rules)

    def each(
        self, evaluation: Evaluation, where: Where, rules: Iterable[int]
    ) -> Mapping[int, Trace]:
        """The same, rule by rule."""
        tracing = Tracing(self, evaluation)
        return {index: tracing.rules(where, (index,)) for index in rules}

    def over(self, evaluation: Evaluation) -> Tracing:
        """The tracing of one evaluation, to be asked fact by fact."""
        return Tracing(self, evaluation)

    def kept(self, subject: Subject, car: Subject) -> dict[str, Trace]:
        key = (id(subject), id(car))
        if key not in self._kept:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            # The subjects are kept beside the traces, lest others are given their identity.
            self._kept[key] = (subject, car, {})
        return self._kept[key][2]


class Tracing:
    """The tracing of one evaluation."""

    def __init__(self, tracer: Tracer, evaluation: Evaluation) -> None:
        self._tracer = tracer
        self._program = tracer.program
        self._reads = tracer.reads
        self._evaluation = evaluation
        self._gathering: dict[Unknown, Trace] = {}

    def rules(self, where: Where, rules: Iterable[int]) -> Trace:
        trace = Trace()
        for index in rules:
            self._add(trace, where, self._reads.rules[index])
        return trace

    def unknown_in(self, where: Where, rule: int) -> list[str]:
        """The facts a rule about one subject tests and that are not known."""
        return self._unknown(where, self._reads.rules[rule])

    def below_fact(self, where: Where, fact: str) -> Trace:
        """What is unknown below a fact, as a rule about one subject reads it."""
        return self._fact(where if self._of_panel(fact) else None, fact)

    def _unknown(self, where: Where, facts: Iterable[str]) -> list[str]:
        vector, slots = self._evaluation.subject(where).vector, self._program.slots
        return [fact for fact in facts if (state := vector[slots[fact]]) is OPEN or state is UNSURE]

    def _add(self, trace: Trace, where: Where, facts: Iterable[str]) -> None:
        for fact in self._unknown(where, facts):
            trace.take(self.below_fact(where, fact))

    def _of_panel(self, fact: str) -> bool:
        return fact == TREATMENT or self._program.facts[fact].spec.about is About.PANEL

    def _fact(self, home: Where, fact: str) -> Trace:
        if (home, fact) in self._gathering:
            return self._gathering[home, fact]
        subject = self._evaluation.subject(home)
        kept = self._tracer.kept(subject, self._evaluation.car)
        if fact not in kept:
            trace = self._trace(home, fact, subject)
            if trace.gathers:
                # It rests on other subjects too, which may be replaced while this one stays.
                self._gathering[home, fact] = trace
                return trace
            kept[fact] = trace
        return kept[fact]

    def _trace(self, home: Where, fact: str, subject: Subject) -> Trace:
        trace = Trace()
        if fact == TREATMENT:
            for index in still_deciding(self._program.treatment_rules, subject.truths):
                self._add(trace, home, self._reads.rules[index])
            return trace
        compiled = self._program.facts[fact]
        spec = compiled.spec
        applies = compiled.gate is None or compiled.gate(subject.vector)
        if applies is None:
            self._add(trace, home, self._reads.gates[fact])
        if spec.told:
            unsure = subject.vector[compiled.slot] is UNSURE
            if compiled.refused is not None and compiled.refused(subject.vector) is None:
                self._add(trace, home, self._reads.refusals[fact])
            if fact not in subject.pending and (unsure or (spec.asked and spec.assume is None)):
                trace.unknowns[home, fact] = applies is True
        elif compiled.reckoner is not None:
            self._reckoned(trace, home, subject, compiled)
        elif compiled.gathered is not None:
            self._panels(trace, fact, compiled.gathered)
        else:
            for index, _ in compiled.concluders:
                if subject.truths[index] is None:
                    self._add(trace, home, self._reads.rules[index])
        return trace

    def _reckoned(
        self, trace: Trace, home: Where, subject: Subject, compiled: CompiledFact
    ) -> None:
        reckoner, reckoning = compiled.reckoner, compiled.reckoning
        assert reckoner is not None
        assert reckoning is not None
        also = (read for read in reckoner.also if read in self._program.slots)
        self._add(trace, home, (*reckoner.reads, *also))
        if not reckoning.compares:
            return
        trace.gathers = True
        for name, panel in self._evaluation.panels.items():
            if panel is not subject and reckoning.counts(subject, panel):
                self._add(trace, name, (*reckoner.panels, *reckoner.alike))

    def _panels(self, trace: Trace, fact: str, condition: Check) -> None:
        trace.gathers = True
        for name, panel in self._evaluation.panels.items():
            if condition(panel.vector) is None:
                self._add(trace, name, self._reads.gathered[fact])
