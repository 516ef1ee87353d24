"""The evaluator: runs a program over what is told of a job, level by level.

It is the authority on what fires, knows what is open, and keeps enough for explaining. The same
facts always give the same states, in whatever order they were told.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeGuard

from engine.facts import FactValue, JobFacts, Sheet, Told
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, State, Truth
from engine.reasoning.program import CompiledFact, Level, Program
from engine.reasoning.reckon import Reckoning, Sorted
from engine.reasoning.settling import settled_depth
from engine.ruleset.model import FactSpec
from engine.ruleset.names import TREATMENT

Known = str | Fraction | frozenset[str] | tuple[tuple[Fraction, ...], ...]


@dataclass(slots=True)
class Subject:
    """The state of the car (with the shop) or of one panel.

    `told` holds what was told, by slot; `vector` a state a slot, `exact` the exact value of every
    known fact by slot, `truths` the truth of every rule about this subject by rule index.
    `refused` names told facts that were set aside, with the reason; `pending` those not taken yet
    because it is open whether that reason applies; `failed` reckoned facts that could not be
    worked out. `supposed` holds answers to take, by slot, where the fact applies and nothing
    usable is told. `anyway` holds truths to take for treatment rules where the answers still
    missing cannot matter.
    """

    told: Mapping[int, Told]
    vector: list[State]
    truths: list[Truth]
    exact: dict[int, Known] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    pending: dict[str, str] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    supposed: dict[int, Told] = field(default_factory=dict)
    anyway: list[Truth] | None = None

    def copy(self) -> Subject:
        """A subject that can be worked on without touching this one."""
        return Subject(
            self.told,
            self.vector.copy(),
            self.truths.copy(),
            self.exact.copy(),
            self.refused.copy(),
            self.pending.copy(),
            self.failed.copy(),
            self.supposed.copy(),
            self.anyway,
        )


@dataclass(slots=True)
class Evaluation:
    """The states of a whole job."""

    program: Program
    job: JobFacts
    car: Subject
    panels: dict[str, Subject]

    def subject(self, where: str | None) -> Subject:
        """The panel of that name, or the car for None."""
        return self.car if where is None else self.panels[where]


Watch = Callable[[int, Level, Subject, "str | None"], None]
"""Called after the rules of a level ran for one subject: level number, level, subject, panel."""


def evaluate(
    program: Program,
    job: JobFacts,
    watch: Watch | None = None,
    anyway: Mapping[str, list[Truth]] | None = None,
) -> Evaluation:
    """Run every rule of the program over the told facts of a job.

    `anyway` gives, by panel, the truths of treatment rules to take as they are.
    """
    car = start(program, {**job.shop, **job.car})
    panels = {name: start(program, sheet) for name, sheet in job.panels.items()}
    for name, truths in (anyway or {}).items():
        panels[name].anyway = truths
    run(program, car, panels, watch)
    return Evaluation(program, job, car, panels)


def start(program: Program, told: Sheet) -> Subject:
    """A subject that was told something and has nothing worked out yet."""
    return Subject(
        {program.slots[fact]: answer for fact, answer in told.items()},
        [OPEN] * program.width,
        [False] * len(program.rules),
    )


def put(subject: Subject, slot: int, value: FactValue) -> None:
    """Set a known value; numbers are compared as the nearest float, which keeps their order."""
    subject.exact[slot] = value
    subject.vector[slot] = state_of(value)


def state_of(value: FactValue) -> State:
    """A known value as conditions test it."""
    # By its class: asking for an instance of a number goes through a registry of them.
    return float(value) if type(value) is Fraction else value


_MANY = 100
"""Panels past which they are sorted out before they are compared."""


class _Many(tuple[Subject, ...]):
    """All panels of a job with many, sorted out once for each reckoning that compares them.

    What is compared is of a lower level than the reckoning, so it is settled for all of them.
    """

    def __init__(self, _: Iterable[Subject]) -> None:
        self._sorted: dict[int, Sorted] = {}

    def sorted_for(self, reckoning: Reckoning, car: Subject | None) -> Sorted:
        found = self._sorted.get(id(reckoning))
        if found is None:
            found = self._sorted[id(reckoning)] = reckoning.sorted_out(self, car)
        return found


def run(
    program: Program, car: Subject, panels: Mapping[str, Subject], watch: Watch | None = None
) -> None:
    """Work out every level of subjects of which nothing is worked out yet, in place."""
    everyone = panels.values() if len(panels) <= _MANY else _Many(panels.values())
    for number, level in enumerate(program.levels):
        run_car_level(program, level, car, everyone)
        if watch and level.car_rules:
            watch(number, level, car, None)
        for name, panel in panels.items():
            run_panel_level(program, level, panel, car, everyone)
            if watch and level.panel_rules:
                watch(number, level, panel, name)


def run_car_level(
    program: Program, level: Level, car: Subject, panels: Collection[Subject]
) -> None:
    """The car's share of one level."""
    for fact in level.car_facts:
        work_out(program, fact, car, panels)
    vector, truths, rules = car.vector, car.truths, program.rules
    for index in level.car_candidates.of(vector):
        truths[index] = rules[index].holds(vector)


def run_panel_level(
    program: Program, level: Level, panel: Subject, car: Subject, panels: Collection[Subject]
) -> None:
    """The panel's share of one level; `panels` are all of them, itself included."""
    run_panel_facts(program, level, panel, car, panels)
    vector, truths, rules = panel.vector, panel.truths, program.rules
    for index in level.panel_candidates.of(vector):
        truths[index] = rules[index].holds(vector)
    if panel.anyway is not None:
        for rule in level.panel_rules:
            if rule.rule.then.treatment:
                truths[rule.index] = panel.anyway[rule.index]


