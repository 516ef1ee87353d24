"""Which questions can still change an outcome, in the order worth asking them.

A fact is a candidate where a rule that is still open, and whose part of the outcome is still open,
rests on it. A candidate is kept only where a witness is found: a way the other unknowns could turn
out under which two answers to it end in different outcomes. The search for a witness is exact up
to a budget of evaluations; past it the question is kept, since asking once too often is the
smaller harm. Budgets count evaluations, never time, so that the same facts always give the same
questions.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from functools import cached_property

from engine.reasoning.components import TREATMENT_PART, Outcomes, Part
from engine.reasoning.cones import Cone, Keys
from engine.reasoning.domains import Domains
from engine.reasoning.evaluate import Evaluation, Subject
from engine.reasoning.kleene import UNSURE
from engine.reasoning.program import Program
from engine.reasoning.tracing import Reads, Tracer, Tracing, Unknown, Where
from engine.reasoning.witness import Search, Verdict, completed
from engine.records import dataclass, field
from engine.ruleset.model import About, Effort, FactSpec

BUDGET = 200
"""Evaluations spent on one candidate and one part of the outcome before it is kept anyway."""

ALLOWANCE = 10_000
"""Evaluations spent on all candidates together, the best first, before the rest is kept."""

AT_ONCE = 100
"""The same while somebody waits for the next question."""

_REMEMBERED = 2_000
_EFFORTS = tuple(Effort)
_PARTS = ("treatment", "hold", "caution", "step")


@dataclass(frozen=True, slots=True)
class Question:
    """A question worth asking.

    `rules` are the open rules that rest on the answer; `parts` the kinds of outcome it can change
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
class _Below:
    """Open rules that rest on something, and the parts of the outcome each bears on."""

    rules: set[int] = field(default_factory=set)
    parts: set[tuple[Part, ...]] = field(default_factory=set)
    kinds: set[str] = field(default_factory=set)

    def add(self, rule: int, parts: tuple[Part, ...]) -> None:
        self.rules.add(rule)
        if parts not in self.parts:
            self.parts.add(parts)
            self.kinds.update(part[0] for part in parts)

    def take(self, other: _Below) -> None:
        self.rules |= other.rules
        self.parts |= other.parts
        self.kinds |= other.kinds


@dataclass(slots=True)
class Stake:
    """What hangs on one unknown: open rules, and the open parts of whose outcome.

    `applies` is False while it is open whether the fact applies at all.
    """

    applies: bool = False
    rules: set[int] = field(default_factory=set)
    _kinds: set[str] = field(default_factory=set)
    _bears: dict[Where, set[tuple[Part, ...]]] = field(default_factory=dict)

    def add(self, where: Where, below: _Below, applies: bool) -> None:
        """Let rules about `where`, each bearing on some parts of its outcome, rest on it too.

        For each `where` once.
        """
        self.applies |= applies
        self.rules |= below.rules
        self._kinds |= below.kinds
        self._bears[where] = below.parts

    def ends(self) -> set[tuple[Where, Part]]:
        """The open parts, each with whose outcome it is of."""
        return {
            (where, part)
            for where, several in self._bears.items()
            for parts in several
            for part in parts
        }

    def bears(self) -> Iterable[tuple[Where, set[tuple[Part, ...]]]]:
        """Whose outcome rests on it, and which of its open parts, rule by rule."""
        return self._bears.items()

    def kinds(self) -> tuple[str, ...]:
        return tuple(kind for kind in _PARTS if kind in self._kinds)


Standing = tuple[bool, bool, bool, bool, int]
"""A place in the order of questions: `Inquiry.standing`."""

_Resting = dict[Unknown, tuple[bool, _Below]]
"""Unknowns below the open rules of one subject: whether each applies, and what rests on it."""


