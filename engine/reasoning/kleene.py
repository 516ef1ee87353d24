"""Three-valued conditions, compiled to closures over a vector of fact states.

True, False and None (open) follow Kleene's strong logic of indeterminacy (S. C. Kleene,
Introduction to Metamathematics, 1952, section 64). A vector holds one state a fact: a float for
numbers, a str for choices, a frozenset for sets, a tuple for lists, or one of the three marks
below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any as Anything
from typing import Final

from engine.ruleset.model import All, Condition, Leaf, Not, Test


class Mark:
    """A state that is not a value."""

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        self.name = name

    def __repr__(self) -> str:
        return self.name


OPEN: Final = None
"""Nobody has told it yet."""
UNSURE: Final = Mark("unsure")
"""Told, and the answer was "don't know"."""
NOT_APPLICABLE: Final = Mark("not applicable")

Truth = bool | None
State = Anything
Vector = Sequence[State]
Check = Callable[[Vector], Truth]


def compile_condition(condition: Condition, slots: Mapping[str, int]) -> Check:
    """A closure that tells whether `condition` holds for a vector laid out by `slots`."""
    if isinstance(condition, Leaf):
        return _leaf(condition, slots[condition.fact])
    if isinstance(condition, Not):
        return _negation(compile_condition(condition.part, slots))
    parts = tuple(compile_condition(part, slots) for part in condition.parts)
    if len(parts) == 1:
        return parts[0]
    return _conjunction(parts) if isinstance(condition, All) else _disjunction(parts)


def _conjunction(parts: tuple[Check, ...]) -> Check:
    if len(parts) == 2:
        first, second = parts

        def both(vector: Vector) -> Truth:
            left = first(vector)
            if left is False:
                return False
            right = second(vector)
            if right is False:
                return False
            return True if left and right else None

        return both

    def every(vector: Vector) -> Truth:
        result: Truth = True
        for part in parts:
            truth = part(vector)
            if truth is False:
                return False
            if truth is None:
                result = None
        return result

    return every


def _disjunction(parts: tuple[Check, ...]) -> Check:
    def some(vector: Vector) -> Truth:
        result: Truth = False
        for part in parts:
            truth = part(vector)
            if truth is True:
                return True
            if truth is None:
                result = None
        return result

    return some


def _negation(part: Check) -> Check:
    def negated(vector: Vector) -> Truth:
        truth = part(vector)
        return None if truth is None else not truth

    return negated


def _leaf(leaf: Leaf, slot: int) -> Check:
    if leaf.test is Test.KNOWN:
        return _known(slot, leaf.operand == "yes")
    if leaf.test is Test.INCLUDES:
        return _includes(slot, frozenset(map(str, _members(leaf))))
    if leaf.test is Test.IS:
        members = _members(leaf)
        if all(isinstance(member, str) for member in members):
            return _is_choice(slot, frozenset(map(str, members)))
        return _is_number(slot, frozenset(float(member) for member in members))
    assert not isinstance(leaf.operand, frozenset)
    return _compare(leaf.test, slot, float(leaf.operand))


def _members(leaf: Leaf) -> frozenset[Anything]:
    assert isinstance(leaf.operand, frozenset)
    return leaf.operand


def _known(slot: int, wanted: bool) -> Check:
    def known(vector: Vector) -> Truth:
        state = vector[slot]
        if state is OPEN:
            return None
        return (state is not UNSURE and state is not NOT_APPLICABLE) is wanted

    return known


def _is_choice(slot: int, members: frozenset[str]) -> Check:
    if len(members) == 1:
        (member,) = members

        def equals(vector: Vector) -> Truth:
            state = vector[slot]
            if state.__class__ is str:
                return bool(state == member)
            return False if state is NOT_APPLICABLE else None

        return equals

    def one_of(vector: Vector) -> Truth:
        state = vector[slot]
        if state.__class__ is str:
            return state in members
        return False if state is NOT_APPLICABLE else None

    return one_of


def _is_number(slot: int, members: frozenset[float]) -> Check:
    def equals(vector: Vector) -> Truth:
        state = vector[slot]
        if state.__class__ is float:
            return state in members
        return False if state is NOT_APPLICABLE else None

    return equals


def _includes(slot: int, members: frozenset[str]) -> Check:
    def includes(vector: Vector) -> Truth:
        state = vector[slot]
        if state.__class__ is frozenset:
            return not members.isdisjoint(state)
        return False if state is NOT_APPLICABLE else None

    return includes


def _compare(test: Test, slot: int, limit: float) -> Check:
    if test is Test.ABOVE:

        def above(vector: Vector) -> Truth:
            state = vector[slot]
            if state.__class__ is float:
                return bool(state > limit)
            return False if state is NOT_APPLICABLE else None

        return above
    if test is Test.AT_LEAST:

        def at_least(vector: Vector) -> Truth:
            state = vector[slot]
            if state.__class__ is float:
                return bool(state >= limit)
            return False if state is NOT_APPLICABLE else None

        return at_least
    if test is Test.BELOW:

        def below(vector: Vector) -> Truth:
            state = vector[slot]
            if state.__class__ is float:
                return bool(state < limit)
            return False if state is NOT_APPLICABLE else None

        return below

    def at_most(vector: Vector) -> Truth:
        state = vector[slot]
        if state.__class__ is float:
            return bool(state <= limit)
        return False if state is NOT_APPLICABLE else None

    return at_most


__all__ = [
    "NOT_APPLICABLE",
    "OPEN",
    "UNSURE",
    "Check",
    "Mark",
    "State",
    "Truth",
    "Vector",
    "compile_condition",
]
