"""What waits for what in a rule set: facts for facts and rules, rules for facts.

Nodes are `("fact", id)`, `("rule", id)` and `("treatment",)`, the settled treatment of a panel. A
graph maps each node to the nodes it waits for, as `graphlib.TopologicalSorter` takes it. What a
rule only shows in its text, and what it beats, is not waited for.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import Protocol

from engine.ruleset.model import All, Any, Condition, FactSpec, Leaf, Not, Rule
from engine.ruleset.names import TREATMENT

Node = tuple[str, ...]
Graph = dict[Node, tuple[Node, ...]]

TREATMENT_NODE: Node = (TREATMENT,)


class ReckonerInputs(Protocol):
    """What a reckoner takes: ids of facts, limits and tables; whether it reads paint systems.

    `also` are facts it takes where the rule set has them, `panels` facts of other panels.
    """

    @property
    def reads(self) -> tuple[str, ...]: ...
    @property
    def also(self) -> tuple[str, ...]: ...
    @property
    def panels(self) -> tuple[str, ...]: ...
    @property
    def limits(self) -> tuple[str, ...]: ...
    @property
    def tables(self) -> tuple[str, ...]: ...
    @property
    def systems(self) -> bool: ...


Reckoners = Mapping[str, ReckonerInputs]


def leaves(condition: Condition) -> Iterator[Leaf]:
    """Every test of a condition, in the order written."""
    match condition:
        case Leaf():
            yield condition
        case Not(part):
            yield from leaves(part)
        case All(parts) | Any(parts):
            for part in parts:
                yield from leaves(part)


def facts_read(condition: Condition | None) -> frozenset[str]:
    """The ids of the facts a condition tests; `treatment` among them where it is read."""
    return frozenset() if condition is None else frozenset(leaf.fact for leaf in leaves(condition))


def fact_node(id: str) -> Node:
    return TREATMENT_NODE if id == TREATMENT else ("fact", id)


def inputs_of(spec: FactSpec, reckoners: Reckoners, there: Container[str]) -> frozenset[str]:
    """The facts that must be settled before this one can be worked out.

    Where it is asked and where it is refused count as inputs. A reckoner that is not there reads
    nothing; of what it takes where there is one, only facts in `there` count.
    """
    reads = facts_read(spec.ask_when)
    if spec.refusal is not None:
        reads |= facts_read(spec.refusal.when)
    if spec.gathered is not None:
        reads |= facts_read(spec.gathered.condition)
    if spec.reckoned is not None and spec.reckoned in reckoners:
        reckoner = reckoners[spec.reckoned]
        reads |= {*reckoner.reads, *reckoner.panels}
        reads |= {read for read in reckoner.also if read in there}
    return reads


def dependencies(facts: Iterable[FactSpec], rules: Iterable[Rule], reckoners: Reckoners) -> Graph:
    """The graph of a rule set. Facts that are read but not given are nodes without inputs."""
    waits: dict[Node, set[Node]] = {TREATMENT_NODE: set()}
    specs = {spec.id: spec for spec in facts}
    for spec in specs.values():
        inputs = waits.setdefault(("fact", spec.id), set())
        inputs.update(fact_node(read) for read in inputs_of(spec, reckoners, specs))
    for rule in rules:
        node: Node = ("rule", rule.id)
        waits[node] = {fact_node(read) for read in facts_read(rule.when)}
        for concluded, _ in rule.then.conclude:
            waits.setdefault(("fact", concluded), set()).add(node)
        if rule.then.treatment is not None:
            waits[TREATMENT_NODE].add(node)
    # Sorted, because the order of a set changes from run to run and would show in messages.
    return {node: tuple(sorted(inputs)) for node, inputs in waits.items()}


def cycles(graph: Mapping[Node, Iterable[Node]]) -> list[tuple[Node, ...]]:
    """Cycles that between them break every circle of the graph; each node waits for the next.

    The last node of a cycle waits for the first. No node is in two of them.
    """
    left = {node: list(waits) for node, waits in graph.items()}
    found: list[tuple[Node, ...]] = []
    while True:
        try:
            TopologicalSorter(left).prepare()
            return found
        except CycleError as error:
            # graphlib names a cycle from what is waited for to what waits.
            path: list[Node] = list(reversed(error.args[1]))[:-1]
            found.append(tuple(path))
            left = {
                node: [waited for waited in waits if waited not in path]
                for node, waits in left.items()
                if node not in path
            }
