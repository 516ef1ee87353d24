"""A rule set made ready to run: slots for facts, and levels in which rules may run.

A level holds what can be worked out once all lower levels are done: first the facts of the level
(refused values set aside, gates, reckoned, concluded and gathered facts), then its rules. Rules of
one level never read what another rule of it concludes, so negation is well defined and their order
does not matter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from graphlib import TopologicalSorter

from engine.reasoning.kleene import Check, compile_condition, facts_read
from engine.reckoning.reckoners import RECKONERS, Reckoner
from engine.ruleset.model import About, FactKind, FactSpec, Rule, RuleSet

TREATMENT = "treatment"
"""The settled treatment of a panel, read like a fact by later rules."""


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
    gathered: Check | None
    concluders: tuple[tuple[int, str], ...]
    is_number: bool


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


@dataclass(frozen=True, slots=True)
class Program:
    """A compiled rule set. `slots` maps fact ids (and `treatment`) to vector positions."""

    ruleset: RuleSet
    slots: Mapping[str, int]
    facts: Mapping[str, CompiledFact]
    rules: tuple[CompiledRule, ...]
    levels: tuple[Level, ...]
    car_slots: tuple[int, ...]
    panel_slots: tuple[int, ...]
    treatment_rules: tuple[TreatmentRule, ...]
    treatments: tuple[str, ...]
    readers: Mapping[str, frozenset[str]]
    """Fact id -> ids of the told facts it rests on, itself included."""

    @property
    def width(self) -> int:
        return len(self.slots)


def fact_inputs(spec: FactSpec) -> frozenset[str]:
    """The facts that must be settled before the state of this one can be worked out."""
    reads = facts_read(spec.ask_when)
    if spec.refusal is not None:
        reads |= facts_read(spec.refusal.when)
    if spec.reckoned is not None:
        reads |= frozenset(RECKONERS[spec.reckoned].reads)
    if spec.gathered is not None:
        reads |= facts_read(spec.gathered.condition)
    return reads


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
        spec.id: _compile_fact(spec, slots, concluders.get(spec.id, ()))
        for spec in ruleset.facts.values()
    }
    depth = _depths(ruleset, rules, concluders)
    return Program(
        ruleset=ruleset,
        slots=slots,
        facts=facts,
        rules=rules,
        levels=_levels(ruleset, rules, facts, depth),
        car_slots=tuple(
            slots[spec.id] for spec in ruleset.facts.values() if spec.about is not About.PANEL
        ),
        panel_slots=(
            *(slots[spec.id] for spec in ruleset.facts.values() if spec.about is About.PANEL),
            slots[TREATMENT],
        ),
        treatment_rules=_treatment_rules(ruleset, rules),
        treatments=tuple(ruleset.treatments),
        readers=_told_below(ruleset, concluders, rules),
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
    spec: FactSpec, slots: Mapping[str, int], concluders: tuple[tuple[int, str], ...]
) -> CompiledFact:
    return CompiledFact(
        slot=slots[spec.id],
        spec=spec,
        gate=compile_condition(spec.ask_when, slots) if spec.ask_when else None,
        refused=compile_condition(spec.refusal.when, slots) if spec.refusal else None,
        reckoner=RECKONERS[spec.reckoned] if spec.reckoned else None,
        gathered=compile_condition(spec.gathered.condition, slots) if spec.gathered else None,
        concluders=concluders,
        is_number=spec.kind is FactKind.QUANTITY,
    )


_Node = tuple[str, str]


def _graph(
    ruleset: RuleSet,
    rules: tuple[CompiledRule, ...],
    concluders: Mapping[str, tuple[tuple[int, str], ...]],
) -> dict[_Node, set[_Node]]:
    """Each node of the program with the nodes it waits for."""
    graph: dict[_Node, set[_Node]] = {}
    for spec in ruleset.facts.values():
        waits: set[_Node] = {("fact", fact) for fact in fact_inputs(spec)}
        waits |= {("rule", rules[index].rule.id) for index, _ in concluders.get(spec.id, ())}
        graph[("fact", spec.id)] = waits
    for compiled in rules:
        graph[("rule", compiled.rule.id)] = {
            ("fact", fact) for fact in facts_read(compiled.rule.when)
        }
    graph[("fact", TREATMENT)] = {
        ("rule", compiled.rule.id) for compiled in rules if compiled.rule.then.treatment
    }
    return graph


def _depths(
    ruleset: RuleSet,
    rules: tuple[CompiledRule, ...],
    concluders: Mapping[str, tuple[tuple[int, str], ...]],
) -> dict[_Node, int]:
    graph = _graph(ruleset, rules, concluders)
    depth: dict[_Node, int] = {}
    for node in TopologicalSorter(graph).static_order():
        kind, name = node
        below = [(waited, depth[waited]) for waited in graph[node]]
        if kind == "rule":
            depth[node] = max((level for _, level in below), default=0)
            continue
        gathered = name != TREATMENT and ruleset.facts[name].gathered is not None
        depth[node] = max(
            (level + (1 if waited[0] == "rule" or gathered else 0) for waited, level in below),
            default=0,
        )
    return depth


def _levels(
    ruleset: RuleSet,
    rules: tuple[CompiledRule, ...],
    facts: Mapping[str, CompiledFact],
    depth: Mapping[_Node, int],
) -> tuple[Level, ...]:
    levels = [Level() for _ in range(max(depth.values(), default=0) + 1)]
    # Insertion order of `depth` is topological, so facts of one level come out ready to run.
    for (kind, name), number in depth.items():
        level = levels[number]
        if kind == "rule":
            continue
        if name == TREATMENT:
            level.settles_treatment = True
        elif ruleset.facts[name].about is About.PANEL:
            level.panel_facts.append(facts[name])
        else:
            level.car_facts.append(facts[name])
    for compiled in rules:
        level = levels[depth[("rule", compiled.rule.id)]]
        is_panel = compiled.rule.about is About.PANEL
        (level.panel_rules if is_panel else level.car_rules).append(compiled)
    return tuple(levels)


def _told_below(
    ruleset: RuleSet,
    concluders: Mapping[str, tuple[tuple[int, str], ...]],
    rules: tuple[CompiledRule, ...],
) -> dict[str, frozenset[str]]:
    graph = _graph(ruleset, rules, concluders)
    below: dict[_Node, frozenset[str]] = {}
    for node in TopologicalSorter(graph).static_order():
        kind, name = node
        found = frozenset().union(*(below[waited] for waited in graph[node]))
        if kind == "fact" and name != TREATMENT and ruleset.facts[name].told:
            found |= {name}
        below[node] = found
    return {name: told for (kind, name), told in below.items() if kind == "fact"}


__all__ = [
    "TREATMENT",
    "CompiledFact",
    "CompiledRule",
    "Level",
    "Program",
    "compile_ruleset",
    "fact_inputs",
]
