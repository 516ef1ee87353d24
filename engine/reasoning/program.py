"""A rule set made ready to run: slots for facts, and levels in which rules may run.

A level holds what can be worked out once all lower levels are done: first the facts of the level
(refused values set aside, gates, reckoned, concluded and gathered facts), then its rules. Rules of
one level never read what another rule of it concludes, so negation is well defined and their order
does not matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from graphlib import TopologicalSorter

from engine.reasoning.candidates import Candidates
from engine.reasoning.kleene import Check, State, Truth, compile_condition
from engine.reasoning.reckon import Reckoning
from engine.reckoning.reckoners import RECKONERS, Reckoner
from engine.records import dataclass, field
from engine.ruleset.depends import TREATMENT_NODE, Graph, Node, dependencies, facts_read
from engine.ruleset.model import About, Condition, FactSpec, Rule, RuleSet
from engine.ruleset.names import TREATMENT


@dataclass(frozen=True, slots=True)
class CompiledRule:
    """A rule with its place in the program and its condition as a closure."""

    index: int
    rule: Rule
    holds: Check
    reads: frozenset[int]


@dataclass(frozen=True, slots=True)
class CompiledFact:
    """A fact with its slot and everything needed to work its state out."""

    slot: int
    spec: FactSpec
    gate: Check | None
    refused: Check | None
    reckoner: Reckoner | None
    reckoning: Reckoning | None
    gathered: Check | None
    concluders: tuple[tuple[int, str], ...]
    told: bool
    idle: bool
    """Open for as long as nobody tells it, whatever else is known."""


@dataclass(frozen=True, slots=True)
class TreatmentRule:
    """A rule that gives a treatment; `beaters` are the rules that make it lose."""

    index: int
    depth: int
    beaters: tuple[int, ...]


@dataclass(slots=True)
class Level:
    """What runs together. Car facts come before panel facts, facts before rules."""

    car_facts: list[CompiledFact] = field(default_factory=list)
    panel_facts: list[CompiledFact] = field(default_factory=list)
    settles_treatment: bool = False
    car_rules: list[CompiledRule] = field(default_factory=list)
    panel_rules: list[CompiledRule] = field(default_factory=list)
    compares: list[CompiledFact] = field(default_factory=list)
    """The panel facts that are reckoned from other panels too."""
    panel_reads: tuple[int, ...] = ()
    """The slots that the rules of panels read."""
    kept: dict[tuple[State, ...], list[tuple[int, Truth]]] = field(default_factory=dict)
    """What came of those rules, as far as it is not false, for looks of a panel met lately."""
    car_candidates: Candidates = field(default_factory=lambda: Candidates((), {}, {}))
    panel_candidates: Candidates = field(default_factory=lambda: Candidates((), {}, {}))


@dataclass(frozen=True, slots=True)
class Program:
    """A compiled rule set. `slots` maps fact ids (and `treatment`) to vector positions."""

    ruleset: RuleSet
    slots: Mapping[str, int]
    facts: Mapping[str, CompiledFact]
    rules: tuple[CompiledRule, ...]
    levels: tuple[Level, ...]
    treatment_rules: tuple[TreatmentRule, ...]
    treatments: tuple[str, ...]
    readers: Mapping[str, frozenset[str]]
    """Fact id -> ids of the told facts it rests on, itself included."""
    graph: Graph
    """Every node with the nodes it waits for."""
    order: tuple[Node, ...]
    """Every node, each after what it waits for."""
    car_facts: tuple[CompiledFact, ...]
    """Facts of the car and the shop, and below those of panels, in the order of the rule set."""
    panel_facts: tuple[CompiledFact, ...]
    step_order: Mapping[str, int]
    """The place of every step in the rule set, by its id."""
    _giving: dict[str, tuple[CompiledRule, ...]] = field(default_factory=dict)
    _checks: dict[int, tuple[Condition, Check]] = field(default_factory=dict)

    def check(self, condition: Condition) -> Check:
        """A condition of the rule set, or a part of one, as a closure; made once."""
        found = self._checks.get(id(condition))
        if found is None:
            # The condition is kept beside it, lest another is given its identity.
            found = condition, compile_condition(condition, self.slots)
            self._checks[id(condition)] = found
        return found[1]

    def giving(self, treatment: str) -> tuple[CompiledRule, ...]:
        """The rules that give a treatment, in the order of the rule set."""
        if not self._giving:
            for compiled in self.rules:
                if compiled.rule.then.treatment:
                    before = self._giving.get(compiled.rule.then.treatment, ())
                    self._giving[compiled.rule.then.treatment] = (*before, compiled)
        return self._giving.get(treatment, ())

    @property
    def width(self) -> int:
        return len(self.slots)


@lru_cache(maxsize=16)
def compile_ruleset(ruleset: RuleSet) -> Program:
    """Compile a linked rule set. Cycles were refused when it was loaded."""
    slots = {fact: slot for slot, fact in enumerate((*ruleset.facts, TREATMENT))}
    rules = tuple(
        CompiledRule(
            index,
            rule,
            compile_condition(rule.when, slots),
            frozenset(slots[fact] for fact in facts_read(rule.when)),
        )
        for index, rule in enumerate(ruleset.rules.values())
    )
    concluders = _concluders(rules)
    facts = {
        spec.id: _compile_fact(ruleset, spec, slots, concluders.get(spec.id, ()))
        for spec in ruleset.facts.values()
    }
    graph = dependencies(ruleset.facts.values(), ruleset.rules.values(), RECKONERS)
    depths = _depths(ruleset, graph)
    return Program(
        ruleset=ruleset,
        slots=slots,
        facts=facts,
        rules=rules,
        levels=_levels(rules, facts, depths, slots),
        treatment_rules=_treatment_rules(ruleset, rules),
        treatments=tuple(ruleset.treatments),
        readers=_told_below(ruleset, graph, depths),
        graph=graph,
        order=tuple(depths),
        car_facts=tuple(fact for fact in facts.values() if fact.spec.about is not About.PANEL),
        panel_facts=tuple(fact for fact in facts.values() if fact.spec.about is About.PANEL),
        step_order={step: place for place, step in enumerate(ruleset.steps)},
    )


def _concluders(rules: tuple[CompiledRule, ...]) -> dict[str, tuple[tuple[int, str], ...]]:
    found: dict[str, list[tuple[int, str]]] = {}
    for compiled in rules:
        for fact, value in compiled.rule.then.conclude:
            found.setdefault(fact, []).append((compiled.index, value))
    return {fact: tuple(pairs) for fact, pairs in found.items()}


def _treatment_rules(
    ruleset: RuleSet, rules: tuple[CompiledRule, ...]
) -> tuple[TreatmentRule, ...]:
    giving = [compiled for compiled in rules if compiled.rule.then.treatment]
    return tuple(
        TreatmentRule(
            compiled.index,
            ruleset.treatments[str(compiled.rule.then.treatment)].depth,
            tuple(
                other.index
                for other in giving
                if compiled.rule.id in other.rule.beats
                or (other.rule.beats_all and not compiled.rule.beats_all)
            ),
        )
        for compiled in giving
    )


def _compile_fact(
    ruleset: RuleSet,
    spec: FactSpec,
    slots: Mapping[str, int],
    concluders: tuple[tuple[int, str], ...],
) -> CompiledFact:
    reckoner = RECKONERS[spec.reckoned] if spec.reckoned else None
    return CompiledFact(
        slot=slots[spec.id],
        spec=spec,
        gate=compile_condition(spec.ask_when, slots) if spec.ask_when else None,
        refused=compile_condition(spec.refusal.when, slots) if spec.refusal else None,
        reckoner=reckoner,
        reckoning=Reckoning(reckoner, slots, ruleset) if reckoner else None,
        gathered=compile_condition(spec.gathered.condition, slots) if spec.gathered else None,
        concluders=concluders,
        told=spec.told,
        idle=spec.told and spec.ask_when is None and spec.assume is None and spec.asked,
    )


def _depths(ruleset: RuleSet, graph: Graph) -> dict[Node, int]:
    """The level of every node, in an order in which each comes after what it waits for."""
    depth: dict[Node, int] = {}
    for node in TopologicalSorter(graph).static_order():
        waits = graph[node]
        if node[0] == "rule":
            depth[node] = max((depth[waited] for waited in waits), default=0)
            continue
        across = node != TREATMENT_NODE and _reads_all_panels(ruleset.facts[node[1]])
        depth[node] = max(
            (depth[waited] + (1 if waited[0] == "rule" or across else 0) for waited in waits),
            default=0,
        )
    return depth


def _reads_all_panels(spec: FactSpec) -> bool:
    """Whether every panel must have come to the end of a level before the fact can be known."""
    if spec.gathered is not None:
        return True
    return spec.reckoned is not None and bool(RECKONERS[spec.reckoned].panels)


def _levels(
    rules: tuple[CompiledRule, ...],
    facts: Mapping[str, CompiledFact],
    depth: Mapping[Node, int],
    slots: Mapping[str, int],
) -> tuple[Level, ...]:
    levels = [Level() for _ in range(max(depth.values(), default=0) + 1)]
    # Insertion order of `depth` is topological, so facts of one level come out ready to run.
    for node, number in depth.items():
        level = levels[number]
        if node == TREATMENT_NODE:
            level.settles_treatment = True
        elif node[0] == "fact":
            fact = facts[node[1]]
            is_panel = fact.spec.about is About.PANEL
            (level.panel_facts if is_panel else level.car_facts).append(fact)
            if is_panel and fact.reckoning is not None and fact.reckoning.compares:
                level.compares.append(fact)
    for compiled in rules:
        level = levels[depth[("rule", compiled.rule.id)]]
        is_panel = compiled.rule.about is About.PANEL
        (level.panel_rules if is_panel else level.car_rules).append(compiled)
    specs = {name: fact.spec for name, fact in facts.items()}
    for level in levels:
        of_car = ((compiled.index, compiled.rule) for compiled in level.car_rules)
        of_panel = ((compiled.index, compiled.rule) for compiled in level.panel_rules)
        read = frozenset[int]().union(*(compiled.reads for compiled in level.panel_rules))
        level.panel_reads = tuple(sorted(read))
        level.car_candidates = Candidates(of_car, slots, specs)
        level.panel_candidates = Candidates(of_panel, slots, specs)
    return tuple(levels)


def _told_below(
    ruleset: RuleSet, graph: Graph, ordered: Iterable[Node]
) -> dict[str, frozenset[str]]:
    below: dict[Node, frozenset[str]] = {}
    for node in ordered:
        found = frozenset[str]().union(*(below[waited] for waited in graph[node]))
        if node[0] == "fact" and ruleset.facts[node[1]].told:
            found |= {node[1]}
        below[node] = found
    return {node[-1]: told for node, told in below.items() if node[0] != "rule"}


__all__ = [
    "TREATMENT",
    "CompiledFact",
    "CompiledRule",
    "Level",
    "Program",
    "compile_ruleset",
]
