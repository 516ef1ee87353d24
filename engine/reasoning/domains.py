"""The answers worth trying for a question: one for every way the rules could tell them apart.

Choices are tried one by one, sets by members, pairs and whatever one rule asks for together,
numbers at and between the limits any rule compares them with, readings as whole surveys around
those limits. "Don't know" is an answer too where a rule tests whether the fact is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import combinations, pairwise

from engine.facts import FactValue, Spots, Told
from engine.quantity import Kind
from engine.reasoning.program import Program
from engine.ruleset.depends import leaves
from engine.ruleset.model import Condition, FactKind, FactSpec, Leaf, Test

_WHOLE = (Kind.COUNT, Kind.YEAR)
_LENGTHS = (Kind.THICKNESS, Kind.DEPTH)
_GRID = 4
_SPOTS = 3
_ALL_SUBSETS_UP_TO = 4


class Domains:
    """The representative answers of every told fact of a program, worked out once each."""

    def __init__(self, program: Program) -> None:
        self._program = program
        self._found: dict[str, tuple[Told, ...]] = {}
        self._points: dict[str, set[Fraction]] = {}
        self._together: dict[str, set[frozenset[str]]] = {}
        self._known_tested: set[str] = set()
        for condition in _conditions(program):
            included: dict[str, set[str]] = {}
            for leaf in leaves(condition):
                self._points.setdefault(leaf.fact, set()).update(_numbers(leaf))
                if leaf.test is Test.KNOWN:
                    self._known_tested.add(leaf.fact)
                elif leaf.test is Test.INCLUDES:
                    included.setdefault(leaf.fact, set()).add(min(map(str, _members(leaf))))
            for fact, members in included.items():
                self._together.setdefault(fact, set()).add(frozenset(members))

    def of(self, fact: str) -> tuple[Told, ...]:
        """Answers that stand for all others; the most ordinary first where that is known."""
        if fact not in self._found:
            spec = self._program.facts[fact].spec
            values = sorted_unique(self._values(spec))
            unsure = (Told(None, ""),) if fact in self._known_tested else ()
            self._found[fact] = (*(Told(value, "") for value in values), *unsure)
        return self._found[fact]

    def _values(self, spec: FactSpec) -> Iterable[FactValue]:
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
            return [choice for choice in spec.choice_ids if choice not in spec.not_yet]
        if spec.kind is FactKind.SET:
            return [*_subsets(spec), *self._joint_subsets(spec)]
        if spec.kind is FactKind.TEXT:
            return ["text"]
        points = self._points.get(spec.id, set()) | self._points_above(spec)
        if spec.kind is FactKind.LIST:
            return _surveys(_between(points, spec))
        return _between(points, spec)

    def _joint_subsets(self, spec: FactSpec) -> list[frozenset[str]]:
        found = sorted(self._together.get(spec.id, ()), key=sorted)
        return [members for members in found if spec.alone not in members]

    def _points_above(self, spec: FactSpec) -> set[Fraction]:
        """Limits that reckoned facts resting on this one are compared with."""
        found: set[Fraction] = set()
        rests = False
        for other, told in self._program.readers.items():
            reckoned = other != "treatment" and self._program.facts[other].spec.reckoned
            if reckoned and spec.id in told:
                rests = True
                if self._program.facts[other].spec.quantity in _LENGTHS:
                    found |= self._points.get(other, set())
        if rests and spec.kind is FactKind.QUANTITY and spec.plausible:
            low, high = spec.plausible
            found |= {low + (high - low) * step / _GRID for step in range(_GRID + 1)}
        return found if spec.quantity in _LENGTHS or spec.kind is FactKind.QUANTITY else set()


def _conditions(program: Program) -> Iterable[Condition]:
    for compiled in program.rules:
        yield compiled.rule.when
    for spec in program.ruleset.facts.values():
        if spec.ask_when:
            yield spec.ask_when
        if spec.refusal:
            yield spec.refusal.when
        if spec.gathered:
            yield spec.gathered.condition


def _members(leaf: Leaf) -> frozenset[str | Fraction]:
    return frozenset(leaf.operand) if isinstance(leaf.operand, frozenset) else frozenset()


def _numbers(leaf: Leaf) -> set[Fraction]:
    operand = leaf.operand
    if isinstance(operand, Fraction):
        return {operand}
    if isinstance(operand, frozenset):
        return {member for member in operand if isinstance(member, Fraction)}
    return set()


def _subsets(spec: FactSpec) -> list[frozenset[str]]:
    members = [choice for choice in spec.choice_ids if choice not in spec.not_yet]
    free = [choice for choice in members if choice != spec.alone]
    found = [frozenset((spec.alone,))] if spec.alone else [frozenset()]
    largest = len(free) if len(free) <= _ALL_SUBSETS_UP_TO else 2
    for size in range(1, largest + 1):
        found += [frozenset(chosen) for chosen in combinations(free, size)]
    return found


def _between(points: set[Fraction], spec: FactSpec) -> list[Fraction]:
    whole = spec.quantity in _WHOLE
    ordered = sorted(points)
    if not ordered:
        ordered = [spec.plausible[0] if spec.plausible else Fraction(1)]
    margin = Fraction(1) if whole else max(abs(ordered[-1]), Fraction(1)) / 2
    found = [ordered[0] - margin, ordered[0]]
    for low, high in pairwise(ordered):
        middle = (low + high) / 2
        found += [Fraction(int(middle)) if whole else middle, high]
    found.append(ordered[-1] + margin)
    if spec.plausible:
        low, high = spec.plausible
        found = [point for point in found if low <= point <= high] + [low, high]
    return sorted(set(found))


def _surveys(points: list[Fraction]) -> list[Spots]:
    even: list[Spots] = [((point,),) * _SPOTS for point in points]
    stepped: list[Spots] = [
        ((low,),) * _SPOTS + ((high,),) * _SPOTS for low, high in combinations(points, 2)
    ]
    peaked: list[Spots] = [
        ((low,),) * (2 * _SPOTS) + ((high,),) for low, high in combinations(points, 2)
    ]
    return even + stepped[: 4 * len(points)] + peaked[: 4 * len(points)]


def sorted_unique(values: Iterable[FactValue]) -> list[FactValue]:
    """The values once each, in the order given."""
    return list(dict.fromkeys(values))
