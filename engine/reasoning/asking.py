"""Which questions can still change an outcome, in the order worth asking them.

A fact is a candidate where a rule that is still open, and whose part of the outcome is still open,
rests on it. A candidate is kept only where a witness is found: a way the other unknowns could turn
out under which two answers to it end in different outcomes. The search for a witness is exact up
to a budget of evaluations; past it the question is kept, since asking once too often is the
smaller harm.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

from engine.facts import JobFacts, Told
from engine.reasoning.components import TREATMENT_PART, Outcomes, Part, parts_of
from engine.reasoning.domains import Domains
from engine.reasoning.evaluate import Evaluation, Subject, evaluate
from engine.reasoning.kleene import OPEN, UNSURE, State
from engine.reasoning.program import Program
from engine.ruleset.model import About, Effort

BUDGET = 400
"""Evaluations spent on one candidate before it is kept without a witness."""

Where = str | None
"""A panel's name, or None for the car and the shop."""

Unknown = tuple[Where, str]

_EFFORTS = tuple(Effort)


class Verdict(Enum):
    MATTERS = "matters"
    NEVER = "never"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Question:
    """A question worth asking.

    `rules` are the open rules that rest on the answer; `parts` the kinds of outcome they bear on
    (`treatment`, `hold`, `caution`, `step`). `unsure`: it was asked and the answer was "don't
    know". `decides`: it bears on more than steps.
    """

    about: str
    panel: Where
    fact: str
    rules: tuple[str, ...]
    parts: tuple[str, ...]
    unsure: bool

    @property
    def decides(self) -> bool:
        return any(part != "step" for part in self.parts)


@dataclass(slots=True)
class _Stake:
    rules: set[int]
    parts: set[str]


_PARTS = ("treatment", "hold", "caution", "step")