def run_panel_facts(
    program: Program, level: Level, panel: Subject, car: Subject, panels: Collection[Subject]
) -> None:
    """What a panel has of one level before its rules run."""
    vector = panel.vector
    for fact in level.car_facts:
        vector[fact.slot] = car.vector[fact.slot]
    if level.settles_treatment:
        settle_panel(program, panel)
    told = panel.told
    for fact in level.panel_facts:
        if not fact.idle or fact.slot in told:
            work_out(program, fact, panel, panels, car)


def settle_panel(program: Program, panel: Subject) -> None:
    """Set the treatment of a panel from the truths of the rules that give one."""
    depth = settled_depth(program.treatment_rules, panel.truths)
    panel.vector[program.slots[TREATMENT]] = (
        OPEN if depth is None else NOT_APPLICABLE if depth < 0 else program.treatments[depth]
    )


def work_out(
    program: Program,
    fact: CompiledFact,
    subject: Subject,
    panels: Iterable[Subject],
    car: Subject | None = None,
) -> None:
    """Work out the state of one fact from the facts below it.

    `panels` are all panels, and `car` stands beside a panel whose fact is worked out.
    """
    slot = fact.slot
    if fact.told:
        _take(fact, subject)
        return
    subject.exact.pop(slot, None)
    if fact.gate is not None:
        truth = fact.gate(subject.vector)
        if truth is not True:
            subject.vector[slot] = OPEN if truth is None else NOT_APPLICABLE
            return
    if fact.reckoning is not None:
        _reckon(fact, subject, panels, car)
    elif fact.gathered is not None:
        subject.vector[slot] = _gather(fact, panels)
    else:
        subject.vector[slot] = _conclude(fact, subject.truths)


def _take(fact: CompiledFact, subject: Subject) -> None:
    """Work out the state of a told fact from what was told, its refusal and its gate."""
    spec, slot, vector = fact.spec, fact.slot, subject.vector
    told = subject.told.get(slot)
    if told is not None and fact.refused is None and _usable(told.value, spec):
        put(subject, slot, told.value)
        return
    subject.exact.pop(slot, None)
    vector[slot] = OPEN
    if fact.refused is not None:
        subject.refused.pop(spec.id, None)
        subject.pending.pop(spec.id, None)
    unsure = False
    if told is not None:
        if not _usable(told.value, spec):
            unsure = True
        else:
            refused = False if fact.refused is None else fact.refused(vector)
            if refused is False:
                put(subject, slot, told.value)
                return
            assert spec.refusal is not None
            if refused is None:
                # Nothing may rest on a value that another answer could still set aside.
                subject.pending[spec.id] = spec.refusal.because
                return
            subject.refused[spec.id] = spec.refusal.because
    applies = True if fact.gate is None else fact.gate(vector)
    if applies is False:
        vector[slot] = NOT_APPLICABLE
    elif slot in subject.supposed:
        if applies:
            _suppose(fact, subject, subject.supposed[slot])
    elif spec.assume is not None:
        # "Don't know" is no better than silence where a value stands for both.
        if applies:
            put(subject, slot, spec.assume)
    elif unsure:
        vector[slot] = UNSURE
    elif not spec.asked:
        vector[slot] = NOT_APPLICABLE


def _usable(value: FactValue | None, spec: FactSpec) -> TypeGuard[FactValue]:
    # Only words stand among those that mean "not known yet", and numbers are slow to look up.
    return value not in spec.not_yet if isinstance(value, str) else value is not None


def _suppose(fact: CompiledFact, subject: Subject, answer: Told) -> None:
    if not _usable(answer.value, fact.spec):
        subject.vector[fact.slot] = UNSURE
    elif (
        fact.refused is None
        or fact.refused(subject.vector) is False
        # Told anew after a refusal, it is told in a way that can be taken: read again with
        # another gauge, say.
        or fact.spec.id in subject.refused
    ):
        put(subject, fact.slot, answer.value)


def _gather(fact: CompiledFact, panels: Iterable[Subject]) -> State:
    assert fact.gathered is not None
    assert fact.spec.gathered is not None
    truths = [fact.gathered(panel.vector) for panel in panels]
    if fact.spec.gathered.quantifier == "any":
        return "yes" if True in truths else OPEN if None in truths else "no"
    return "no" if False in truths else OPEN if None in truths else "yes"


def _conclude(fact: CompiledFact, truths: list[Truth]) -> State:
    """The last choice any firing rule concludes; open while a rule could still move it."""
    choices = fact.spec.choice_ids
    sure = -1
    possible: set[int] = set()
    for index, value in fact.concluders:
        truth = truths[index]
        if truth is not False:
            rank = choices.index(value)
            possible.add(rank)
            if truth:
                sure = max(sure, rank)
    settled = choices[sure] if sure >= 0 else fact.spec.otherwise
    if all(rank <= sure or choices[rank] == settled for rank in possible):
        return settled
    return OPEN


def _reckon(
    fact: CompiledFact, subject: Subject, panels: Iterable[Subject], car: Subject | None
) -> None:
    reckoning = fact.reckoning
    assert reckoning is not None
    subject.failed.pop(fact.spec.id, None)
    if isinstance(panels, _Many) and reckoning.sorts:
        worked = reckoning.work_out_sorted(subject, car, panels.sorted_for(reckoning, car))
    else:
        others = (panel for panel in panels if panel is not subject) if reckoning.compares else ()
        worked = reckoning.work_out(subject, car, others)
    subject.vector[fact.slot] = worked.state
    if worked.exact is not None:
        subject.exact[fact.slot] = worked.exact
    elif worked.failure is not None:
        subject.failed[fact.spec.id] = worked.failure
