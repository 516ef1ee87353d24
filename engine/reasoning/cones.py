"""The part of a program one part of an outcome rests on, and trying answers in that part alone.

A cone holds the rules and facts below one part of the outcome. An answer is tried by working out
again only what rests on it inside the cone, for the subjects it can reach.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from functools import cached_property

from engine.facts import Told
from engine.reasoning.components import TREATMENT_PART, Part
from engine.reasoning.domains import Domains
from engine.reasoning.evaluate import Evaluation, Subject, settle_panel, state_of, work_out
from engine.reasoning.kleene import (
    NOT_APPLICABLE,
    OPEN,
    UNSURE,
    Check,
    State,
    compile_condition,
)
from engine.reasoning.program import CompiledFact, CompiledRule, Program
from engine.reasoning.settling import settled_depth, still_deciding
from engine.reasoning.tracing import Unknown, Where
from engine.ruleset.depends import TREATMENT_NODE, Node, leaves
from engine.ruleset.model import About, Condition, Test

_Runs = CompiledFact | CompiledRule | None
"""A fact, a rule, or None for the settling of the treatment."""


class Cone:
    """What one part of the outcome of a panel, or of the car, rests on."""

    def __init__(self, program: Program, domains: Domains, part: Part, rules: Sequence[int]):
        self.program = program
        self.part = part
        self.rules = tuple(rules)
        self._domains = domains
        self._runs: dict[str, list[tuple[_Runs, bool]]] = {}
        self._answers: dict[str, tuple[Told, ...]] = {}

    # --- what it holds -------------------------------------------------------------------------

    @cached_property
    def _roots(self) -> list[Node]:
        if self.part == TREATMENT_PART:
            return [TREATMENT_NODE]
        return [("rule", self.program.rules[index].rule.id) for index in self.rules]

    @cached_property
    def _order(self) -> list[Node]:
        below = _closure(self.program, self._roots)
        return [node for node in self.program.order if node in below]

    @cached_property
    def _beside_treatment(self) -> set[Node]:
        return _closure(self.program, self._roots, leaving=TREATMENT_NODE)

    @cached_property
    def _by_id(self) -> dict[str, CompiledRule]:
        return {compiled.rule.id: compiled for compiled in self.program.rules}

    @cached_property
    def facts(self) -> tuple[CompiledFact, ...]:
        return tuple(self.program.facts[node[1]] for node in self._order if node[0] == "fact")

    @cached_property
    def gathers(self) -> bool:
        """Whether it takes in every panel."""
        return self.compares or any(fact.gathered is not None for fact in self.facts)

    @cached_property
    def compares(self) -> bool:
        """Whether a fact in it is reckoned from other panels too."""
        return any(fact.reckoning is not None and fact.reckoning.compares for fact in self.facts)

    @cached_property
    def reckons(self) -> int:
        """How many facts in it are reckoned, which takes longer than testing them."""
        return sum(fact.reckoning is not None for fact in self.facts)

    def only_by_treatment(self, fact: str) -> bool:
        """Whether this part rests on a fact only as far as the treatment does."""
        return ("fact", fact) not in self._beside_treatment

    def _resting_on(self, fact: str) -> list[tuple[_Runs, bool]]:
        """What to work out again when the answer to `fact` changes; True marks panels' own."""
        if fact not in self._runs:
            moved: set[Node] = {("fact", fact)}
            for node in self._order:
                if any(waited in moved for waited in self.program.graph[node]):
                    moved.add(node)
            self._runs[fact] = [self._compiled(node) for node in self._order if node in moved]
        return self._runs[fact]

    def _compiled(self, node: Node) -> tuple[_Runs, bool]:
        if node == TREATMENT_NODE:
            return None, True
        if node[0] == "rule":
            rule = self._by_id[node[1]]
            return rule, rule.rule.about is About.PANEL
        fact = self.program.facts[node[1]]
        return fact, fact.spec.about is About.PANEL

    # --- trying answers ------------------------------------------------------------------------

    def suppose(self, world: Evaluation, unknown: Unknown, answer: Told) -> Evaluation:
        """The same world with one more answer taken, worked out as far as the cone goes."""
        where, fact = unknown
        car, panels = world.car, dict(world.panels)
        slot = self.program.slots[fact]
        moved: set[str] = set()
        car_moved = where is None
        if where is None:
            car = car.copy()
            car.supposed[slot] = answer
        else:
            panels[where] = panels[where].copy()
            panels[where].supposed[slot] = answer
            moved.add(where)
        for runs, is_panel in self._resting_on(fact):
            if is_panel and _compares(runs):
                self._compare(runs, car, panels, moved)
                continue
            if is_panel:
                for name in moved:
                    _work_out(self.program, runs, panels[name], car, panels.values())
                continue
            gathers = isinstance(runs, CompiledFact) and runs.gathered is not None
            if not car_moved and not gathers and not _compares(runs):
                continue
            if isinstance(runs, CompiledRule):
                car.truths[runs.index] = runs.holds(car.vector)
                continue
            assert runs is not None
            before = car.vector[runs.slot]
            tried = car if car_moved else car.copy()
            work_out(self.program, runs, tried, panels.values())
            state = tried.vector[runs.slot]
            if state is before or state == before:
                continue
            car, car_moved = tried, True
            for name in panels:
                if name not in moved:
                    panels[name] = panels[name].copy()
                    moved.add(name)
                panels[name].vector[runs.slot] = state
        return Evaluation(world.program, world.job, car, panels)

    def _compare(
        self, runs: _Runs, car: Subject, panels: dict[str, Subject], moved: set[str]
    ) -> None:
        """Work a fact out that each panel has of the others, in place; those it moves join in."""
        assert isinstance(runs, CompiledFact)
        for name, panel in list(panels.items()):
            before = panel.vector[runs.slot]
            tried = panel if name in moved else panel.copy()
            panels[name] = tried
            work_out(self.program, runs, tried, panels.values(), car)
            state = tried.vector[runs.slot]
            if state is before or state == before:
                panels[name] = panel
            else:
                moved.add(name)

    def answers(self, fact: str) -> tuple[Told, ...]:
        """Answers to one fact that the tests of this cone can tell apart."""
        if fact not in self._answers:
            tests = self._tests.get(fact, [])
            kept: dict[Hashable, Told] = {}
            for answer in self._domains.of(fact):
                if answer.value is None:
                    if fact in self._known_tested:
                        kept["unsure"] = answer
                    continue
                raw = answer.value if fact in self._reckoned_from else None
                kept.setdefault((raw, _signature(tests, state_of(answer.value))), answer)
            self._answers[fact] = tuple(kept.values())
        return self._answers[fact]

    @cached_property
    def _conditions(self) -> list[Condition]:
        found: list[Condition] = []
        for node in self._order:
            if node[0] == "rule":
                found.append(self._by_id[node[1]].rule.when)
        for fact in self.facts:
            spec = fact.spec
            found += [spec.ask_when] if spec.ask_when else []
            found += [spec.refusal.when] if spec.refusal else []
            found += [spec.gathered.condition] if spec.gathered else []
        return found

    @cached_property
    def _tests(self) -> dict[str, list[Check]]:
        tests: dict[str, dict[object, Check]] = {}
        for condition in self._conditions:
            for leaf in leaves(condition):
                check = compile_condition(leaf, {leaf.fact: 0})
                tests.setdefault(leaf.fact, {})[leaf.test, leaf.operand] = check
        return {fact: list(found.values()) for fact, found in tests.items()}

    @cached_property
    def _known_tested(self) -> frozenset[str]:
        return frozenset(
            leaf.fact
            for condition in self._conditions
            for leaf in leaves(condition)
            if leaf.test is Test.KNOWN
        )

    @cached_property
    def _reckoned_from(self) -> frozenset[str]:
        return frozenset(
            read for fact in self.facts if fact.reckoner for read in fact.reckoner.takes
        )

    @cached_property
    def _compared(self) -> frozenset[str]:
        """Facts that other panels are reckoned from."""
        return frozenset(
            read
            for fact in self.facts
            if fact.reckoner and fact.reckoner.panels
            for read in (*fact.reckoner.panels, *fact.reckoner.alike)
        )

    # --- what came of it -----------------------------------------------------------------------

    def failed(self, world: Evaluation) -> bool:
        """Whether a reckoning it rests on could not be made."""
        reckoned = [fact.spec.id for fact in self.facts if fact.reckoner]
        subjects = (world.car, *world.panels.values())
        return any(fact in subject.failed for subject in subjects for fact in reckoned)

    def open_rules(self, subject: Subject) -> list[int]:
        """The open rules that can still move this part."""
        if self.part == TREATMENT_PART:
            return still_deciding(self.program.treatment_rules, subject.truths)
        return [index for index in self.rules if subject.truths[index] is None]

    def state(self, subject: Subject) -> State:
        """The settled state of this part, or None while it is open."""
        truths = subject.truths
        if self.part == TREATMENT_PART:
            return settled_depth(self.program.treatment_rules, truths)
        found: State = False
        for index in self.rules:
            if truths[index]:
                return True
            if truths[index] is None:
                found = None
        return found

    def subject_key(self, subject: Subject, *, is_panel: bool) -> tuple[Hashable, ...]:
        """Two subjects with the same key have the same ways to turn out, within the cone."""
        vector = subject.vector
        found: list[Hashable] = []
        for fact, tests, readers in self._panel_key if is_panel else self._car_key:
            state = vector[fact.slot]
            if state is OPEN or state is NOT_APPLICABLE:
                # What is told or was tried, and is not taken yet, sets worlds apart.
                told = subject.told.get(fact.slot)
                tried = subject.supposed.get(fact.slot)
                found.append((state, told and (told.value,), tried and (tried.value,)))
            elif state is UNSURE:
                # Until it was tried once more, another answer to it may still come.
                found.append((state, fact.slot in subject.supposed))
            elif fact.spec.id in self._compared or any(vector[slot] is OPEN for slot in readers):
                found.append(state)
            else:
                found.append(_signature(tests, state))
        return tuple(found)

    @cached_property
    def _car_key(self) -> list[tuple[CompiledFact, list[Check], list[int]]]:
        return self._keyed(is_panel=False)

    @cached_property
    def _panel_key(self) -> list[tuple[CompiledFact, list[Check], list[int]]]:
        return self._keyed(is_panel=True)

    def _keyed(self, *, is_panel: bool) -> list[tuple[CompiledFact, list[Check], list[int]]]:
        return [
            (fact, self._tests.get(fact.spec.id, []), self._readers(fact.spec.id))
            for fact in self.facts
            if (fact.spec.about is About.PANEL) is is_panel
        ]

    def _readers(self, fact: str) -> list[int]:
        return [
            other.slot
            for other in self.facts
            if other.reckoner is not None and fact in other.reckoner.takes
        ]