@dataclass(frozen=True, eq=False)
class Inquiry:
    """Finds questions for a program; keeps what it worked out about domains and parts."""

    program: Program
    budget: int = BUDGET

    @cached_property
    def domains(self) -> Domains:
        return Domains(self.program)

    @cached_property
    def outcomes(self) -> Outcomes:
        return Outcomes(self.program)

    @cached_property
    def _fact_of_slot(self) -> dict[int, str]:
        return {slot: fact for fact, slot in self.program.slots.items()}

    def questions(self, evaluation: Evaluation) -> tuple[Question, ...]:
        """Every question that can still change an outcome, best first."""
        found = self.candidates(evaluation)
        remembered: dict[object, Verdict] = {}
        kept = [
            question
            for question in found
            if self.verdict(evaluation, question, remembered) is not Verdict.NEVER
        ]
        return tuple(self._ordered(kept))

    def next_question(
        self, evaluation: Evaluation, skip: Iterable[Unknown] = ()
    ) -> Question | None:
        """The best question that is not in `skip`, or None."""
        skipped = set(skip)
        remembered: dict[object, Verdict] = {}
        for question in self._ordered(self.candidates(evaluation)):
            if (question.panel, question.fact) in skipped:
                continue
            if self.verdict(evaluation, question, remembered) is not Verdict.NEVER:
                return question
        return None

    def candidates(self, evaluation: Evaluation) -> list[Question]:
        """Unknown facts that open rules rest on, before any search for witnesses."""
        return [
            Question(
                about=str(self.program.facts[fact].spec.about),
                panel=where,
                fact=fact,
                rules=tuple(self.program.rules[index].rule.id for index in sorted(stake.rules)),
                parts=tuple(kind for kind in _PARTS if kind in stake.parts),
                unsure=evaluation.subject(where).vector[self.program.slots[fact]] is UNSURE,
            )
            for (where, fact), stake in self.stakes(evaluation).items()
        ]

    def stakes(self, evaluation: Evaluation) -> dict[Unknown, _Stake]:
        """The open rules that rest on each unknown, and the parts of the outcome they bear on."""
        found: dict[Unknown, _Stake] = {}
        for where in (None, *evaluation.panels):
            subject = evaluation.subject(where)
            for index, kinds in self._live(where, subject).items():
                for unknown in self._unknown_below(evaluation, where, subject, index):
                    stake = found.setdefault(unknown, _Stake(set(), set()))
                    stake.rules.add(index)
                    stake.parts.update(kinds)
        return found

    def _live(self, where: Where, subject: Subject) -> dict[int, set[str]]:
        """Open rules that bear on a part of the outcome that is still open, with those parts."""
        about = About.CAR if where is None else About.PANEL
        states = self.outcomes.states(subject, about)
        live: dict[int, set[str]] = {}
        for compiled in self.program.rules:
            if subject.truths[compiled.index] is not None or compiled.rule.about is not about:
                continue
            kinds = {part[0] for part in parts_of(compiled.rule) if states[part] is None}
            if kinds:
                live[compiled.index] = kinds
        if self._treatment_open(states):
            self._add_beaters(subject, live)
        return live

    def _treatment_open(self, states: Mapping[Part, State]) -> bool:
        return TREATMENT_PART in states and states[TREATMENT_PART] is None

    def _add_beaters(self, subject: Subject, live: dict[int, set[str]]) -> None:
        for rule in self.program.treatment_rules:
            for beater in rule.beaters:
                if subject.truths[rule.index] is not False and subject.truths[beater] is None:
                    live.setdefault(beater, set()).add("treatment")

    def _unknown_below(
        self, evaluation: Evaluation, where: Where, subject: Subject, index: int
    ) -> Iterable[Unknown]:
        """Told facts, still unknown, on which the open tests of a rule rest."""
        seen: set[str] = set()
        for slot in sorted(self.program.rules[index].reads):
            name = self._fact_of_slot[slot]
            state = subject.vector[slot]
            if state is not OPEN and state is not UNSURE:
                continue
            for fact in sorted(self.program.readers[name]):
                if fact in seen:
                    continue
                seen.add(fact)
                yield from self._askable(evaluation, where, fact)

    def _askable(self, evaluation: Evaluation, where: Where, fact: str) -> Iterable[Unknown]:
        spec = self.program.facts[fact].spec
        slot = self.program.slots[fact]
        if not spec.asked or spec.assume is not None:
            return
        places: Sequence[Where] = (
            (None,)
            if spec.about is not About.PANEL
            else (where,)
            if where is not None
            else tuple(evaluation.panels)
        )
        for place in places:
            state = evaluation.subject(place).vector[slot]
            if state is OPEN or state is UNSURE:
                yield place, fact

    def _ordered(self, questions: Iterable[Question]) -> list[Question]:
        def rank(question: Question) -> tuple[object, ...]:
            spec = self.program.facts[question.fact].spec
            return (
                question.unsure,
                not spec.hazard,
                not question.decides,
                question.panel is not None,
                _EFFORTS.index(spec.effort),
                -len(question.rules),
                self.program.slots[question.fact],
            )

        return sorted(questions, key=rank)

    def complete(self, evaluation: Evaluation, panel: str) -> Subject | None:
        """One panel with every unknown answered some way; None where the budget runs out."""
        job = replace(evaluation.job, panels={panel: evaluation.job.panels[panel]})
        for _ in range(self.budget):
            end = evaluate(self.program, job)
            unknown = next(iter(self.stakes(end)), None)
            if unknown is None:
                return end.panels[panel]
            where, fact = unknown
            answer = self.domains.of(fact)[0]
            job = job.tell(str(self.program.facts[fact].spec.about), where, fact, answer)
        return None

    # --- witnesses ---------------------------------------------------------------------------

    def verdict(
        self, evaluation: Evaluation, question: Question, remembered: dict[object, Verdict]
    ) -> Verdict:
        """Whether some completion of the unknowns makes the answer matter."""
        scopes = self._scopes(evaluation, question)
        verdict = Verdict.NEVER
        for names in scopes:
            key = (
                question.panel is None,
                question.fact,
                tuple(evaluation.car.vector),
                tuple(tuple(evaluation.panels[name].vector) for name in names),
            )
            if key not in remembered:
                target = (question.panel, question.fact)
                remembered[key] = _Search(self, evaluation, names, target).verdict()
            if remembered[key] is Verdict.MATTERS:
                return Verdict.MATTERS
            if remembered[key] is Verdict.UNDECIDED:
                verdict = Verdict.UNDECIDED
        return verdict

    def _scopes(self, evaluation: Evaluation, question: Question) -> list[tuple[str, ...]]:
        """Sets of panels to complete together: one at a time, all where panels are gathered."""
        alone: list[tuple[str, ...]] = (
            [(question.panel,)]
            if question.panel is not None
            else [(name,) for name in evaluation.panels]
        )
        if not alone:
            return [()]
        if len(evaluation.panels) > 1 and self._gathers:
            return [*alone, tuple(evaluation.panels)]
        return alone

    @cached_property
    def _gathers(self) -> bool:
        return any(fact.gathered is not None for fact in self.program.facts.values())


