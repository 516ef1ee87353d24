"""The search for a witness: two answers to a question that end in different outcomes.

It goes depth-first over completions of the other unknowns, one part of the outcome at a time,
and leaves a branch as soon as the part is settled or no longer rests on the question. A quick
pass tries few answers to each; where it finds nothing, a full pass tries all of `Domains` and is
exact within its budget.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from enum import Enum

from engine.facts import Told
from engine.reasoning.cones import Cone, Keys
from engine.reasoning.evaluate import Evaluation, Subject
from engine.reasoning.kleene import State
from engine.reasoning.tracing import Trace, Tracer, Unknown, Where

_QUICK_ANSWERS = 8


class Verdict(Enum):
    """Whether an answer can change an outcome; undecided where the budget ran out."""

    MATTERS = "matters"
    NEVER = "never"
    UNDECIDED = "undecided"


class Search:
    """One search: may the answer to `target` change this cone's part of the outcome of `where`?"""

    def __init__(
        self, cone: Cone, tracer: Tracer, where: Where, target: Unknown, budget: int
    ) -> None:
        self._cone = cone
        self._tracer = tracer
        self._keys = Keys(cone, where, target)
        self._where = where
        self._target = target
        self._budget = budget
        self.spent = 0
        self._start(quick=True)

    def verdict(self, evaluation: Evaluation) -> Verdict:
        world = in_scope(self._cone, evaluation, self._where)
        answers = self._cone.answers(self._target[1])
        if self._descend(self._without_twins(world), answers):
            return Verdict.MATTERS
        if self._narrowed or self._cut:
            self._start(quick=False)
            if self._descend(world, answers):
                return Verdict.MATTERS
        return Verdict.UNDECIDED if self._cut else Verdict.NEVER

    def _start(self, *, quick: bool) -> None:
        self._quick = quick
        self._left = self._budget // 2 if quick else self._budget
        self._narrowed = self._cut = False
        self._seen: set[Hashable] = set()

    def _without_twins(self, world: Evaluation) -> Evaluation:
        """The world with one panel for all that stand alike.

        A witness found there is one in the whole world too: what "any" and "every" make of a
        panel does not change when others turn out just like it. A median of panels does change.
        """
        if self._cone.compares:
            return world
        kept: dict[Hashable, str] = {}
        for name, panel in world.panels.items():
            own = name in (self._where, self._target[0])
            kept.setdefault((own and name, self._keys.of_panel(panel)), name)
        self._narrowed |= len(kept) < len(world.panels)
        panels = {name: world.panels[name] for name in kept.values()}
        return Evaluation(world.program, world.job, world.car, panels)

    def _descend(self, world: Evaluation, answers: Sequence[Told]) -> bool:
        """Whether a witness lies below `world`; `answers` to the target are worth trying."""
        key = self._keys.of(world)
        if key in self._seen:
            return False
        self._seen.add(key)
        if self._state(world) is not None:
            return False
        near = self._rules_near(world)
        if not near:
            return False
        choice = self._beside(world, near)
        if choice is not None:
            # Two answers seldom end apart before a rule rests on the target alone.
            return self._branch(world, choice, near[0][0], answers)
        ends: list[Evaluation] = []
        states: set[State] = set()
        for answer in answers:
            end = self._try(world, self._target, answer)
            if end is None:
                return False
            ends.append(end)
            state = self._state(end)
            if state is not None:
                states.add(state)
                if len(states) > 1:
                    return True
        stuck = [end for end in ends if self._state(end) is None]
        choice = self._elsewhere(stuck)
        if choice is None:
            self._cut |= bool(states) and any(self._cone.failed(end) for end in stuck)
            return False
        if self._quick:
            answers = self._distinct(answers, ends)
        return self._branch(world, choice, near[0][0], answers)

    def _branch(
        self, world: Evaluation, choice: Unknown, index: int, answers: Sequence[Told]
    ) -> bool:
        tried: list[tuple[bool, int, Evaluation]] = []
        for answer in self._few(self._cone.answers(choice[1])):
            next_ = self._try(world, choice, answer)
            if next_ is None:
                return False
            open_ = self._cone.open_rules(next_.subject(self._where))
            tried.append((index not in open_, len(open_), next_))
        # A world promises a witness where the rule nearest to the target is open and few others.
        tried.sort(key=lambda one: one[:2])
        return any(self._descend(next_, answers) for _, _, next_ in tried)

    def _few(self, answers: Sequence[Told]) -> Sequence[Told]:
        if not self._quick or len(answers) <= _QUICK_ANSWERS:
            return answers
        self._narrowed = True
        step = (len(answers) - 1) / (_QUICK_ANSWERS - 1)
        return [answers[round(place * step)] for place in range(_QUICK_ANSWERS)]

    def _distinct(self, answers: Sequence[Told], ends: Sequence[Evaluation]) -> Sequence[Told]:
        """One answer for each way the rules of the part were left."""
        kept: dict[Hashable, Told] = {}
        for answer, end in zip(answers, ends, strict=True):
            truths = end.subject(self._where).truths
            kept.setdefault(tuple(truths[index] for index in self._cone.rules), answer)
        self._narrowed |= len(kept) < len(answers)
        return tuple(kept.values())

    def _try(self, world: Evaluation, unknown: Unknown, answer: Told) -> Evaluation | None:
        if self._left <= 0:
            self._cut = True
            return None
        self._left -= 1
        self.spent += 1
        return self._cone.suppose(world, unknown, answer)

    def _state(self, world: Evaluation) -> State:
        return self._cone.state(world.subject(self._where))

    def _rules_near(self, world: Evaluation) -> list[tuple[int, Trace]]:
        """Open rules that rest on the target, those with the fewest other unknowns first."""
        rules = self._cone.open_rules(world.subject(self._where))
        traces = self._tracer.each(world, self._where, rules)
        found = [near for near in traces.items() if self._target in near[1].unknowns]
        return sorted(found, key=lambda near: len(near[1].unknowns))

    def _beside(self, world: Evaluation, near: list[tuple[int, Trace]]) -> Unknown | None:
        """Another unknown that the rule nearest to the target rests on too."""
        return self._first(world, near[0][1].unknowns.items())

    def _elsewhere(self, stuck: Iterable[Evaluation]) -> Unknown | None:
        """An unknown that the part rests on after some answer to the target."""
        for end in stuck:
            rules = self._cone.open_rules(end.subject(self._where))
            trace = self._tracer.below(end, self._where, rules)
            choice = self._first(end, trace.unknowns.items())
            if choice is not None:
                return choice
        return None

    def _first(self, world: Evaluation, unknowns: Iterable[tuple[Unknown, bool]]) -> Unknown | None:
        """The first that can be answered now; those of the target's own subject before others."""
        other: Unknown | None = None
        for unknown, applies in unknowns:
            if applies and unknown != self._target and not is_supposed(world, unknown):
                if unknown[0] == self._target[0]:
                    return unknown
                if other is None or (unknown[0] is None and other[0] is not None):
                    other = unknown
        return other


def in_scope(cone: Cone, evaluation: Evaluation, where: Where) -> Evaluation:
    """The evaluation with only those panels that the cone takes in."""
    if cone.gathers:
        return evaluation
    panels = {} if where is None else {where: evaluation.panels[where]}
    return Evaluation(evaluation.program, evaluation.job, evaluation.car, panels)


def is_supposed(world: Evaluation, unknown: Unknown) -> bool:
    """Whether an answer was tried for it already."""
    where, fact = unknown
    return world.program.slots[fact] in world.subject(where).supposed


def completed(
    cone: Cone, tracer: Tracer, evaluation: Evaluation, where: Where, budget: int
) -> Subject | None:
    """A subject whose part of the outcome was settled by answering unknowns some way or other."""
    world = in_scope(cone, evaluation, where)
    for _ in range(budget):
        subject = world.subject(where)
        if cone.state(subject) is not None:
            return subject
        trace = tracer.below(world, where, cone.open_rules(subject))
        choice = next(
            (
                unknown
                for unknown, applies in trace.unknowns.items()
                if applies and not is_supposed(world, unknown)
            ),
            None,
        )
        if choice is None:
            return None
        world = cone.suppose(world, choice, cone.answers(choice[1])[0])
    return None
