"""The rules of a linked rule set, made out for other rule engines, and run by them.

Every engine is given the same flat facts: for one subject at one level the states of the facts its
rules read, reckoned facts, conclusions of lower levels and settled treatments included, written as
whole numbers the way `engine.reasoning.second_rows` writes them. A fact that is not known has no
number (or -1), and a test on it holds neither way. What an engine fires must be exactly the rules
that the evaluator holds true.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any, Protocol

from engine.reasoning.evaluate import Evaluation
from engine.reasoning.program import CompiledRule, Program
from engine.reasoning.second import SecondEngine
from engine.reasoning.second_rows import Attribute, Attributes, RowWriter
from engine.ruleset.model import All, Condition, Leaf, Not

Firings = dict[tuple[int, str | None], frozenset[int]]
"""The rules that fire, by index, for each level and subject (None is the car)."""

Layer = tuple[int, bool]
"""A level, and whether the rules are those of the car."""

_UNKNOWN = -1
_FEW = 4


class Peer(Protocol):
    """Another engine that runs all the rules."""

    name: str

    def fires(self, facts: Mapping[tuple[int, str | None], Mapping[str, int]]) -> Firings:
        """What fires for the flat facts of all subjects at all levels."""
        ...


@dataclass(frozen=True, slots=True)
class Flat:
    """A program as layers of rules over whole numbers."""

    program: Program
    attributes: Attributes
    rules: Mapping[Layer, tuple[CompiledRule, ...]]
    read: dict[Layer, tuple[Attribute, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # Writing the conditions out once makes every attribute there is.
        for layer, rules in self.rules.items():
            names = {name for rule in rules for name in _names(self, rule.rule.when)}
            self.read[layer] = tuple(each for each in self.attributes if each.name in names)

    def facts(self, evaluation: Evaluation) -> dict[tuple[int, str | None], dict[str, int]]:
        """The flat facts of every subject of an evaluation at every level that has rules."""
        found = {}
        for (number, of_car), read in self.read.items():
            if not self.rules[number, of_car]:
                continue
            for where in (None,) if of_car else tuple(evaluation.panels):
                vector = evaluation.subject(where).vector
                codes = ((each.name, each.encode(vector[each.slot])) for each in read)
                found[number, where] = {name: code for name, code in codes if code is not None}
        return found


def flat(program: Program) -> Flat:
    """The rules of a program, layer by layer."""
    rules: dict[Layer, tuple[CompiledRule, ...]] = {}
    for number, level in enumerate(program.levels):
        rules[number, True] = tuple(level.car_rules)
        rules[number, False] = tuple(level.panel_rules)
    return Flat(program, Attributes(program), rules)


def held(program: Program, evaluation: Evaluation) -> Firings:
    """What the evaluator holds true, in the same form."""
    found: Firings = {}
    for number, level in enumerate(program.levels):
        for where in (None, *evaluation.panels):
            rules = level.car_rules if where is None else level.panel_rules
            if rules:
                truths = evaluation.subject(where).truths
                true = (rule.index for rule in rules if truths[rule.index] is True)
                found[number, where] = frozenset(true)
    return found


# --- conditions -----------------------------------------------------------------------------------

Spans = tuple[tuple[int, int], ...]
Tree = tuple[str, tuple[Any, ...]]
"""("and", trees), ("or", trees) or ("in", (attribute, spans))."""


def tree(flat: Flat, condition: Condition, *, wanted: bool = True) -> Tree:
    """A condition without negation: attributes that must lie in spans, with and and or."""
    if isinstance(condition, Not):
        return tree(flat, condition.part, wanted=not wanted)
    if isinstance(condition, Leaf):
        tests: list[Tree] = []
        for attribute, codes in flat.attributes.allowed(condition):
            every = frozenset(range(attribute.top + 1))
            tests.append(("in", (attribute.name, _spans(codes if wanted else every - codes))))
        return tests[0] if len(tests) == 1 else ("or" if wanted else "and", tuple(tests))
    parts = tuple(tree(flat, part, wanted=wanted) for part in condition.parts)
    return ("and" if isinstance(condition, All) is wanted else "or"), parts


def _names(flat: Flat, condition: Condition) -> Iterator[str]:
    kind, parts = tree(flat, condition)
    if kind == "in":
        yield parts[0]
        return
    todo = list(parts)
    while todo:
        kind, parts = todo.pop()
        if kind == "in":
            yield parts[0]
        else:
            todo.extend(parts)


def _spans(codes: Iterable[int]) -> Spans:
    found: list[tuple[int, int]] = []
    for code in sorted(codes):
        if found and found[-1][1] == code - 1:
            found[-1] = found[-1][0], code
        else:
            found.append((code, code))
    return tuple(found)


# --- durable-rules --------------------------------------------------------------------------------


class Durable:
    """durable-rules alone, driven as the second engine drives it, with nothing remembered."""

    name = "durable-rules"

    def __init__(self, flat: Flat) -> None:
        self._engine = SecondEngine(flat.program)
        self.evaluation: Evaluation | None = None

    def fires(self, facts: Mapping[tuple[int, str | None], Mapping[str, int]]) -> Firings:
        assert self.evaluation is not None
        self._engine.forget()
        return {
            (number, where): self._engine.fires(number, self.evaluation.subject(where), where)
            for number, where in facts
        }


# --- CLIPS ----------------------------------------------------------------------------------------


class Clips:
    """CLIPS by way of clipspy: one environment a layer, one rule a row, all subjects in one run."""

    name = "CLIPS"

    def __init__(self, flat: Flat) -> None:
        import clips

        self._layers: dict[Layer, Any] = {}
        for layer, rules in flat.rules.items():
            if not rules:
                continue
            environment = clips.Environment()
            slots = " ".join(
                f"(slot {each.name} (type INTEGER) (default {_UNKNOWN}))"
                for each in flat.read[layer]
            )
            environment.build(f"(deftemplate subject (slot id (type INTEGER)) {slots})")
            environment.build("(deftemplate part (slot id) (slot name))")
            environment.build("(deftemplate fired (slot id) (slot rule))")
            for text in _clips_rules(flat, rules):
                environment.build(text)
            self._layers[layer] = environment

    def fires(self, facts: Mapping[tuple[int, str | None], Mapping[str, int]]) -> Firings:
        found: dict[tuple[int, str | None], set[int]] = {key: set() for key in facts}
        for layer, keys in groupby(sorted(facts, key=_by_layer), key=_layer):
            environment = self._layers[layer]
            template = environment.find_template("subject")
            numbered = list(keys)
            for number, key in enumerate(numbered):
                template.assert_fact(id=number, **facts[key])
            environment.run()
            for fact in environment.find_template("fired").facts():
                found[numbered[fact["id"]]].add(fact["rule"])
            environment.reset()
        return {key: frozenset(rules) for key, rules in found.items()}


def _layer(key: tuple[int, str | None]) -> Layer:
    return key[0], key[1] is None


def _by_layer(key: tuple[int, str | None]) -> tuple[int, bool, str]:
    return (*_layer(key), key[1] or "")


def _clips_rules(flat: Flat, rules: Iterable[CompiledRule]) -> Iterator[str]:
    writer = RowWriter(flat.attributes)
    for compiled in rules:
        writer.write(compiled.index, compiled.rule.when)
    for place, line in enumerate(writer.lines):
        tests = " ".join(
            f"({name} {_clips_span(name, *span)})"
            for name, span in line.row.items()
            if not name.startswith("p")
        )
        parts = " ".join(
            f"(part (id ?id) (name {name}))" for name in line.row if name.startswith("p")
        )
        then = (
            f"(part (id ?id) (name {line.owner}))"
            if isinstance(line.owner, str)
            else f"(fired (id ?id) (rule {line.owner}))"
        )
        yield f"(defrule r{place} (subject (id ?id) {tests}) {parts} => (assert {then}))"


def _clips_span(name: str, low: int, high: int) -> str:
    if high - low < _FEW:
        return "|".join(map(str, range(low, high + 1)))
    return f"?{name}&:(<= {low} ?{name} {high})"


# --- zen-engine -----------------------------------------------------------------------------------


class Zen:
    """zen-engine: one decision table a layer, one row a rule, asked subject by subject."""

    name = "zen-engine"

    def __init__(self, flat: Flat) -> None:
        import zen

        engine = zen.ZenEngine()
        self._layers: dict[Layer, tuple[Any, dict[str, int]]] = {}
        for layer, rules in flat.rules.items():
            if rules:
                unknown = {each.name: _UNKNOWN for each in flat.read[layer]}
                decision = engine.create_decision(json.dumps(_zen_table(flat, rules)))
                self._layers[layer] = decision, unknown

    def fires(self, facts: Mapping[tuple[int, str | None], Mapping[str, int]]) -> Firings:
        found: Firings = {}
        for key, states in facts.items():
            decision, unknown = self._layers[_layer(key)]
            answer = decision.evaluate({**unknown, **states})["result"]
            found[key] = frozenset(int(row["rule"]) for row in answer)
        return found


def _zen_table(flat: Flat, rules: Iterable[CompiledRule]) -> dict[str, Any]:
    rows = [
        {"_id": str(each.index), "when": _zen(tree(flat, each.rule.when)), "then": str(each.index)}
        for each in rules
    ]
    table = {
        "hitPolicy": "collect",
        "inputs": [{"id": "when", "name": "when", "field": ""}],
        "outputs": [{"id": "then", "name": "then", "field": "rule"}],
        "rules": rows,
    }
    place = {"x": 0, "y": 0}
    return {
        "contentType": "application/vnd.gorules.decision",
        "nodes": [
            {"id": "in", "name": "in", "type": "inputNode", "position": place},
            {
                "id": "table",
                "name": "table",
                "type": "decisionTableNode",
                "position": place,
                "content": table,
            },
            {"id": "out", "name": "out", "type": "outputNode", "position": place},
        ],
        "edges": [
            {"id": "first", "type": "edge", "sourceId": "in", "targetId": "table"},
            {"id": "last", "type": "edge", "sourceId": "table", "targetId": "out"},
        ],
    }


def _zen(node: Tree) -> str:
    kind, parts = node
    if kind != "in":
        empty = "true" if kind == "and" else "false"
        return "(" + (f" {kind} ".join(map(_zen, parts)) or empty) + ")"
    name, spans = parts
    tests = [
        f"{name} == {low}" if low == high else f"({name} >= {low} and {name} <= {high})"
        for low, high in spans
    ]
    return "(" + (" or ".join(tests) or "false") + ")"