class _Search:
    """Depth-first over completions of the unknowns, looking for two answers that end apart."""

    def __init__(
        self,
        inquiry: Inquiry,
        evaluation: Evaluation,
        panels: Sequence[str],
        target: Unknown,
    ) -> None:
        self._inquiry = inquiry
        self._program = inquiry.program
        self._job = replace(
            evaluation.job, panels={name: evaluation.job.panels[name] for name in panels}
        )
        self._target = target
        self._left = inquiry.budget
        self._cut = False

    def verdict(self) -> Verdict:
        if self._descend(self._job):
            return Verdict.MATTERS
        return Verdict.UNDECIDED if self._cut else Verdict.NEVER

    def _descend(self, job: JobFacts) -> bool:
        ends: list[tuple[Evaluation, dict[tuple[Where, Part], State]]] = []
        for answer in self._inquiry.domains.of(self._target[1]):
            if self._left <= 0:
                self._cut = True
                return False
            self._left -= 1
            end = evaluate(self._program, self._told(job, self._target, answer))
            states = self._states(end)
            if any(_apart(states, earlier) for _, earlier in ends):
                return True
            ends.append((end, states))
        if not any(None in states.values() for _, states in ends):
            return False
        choice = self._branch([end for end, _ in ends])
        if choice is None:
            self._cut = True
            return False
        return any(
            self._descend(self._told(job, choice, answer))
            for answer in self._inquiry.domains.of(choice[1])
        )

    def _told(self, job: JobFacts, unknown: Unknown, answer: Told) -> JobFacts:
        where, fact = unknown
        return job.tell(str(self._program.facts[fact].spec.about), where, fact, answer)

    def _states(self, end: Evaluation) -> dict[tuple[Where, Part], State]:
        outcomes = self._inquiry.outcomes
        found: dict[tuple[Where, Part], State] = {
            (None, part): state for part, state in outcomes.states(end.car, About.CAR).items()
        }
        for name, panel in end.panels.items():
            for part, state in outcomes.states(panel, About.PANEL).items():
                found[name, part] = state
        return found

    def _branch(self, ends: Sequence[Evaluation]) -> Unknown | None:
        """The unknown to complete next: one that the target's own rules wait for, if any."""
        fallback: Unknown | None = None
        for end in ends:
            for unknown, stake in self._inquiry.stakes(end).items():
                if unknown == self._target:
                    continue
                if any(self._sways(ends, unknown[0], index) for index in stake.rules):
                    return unknown
                fallback = fallback or unknown
        return fallback

    def _sways(self, ends: Sequence[Evaluation], where: Where, index: int) -> bool:
        """Whether the target's answer moves the truth of a rule."""
        names: Iterable[Where] = (None,)
        if self._program.rules[index].rule.about is About.PANEL:
            names = self._job.panels if where is None else (where,)
        return any(len({end.subject(name).truths[index] for end in ends}) > 1 for name in names)


def _apart(
    one: Mapping[tuple[Where, Part], State], other: Mapping[tuple[Where, Part], State]
) -> bool:
    return any(
        state is not None and other[part] is not None and state != other[part]
        for part, state in one.items()
    )