class Keys:
    """Tells apart the worlds that matter to one question and one part of the outcome of `where`."""

    def __init__(self, cone: Cone, where: Where, target: Unknown) -> None:
        self._cone = cone
        self._where = where
        self._target = target
        self._kept: dict[int, tuple[Subject, Hashable]] = {}

    def of(self, world: Evaluation) -> Hashable:
        """Two worlds with the same key have the same ways to turn out."""
        own = (self._where, self._target[0])
        names = world.panels if self._cone.gathers else [name for name in own if name]
        panels = Counter(
            (name == own[0], name == own[1], self.of_panel(world.panels[name])) for name in names
        )
        return (
            self._where is None,
            self._target[1],
            self._of(world.car, is_panel=False),
            frozenset(panels.items()),
        )

    def of_panel(self, panel: Subject) -> Hashable:
        return self._of(panel, is_panel=True)

    def _of(self, subject: Subject, *, is_panel: bool) -> Hashable:
        if id(subject) not in self._kept:
            # The subject is kept beside its key, lest another is given its identity.
            self._kept[id(subject)] = subject, self._cone.subject_key(subject, is_panel=is_panel)
        return self._kept[id(subject)][1]


def _closure(program: Program, roots: Iterable[Node], leaving: Node | None = None) -> set[Node]:
    found: set[Node] = set()
    todo = list(roots)
    while todo:
        node = todo.pop()
        if node not in found and node != leaving:
            found.add(node)
            todo.extend(program.graph[node])
    return found


def _compares(runs: _Runs) -> bool:
    return isinstance(runs, CompiledFact) and bool(runs.reckoning and runs.reckoning.compares)


def _work_out(
    program: Program, runs: _Runs, panel: Subject, car: Subject, panels: Iterable[Subject]
) -> None:
    if runs is None:
        settle_panel(program, panel)
    elif isinstance(runs, CompiledRule):
        panel.truths[runs.index] = runs.holds(panel.vector)
    else:
        work_out(program, runs, panel, panels, car)


def _signature(tests: Sequence[Check], state: State) -> tuple[Hashable, ...]:
    return (state is UNSURE, *(test((state,)) for test in tests))
