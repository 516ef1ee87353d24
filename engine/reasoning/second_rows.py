"""Conditions as rows of small whole numbers, the form the second engine is given.

Every attribute of a row is a whole number. A number becomes its rank among the limits it is ever
compared with: at the i-th limit it is 2i, between two limits the odd number between theirs. A
comparison with a limit depends on that rank alone, so this is exact, and no float ever has to be
written out and read back. A choice becomes its position, a set one attribute a member tested,
and whether a fact is known at all an attribute of its own. Code 0 stands for "not applicable",
on which every test but `known: no` fails. An open fact has no attribute, an unsure one only that
of being unsure; as every test and every negated test is written as the codes it allows, neither
holds without the attribute, which is what Kleene's third value asks for.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache

from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, State
from engine.reasoning.program import Program
from engine.records import dataclass
from engine.ruleset.depends import leaves
from engine.ruleset.model import All, Any, Condition, Leaf, Not, Test
from engine.ruleset.names import TREATMENT

_STATES = 1_000
"""States of one attribute whose text is kept."""

CONJUNCTIONS = 24
"""Conjunctions one rule may be multiplied out into before a part of it becomes its own rule."""

Span = tuple[int, int]
Row = Mapping[str, Span]
"""What must hold together: for each attribute the lowest and the highest code allowed."""

Encode = Callable[[State], int | None]


@dataclass(frozen=True, slots=True)
class Attribute:
    """One attribute of a subject: the slot it comes from, its codes 0 to `top`, how to get one."""

    name: str
    slot: int
    top: int
    encode: Encode


@dataclass(frozen=True, slots=True)
class Line:
    """One row with what it is a row of: a rule (its index) or a part of one (its attribute).

    `stage` counts the parts that must have run before it.
    """

    owner: int | str
    row: Row
    stage: int


# --- attributes -----------------------------------------------------------------------------------


class Attributes:
    """The attributes of a program, made from every test in its rules."""

    def __init__(self, program: Program) -> None:
        self._program = program
        self._found: dict[tuple[str, ...], Attribute] = {}
        self._limits: dict[str, tuple[float, ...]] = {}
        self._codes: dict[str, dict[str, int]] = {}
        tests = [leaf for compiled in program.rules for leaf in leaves(compiled.rule.when)]
        self._collect(tests)

    def _collect(self, tests: Sequence[Leaf]) -> None:
        limits: dict[str, set[float]] = {}
        words: dict[str, dict[str, None]] = {}
        for leaf in tests:
            for operand in _operands(leaf):
                if isinstance(operand, Fraction):
                    limits.setdefault(leaf.fact, set()).add(float(operand))
                elif leaf.test is Test.IS:
                    words.setdefault(leaf.fact, {})[operand] = None
        self._limits = {fact: tuple(sorted(found)) for fact, found in limits.items()}
        for fact, found in words.items():
            ordered = dict.fromkeys((*self._choices(fact), *found))
            self._codes[fact] = {word: code for code, word in enumerate(ordered, start=1)}

    def _choices(self, fact: str) -> tuple[str, ...]:
        if fact == TREATMENT:
            return self._program.treatments
        return self._program.facts[fact].spec.choice_ids

    def allowed(self, leaf: Leaf) -> list[tuple[Attribute, frozenset[int]]]:
        """The codes that make a test true; of several attributes any one is enough."""
        if leaf.test is Test.KNOWN:
            return [(self._known(leaf.fact), frozenset((1 if leaf.operand == "yes" else 0,)))]
        operands = _operands(leaf)
        if leaf.test is Test.INCLUDES:
            members = sorted(str(operand) for operand in operands)
            return [(self._member(leaf.fact, member), frozenset((1,))) for member in members]
        numbers = [float(operand) for operand in operands if isinstance(operand, Fraction)]
        if numbers or leaf.test is not Test.IS:
            attribute = self._number(leaf.fact)
            ranks = [2 * self._limits[leaf.fact].index(number) + 2 for number in numbers]
            return [(attribute, _ranks(leaf.test, ranks, attribute.top))]
        codes = self._codes[leaf.fact]
        return [(self._choice(leaf.fact), frozenset(codes[str(operand)] for operand in operands))]

    def __iter__(self) -> Iterator[Attribute]:
        return iter(self._found.values())

    def _add(self, key: tuple[str, ...], top: int, encode: Encode) -> Attribute:
        if key not in self._found:
            slot = self._program.slots[key[1]]
            self._found[key] = Attribute(f"a{len(self._found)}", slot, top, encode)
        return self._found[key]

    def _known(self, fact: str) -> Attribute:
        return self._add(("known", fact), 1, _known_code)

    def _member(self, fact: str, member: str) -> Attribute:
        def encode(state: State) -> int | None:
            if state.__class__ is frozenset:
                return 1 if member in state else 0
            return 0 if state is NOT_APPLICABLE else None

        return self._add(("member", fact, member), 1, encode)

    def _number(self, fact: str) -> Attribute:
        limits = self._limits[fact]

        def encode(state: State) -> int | None:
            if state.__class__ is float:
                place = bisect_left(limits, state)
                at = place < len(limits) and limits[place] == state
                return 2 * place + 2 if at else 2 * place + 1
            return 0 if state is NOT_APPLICABLE else None

        return self._add(("number", fact), 2 * len(limits) + 1, encode)

    def _choice(self, fact: str) -> Attribute:
        codes = self._codes[fact]
        other = len(codes) + 1

        def encode(state: State) -> int | None:
            if state.__class__ is str:
                return codes.get(state, other)
            return 0 if state is NOT_APPLICABLE else None

        return self._add(("choice", fact), other, encode)


def _known_code(state: State) -> int | None:
    if state is OPEN:
        return None
    return 0 if state is UNSURE or state is NOT_APPLICABLE else 1


def _operands(leaf: Leaf) -> tuple[str | Fraction, ...]:
    if isinstance(leaf.operand, frozenset):
        return tuple(leaf.operand)
    return (leaf.operand,)


def _ranks(test: Test, ranks: Sequence[int], top: int) -> frozenset[int]:
    if test is Test.IS:
        return frozenset(ranks)
    (rank,) = ranks
    if test is Test.ABOVE:
        return frozenset(range(rank + 1, top + 1))
    if test is Test.AT_LEAST:
        return frozenset(range(rank, top + 1))
    return frozenset(range(1, rank + 1 if test is Test.AT_MOST else rank))


class Texts(dict[State, "str | None"]):
    """One attribute as a fact has it, by the states it was met in; None where it has it not."""

    def __init__(self, attribute: Attribute) -> None:
        super().__init__()
        self._attribute = attribute

    def __missing__(self, state: State) -> str | None:
        if len(self) >= _STATES:
            self.clear()
        code = self._attribute.encode(state)
        text = self[state] = None if code is None else state_text(self._attribute.name, code)
        return text


@cache
def state_text(name: str, code: int) -> str:
    """One attribute as a fact has it, made once."""
    return f'"{name}": {code}'


# --- rows -----------------------------------------------------------------------------------------

_Choices = list[tuple[str, frozenset[int]]]
_Rows = list[dict[str, Span]]


class RowWriter:
    """Writes conditions as lines; parts that would multiply out too far get lines of their own."""

    def __init__(self, attributes: Attributes, conjunctions: int = CONJUNCTIONS) -> None:
        self._attributes = attributes
        self._most = conjunctions
        self._stages: dict[str, int] = {}
        self.lines: list[Line] = []

    def write(self, owner: int, condition: Condition) -> None:
        """Add the lines of one rule; it fires where any of them does."""
        for row in self._rows(condition, wanted=True):
            self._add(owner, row)

    def _add(self, owner: int | str, row: Row) -> None:
        self.lines.append(Line(owner, row, self._stage(row)))

    def _stage(self, row: Row) -> int:
        return max((self._stages.get(name, 0) for name in row), default=0)

    def _rows(self, condition: Condition, *, wanted: bool) -> _Rows:
        if isinstance(condition, Not):
            return self._rows(condition.part, wanted=not wanted)
        if isinstance(condition, Leaf):
            choices = self._choices(condition, wanted)
            return self._any(choices, []) if wanted else self._all(choices, [])
        together = isinstance(condition, All) is wanted
        choices = []
        others: list[_Rows] = []
        for part, sense in _flat(condition, wanted, together):
            if isinstance(part, Leaf) and self._joins(part, sense, together):
                choices += self._choices(part, sense)
            else:
                others.append(self._rows(part, wanted=sense))
        return self._all(choices, others) if together else self._any(choices, others)

    @staticmethod
    def _joins(leaf: Leaf, wanted: bool, together: bool) -> bool:
        """Whether a test, negated or not, reads as the group around it does."""
        several = leaf.test is Test.INCLUDES and len(_operands(leaf)) > 1
        return not several or wanted is not together

    def _choices(self, leaf: Leaf, wanted: bool) -> _Choices:
        return [
            (
                attribute.name,
                codes if wanted else frozenset(range(attribute.top + 1)) - codes,
            )
            for attribute, codes in self._attributes.allowed(leaf)
        ]

    def _any(self, choices: _Choices, others: list[_Rows]) -> _Rows:
        merged: dict[str, frozenset[int]] = {}
        for name, codes in choices:
            merged[name] = merged.get(name, frozenset()) | codes
        rows = [{name: span} for name, codes in merged.items() for span in _spans(codes)]
        return _without_repeats([*rows, *(row for rows in others for row in rows)])

    def _all(self, choices: _Choices, others: list[_Rows]) -> _Rows:
        merged: dict[str, frozenset[int]] = {}
        for name, codes in choices:
            merged[name] = merged[name] & codes if name in merged else codes
        factors = [
            *([{name: span} for span in _spans(codes)] for name, codes in merged.items()),
            *others,
        ]
        product: _Rows = [{}]
        for factor in sorted(factors, key=len):
            fits = len(product) * len(factor) <= self._most
            product = _without_repeats(
                joined
                for one in product
                for other in (factor if fits else self._own_rule(factor))
                if (joined := _joined(one, other)) is not None
            )
        return product

    def _own_rule(self, rows: _Rows) -> _Rows:
        """Rows that run a stage earlier and leave one attribute behind where any holds."""
        if len(rows) <= 1:
            return rows
        name = f"p{len(self._stages)}"
        for row in rows:
            self._add(name, row)
        self._stages[name] = 1 + max(self._stage(row) for row in rows)
        return [{name: (1, 1)}]


def _flat(condition: Condition, wanted: bool, together: bool) -> Iterable[tuple[Condition, bool]]:
    """The parts of a group with those of groups inside it that mean the same."""
    if isinstance(condition, Not):
        yield from _flat(condition.part, not wanted, together)
    elif isinstance(condition, All | Any) and (isinstance(condition, All) is wanted) is together:
        for part in condition.parts:
            yield from _flat(part, wanted, together)
    else:
        yield condition, wanted


def _spans(codes: Iterable[int]) -> list[Span]:
    """Codes as runs, each from its lowest to its highest."""
    found: list[Span] = []
    for code in sorted(codes):
        if found and found[-1][1] == code - 1:
            found[-1] = (found[-1][0], code)
        else:
            found.append((code, code))
    return found


def _joined(one: Row, other: Row) -> dict[str, Span] | None:
    joined = dict(one)
    for name, (low, high) in other.items():
        if name in joined:
            low, high = max(low, joined[name][0]), min(high, joined[name][1])
            if low > high:
                return None
        joined[name] = (low, high)
    return joined


def _without_repeats(rows: Iterable[dict[str, Span]]) -> _Rows:
    return list({tuple(sorted(row.items())): row for row in rows}.values())


__all__ = ["CONJUNCTIONS", "Attribute", "Attributes", "Line", "Row", "RowWriter", "Span"]
