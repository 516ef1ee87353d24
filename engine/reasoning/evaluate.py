"""The evaluator: runs a program over what is told of a job, level by level.

It is the authority on what fires, knows what is open, and keeps enough for explaining. The same
facts always give the same states, in whatever order they were told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from engine.errors import ReckoningError
from engine.facts import FactValue, JobFacts, Sheet, Told
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, State, Truth
from engine.reasoning.program import CompiledFact, Level, Program
from engine.reasoning.settling import settled_depth
from engine.reckoning.reckoners import Given
from engine.ruleset.names import TREATMENT

Known = str | Fraction | frozenset[str] | tuple[tuple[Fraction, ...], ...]


@dataclass(slots=True)
class Subject:
    """The state of the car (with the shop) or of one panel.

    `vector` holds a state a slot, `exact` the exact value of every known fact by slot, `truths`
    the truth of every rule about this subject by rule index. `refused` names told facts that were
    set aside, with the reason; `failed` reckoned facts that could not be worked out. `anyway`
    holds truths to take for treatment rules where the answers still missing cannot matter.
    """

    vector: list[State]
    exact: dict[int, Known]
    truths: list[Truth]
    refused: dict[str, str]
    failed: dict[str, str]
    anyway: list[Truth] | None = None


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
    """A subject that knows what it was told and nothing else yet."""
    subject = Subject([OPEN] * program.width, {}, [False] * len(program.rules), {}, {})
    for fact, answer in told.items():
        tell(subject, program.facts[fact], answer)
    return subject


def tell(subject: Subject, fact: CompiledFact, told: Told) -> None:
    """Put one told fact into a subject's states."""
    if told.value is None or (isinstance(told.value, str) and told.value in fact.spec.not_yet):
        subject.vector[fact.slot] = UNSURE
        subject.exact.pop(fact.slot, None)
    else:
        put(subject, fact.slot, told.value)


def put(subject: Subject, slot: int, value: FactValue) -> None:
    """Set a known value; numbers are compared as the nearest float, which keeps their order."""
    subject.exact[slot] = value
    subject.vector[slot] = float(value) if isinstance(value, Fraction) else value


def run(
    program: Program, car: Subject, panels: Mapping[str, Subject], watch: Watch | None = None
) -> None:
    """Work out every level, in place."""
    for number, level in enumerate(program.levels):
        for fact in level.car_facts:
            work_out(program, fact, car, panels.values())
            for panel in panels.values():
                panel.vector[fact.slot] = car.vector[fact.slot]
        for rule in level.car_rules:
            car.truths[rule.index] = rule.holds(car.vector)
        if watch and level.car_rules:
            watch(number, level, car, None)
        for name, panel in panels.items():
            run_panel_level(program, level, panel, car)
            if watch and level.panel_rules:
                watch(number, level, panel, name)


def run_panel_level(program: Program, level: Level, panel: Subject, car: Subject) -> None:
    """The panel's share of one level."""
    if level.settles_treatment:
        depth = settled_depth(program.treatment_rules, panel.truths)
        panel.vector[program.slots[TREATMENT]] = (
            OPEN if depth is None else NOT_APPLICABLE if depth < 0 else program.treatments[depth]
        )
    for fact in level.panel_facts:
        work_out(program, fact, panel, (), car)
    vector, truths = panel.vector, panel.truths
    for rule in level.panel_rules:
        truths[rule.index] = rule.holds(vector)
    if panel.anyway is not None:
        for rule in level.panel_rules:
            if rule.rule.then.treatment:
                truths[rule.index] = panel.anyway[rule.index]


def work_out(
    program: Program,
    fact: CompiledFact,
    subject: Subject,
    panels: Iterable[Subject],
    car: Subject | None = None,
) -> None:
    """Work out the state of one fact from the facts below it."""
    spec, slot = fact.spec, fact.slot
    if spec.told:
        if fact.refused is not None and slot in subject.exact and fact.refused(subject.vector):
            assert spec.refusal is not None
            subject.refused[spec.id] = spec.refusal.because
            subject.vector[slot] = OPEN
            del subject.exact[slot]
        if subject.vector[slot] is OPEN:
            if fact.gate is not None and fact.gate(subject.vector) is False:
                subject.vector[slot] = NOT_APPLICABLE
            elif spec.assume is not None:
                put(subject, slot, spec.assume)
            elif not spec.asked:
                subject.vector[slot] = NOT_APPLICABLE
        return
    if fact.gate is not None:
        truth = fact.gate(subject.vector)
        if truth is not True:
            subject.vector[slot] = OPEN if truth is None else NOT_APPLICABLE
            return
    if fact.reckoner is not None:
        _reckon(program, fact, subject, car)
    elif fact.gathered is not None:
        subject.vector[slot] = _gather(fact, panels)
    else:
        subject.vector[slot] = _conclude(fact, subject.truths)


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


def _reckon(program: Program, fact: CompiledFact, subject: Subject, car: Subject | None) -> None:
    reckoner = fact.reckoner
    assert reckoner is not None
    exact: dict[str, Known] = {}
    for read in reckoner.reads:
        slot = program.slots[read]
        state = subject.vector[slot]
        if state is OPEN or state is UNSURE or state is NOT_APPLICABLE:
            subject.vector[fact.slot] = NOT_APPLICABLE if state is NOT_APPLICABLE else OPEN
            return
        known = subject.exact.get(slot)
        if known is None and car is not None:
            known = car.exact.get(slot)
        exact[read] = state if known is None else known
    try:
        value = reckoner.compute(Given(exact, program.ruleset))
    except ReckoningError as error:
        subject.failed[fact.spec.id] = error.format_message()
        subject.vector[fact.slot] = OPEN
        return
    if value is None:
        subject.vector[fact.slot] = NOT_APPLICABLE
    else:
        put(subject, fact.slot, value)