@dataclass(frozen=True, eq=False)
class Inquiry:
    """Finds questions for a program; keeps what it worked out, since the same states come back."""

    program: Program
    budget: int = BUDGET
    allowance: int = ALLOWANCE
    at_once: int = AT_ONCE
    _remembered: dict[Hashable, tuple[Verdict, int]] = field(default_factory=dict)
    _last: list[tuple[Evaluation, Mapping[Unknown, Stake]]] = field(default_factory=list)

    @cached_property
    def domains(self) -> Domains:
        return Domains(self.program)

    @cached_property
    def outcomes(self) -> Outcomes:
        return Outcomes(self.program)

    @cached_property
    def _tracer(self) -> Tracer:
        return Tracer(self.program, Reads(self.program))

    @cached_property
    def _cones(self) -> dict[tuple[About, Part], Cone]:
        return {
            (about, part): Cone(self.program, self.domains, part, rules)
            for about, parts in (
                (About.PANEL, self.outcomes.panel),
                (About.CAR, self.outcomes.car),
            )
            for part, rules in parts.items()
        }

    def questions(self, evaluation: Evaluation) -> tuple[Question, ...]:
        """Every question that can still change an outcome, best first."""
        return tuple(self._kept(evaluation, ()))

    def next_question(
        self, evaluation: Evaluation, skip: Iterable[Unknown] = ()
    ) -> Question | None:
        """The best question that is not in `skip`, or None.

        Somebody waits for it, so the search has a smaller budget, and it ends with one kind of
        outcome that the answer can change; `parts` names that alone.
        """
        return next(self._kept(evaluation, skip, one_kind=True), None)

    def _kept(
        self, evaluation: Evaluation, skip: Iterable[Unknown], *, one_kind: bool = False
    ) -> Iterator[Question]:
        skipped = set(skip)
        stakes = self.stakes(evaluation)
        budget = min(self.budget, self.at_once) if one_kind else self.budget
        round_ = _Round(self, evaluation, budget)
        for unknown in self._ordered(evaluation, stakes):
            if unknown in skipped:
                continue
            stake = stakes[unknown]
            kinds = round_.kinds_that_matter(unknown, stake, one=one_kind)
            if kinds:
                yield self._question(evaluation, unknown, stake, kinds)

    def candidates(self, evaluation: Evaluation) -> list[Question]:
        """Unknown facts that open rules rest on, before any search for witnesses."""
        return [
            self._question(evaluation, unknown, stake, stake.kinds())
            for unknown, stake in self.stakes(evaluation).items()
        ]

    def _question(
        self, evaluation: Evaluation, unknown: Unknown, stake: Stake, kinds: Iterable[str]
    ) -> Question:
        where, fact = unknown
        return Question(
            about=str(self.program.facts[fact].spec.about),
            panel=where,
            fact=fact,
            rules=tuple(self.program.rules[index].rule.id for index in sorted(stake.rules)),
            parts=tuple(kind for kind in _PARTS if kind in kinds),
            unsure=self._unsure(evaluation, unknown),
        )

    def _unsure(self, evaluation: Evaluation, unknown: Unknown) -> bool:
        where, fact = unknown
        return evaluation.subject(where).vector[self.program.slots[fact]] is UNSURE

    def _ordered(self, evaluation: Evaluation, stakes: Mapping[Unknown, Stake]) -> list[Unknown]:
        def rank(unknown: Unknown) -> tuple[object, ...]:
            fact, stake = unknown[1], stakes[unknown]
            spec = self.program.facts[fact].spec
            standing = self.standing(
                spec, applies=stake.applies, only_steps=stake.kinds() == ("step",)
            )
            unsure = self._unsure(evaluation, unknown)
            return (unsure, *standing, -len(stake.rules), self.program.slots[fact])

        return sorted(stakes, key=rank)

    @staticmethod
    def standing(spec: FactSpec, *, applies: bool, only_steps: bool) -> Standing:
        """What tells most questions apart in their order; the lower is asked first."""
        effort = _EFFORTS.index(spec.effort)
        return not applies, not spec.hazard, only_steps, spec.about is About.PANEL, effort

    # --- what hangs on an unknown --------------------------------------------------------------

    def stakes(self, evaluation: Evaluation) -> Mapping[Unknown, Stake]:
        """The open rules that rest on each unknown, and the parts of the outcome they bear on."""
        if self._last and self._last[0][0] is evaluation:
            return self._last[0][1]
        found: dict[Unknown, Stake] = {}
        tracing = self._tracer.over(evaluation)
        alike: dict[Hashable, tuple[Where, _Resting]] = {}
        for where in (None, *evaluation.panels):
            subject = evaluation.subject(where)
            look = where and (tuple(subject.vector), tuple(subject.pending))
            if look not in alike:
                alike[look] = where, self._resting(evaluation, where, tracing)
            first, resting = alike[look]
            # What is unknown for one of two panels that look alike is so for the other, with the
            # two changing places wherever they are named.
            places = {first: where, where: first}
            for (home, fact), (applies, below) in resting.items():
                unknown = (places.get(home, home), fact)
                if unknown not in found:
                    found[unknown] = Stake()
                found[unknown].add(where, below, applies)
        self._last[:] = [(evaluation, found)]
        return found

    def _resting(self, evaluation: Evaluation, where: Where, tracing: Tracing) -> _Resting:
        parts_of = self._still_open(evaluation, where)
        below: dict[str, _Below] = {}
        for index, parts in parts_of.items():
            for fact in tracing.unknown_in(where, index):
                if fact not in below:
                    below[fact] = _Below()
                below[fact].add(index, tuple(parts))
        found: _Resting = {}
        for fact, resting in below.items():
            for unknown, applies in tracing.below_fact(where, fact).unknowns.items():
                if unknown not in found:
                    found[unknown] = applies, _Below()
                found[unknown][1].take(resting)
        return found

    def _still_open(self, evaluation: Evaluation, where: Where) -> dict[int, list[Part]]:
        """The open rules about a subject that can still move a part of its outcome, with those."""
        about = About.CAR if where is None else About.PANEL
        subject = evaluation.subject(where)
        touched = {
            part
            for index, truth in enumerate(subject.truths)
            if truth is None
            for part in self.outcomes.of_rule[index]
        }
        parts_of: dict[int, list[Part]] = {}
        for part in self.outcomes.car if where is None else self.outcomes.panel:
            cone = self._cones[about, part]
            if part in touched and cone.state(subject) is None:
                for index in cone.open_rules(subject):
                    parts_of.setdefault(index, []).append(part)
        return parts_of

    # --- witnesses -----------------------------------------------------------------------------

    def cone(self, where: Where, part: Part) -> Cone:
        """What a part of the outcome of a panel, or of the car, rests on."""
        return self._cones[About.CAR if where is None else About.PANEL, part]

    def search(
        self,
        evaluation: Evaluation,
        unknown: Unknown,
        where: Where,
        part: Part,
        budget: int | None = None,
    ) -> tuple[Verdict, int]:
        """Whether the answer can change the part, and the evaluations it took to find out."""
        cone = self.cone(where, part)
        budget = self.budget if budget is None else budget
        # What takes in all panels depends on their order too where the budget runs out.
        key = None if cone.gathers else (budget, part, Keys(cone, where, unknown).of(evaluation))
        if key is not None and key in self._remembered:
            return self._remembered[key]
        search = Search(cone, self._tracer, where, unknown, budget)
        found = search.verdict(evaluation), search.spent
        if key is not None:
            if len(self._remembered) >= _REMEMBERED:
                self._remembered.clear()
            self._remembered[key] = found
        return found

    def complete(self, evaluation: Evaluation, panel: str) -> Subject | None:
        """One panel with unknowns answered some way until its treatment is settled.

        None where that does not come about within the budget.
        """
        cone = self._cones.get((About.PANEL, TREATMENT_PART))
        if cone is None:
            return None
        return completed(cone, self._tracer, evaluation, panel, self.budget)


class _Round:
    """One round of searches over the candidates of an evaluation, within the allowance.

    What was remembered from earlier rounds costs the same as finding it out, so that the questions
    do not depend on what was asked before.
    """

    def __init__(self, inquiry: Inquiry, evaluation: Evaluation, budget: int) -> None:
        self._inquiry = inquiry
        self._budget = budget
        self._evaluation = evaluation
        self._left = inquiry.allowance
        self._verdicts: dict[Hashable, Verdict] = {}

    def kinds_that_matter(
        self, unknown: Unknown, stake: Stake, *, one: bool = False
    ) -> frozenset[str]:
        """The kinds of outcome, or `one`, that the answer changes in some completion of others."""
        kinds: set[str] = set()
        for where, part in sorted(stake.ends(), key=self._cost):
            if part[0] not in kinds and self._can_matter(unknown, where, part):
                kinds.add(part[0])
                if one:
                    break
        return frozenset(kinds)

    def _cost(self, end: tuple[Where, Part]) -> tuple[object, ...]:
        cone = self._inquiry.cone(*end)
        return cone.gathers, cone.reckons, len(cone.facts), cone.part, end[0] or ""

    def _can_matter(self, unknown: Unknown, where: Where, part: Part) -> bool:
        if part != TREATMENT_PART and self._only_by_treatment(unknown, where, part):
            # Such a part cannot differ where the treatment does not, and that is found once.
            treatment = self._verdict(unknown, where, TREATMENT_PART)
            if treatment is Verdict.NEVER:
                return False
        return self._verdict(unknown, where, part) is not Verdict.NEVER

    def _only_by_treatment(self, unknown: Unknown, where: Where, part: Part) -> bool:
        """Whether a panel's part rests on an unknown only as far as that panel's treatment does."""
        cone = self._inquiry.cone(where, part)
        if where is None or (cone.gathers and unknown[0] != where):
            return False
        return cone.only_by_treatment(unknown[1])

    def _verdict(self, unknown: Unknown, where: Where, part: Part) -> Verdict:
        cone = self._inquiry.cone(where, part)
        key = (part, Keys(cone, where, unknown).of(self._evaluation))
        if key not in self._verdicts:
            if self._left <= 0:
                return Verdict.UNDECIDED
            found, spent = self._inquiry.search(
                self._evaluation, unknown, where, part, self._budget
            )
            self._left -= spent
            self._verdicts[key] = found
        return self._verdicts[key]
