"""Which rules can hold at all for a subject, found by one fact each instead of trying every rule.

A rule whose condition is a conjunction is false where any test of it is. One test of each, the one
least likely to hold, is looked up by the state of its fact; only rules whose test that state leaves
true or open have to be tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from engine.reasoning.kleene import NOT_APPLICABLE, State, Vector
from engine.ruleset.model import All, Condition, FactSpec, Leaf, Rule, Test

_TREATMENTS = 8
"""How many ways a fact that is no rule set fact, the treatment, is taken to turn out."""


class Candidates:
    """Rules by index, each under the fact that is looked up for it, or among those always tried."""

    def __init__(
        self,
        rules: Iterable[tuple[int, Rule]],
        slots: Mapping[str, int],
        facts: Mapping[str, FactSpec],
    ) -> None:
        self._always: list[int] = []
        self._by_slot: dict[int, _Table] = {}
        for index, rule in rules:
            leaf = _least_likely(rule.when, facts)
            if leaf is None:
                self._always.append(index)
                continue
            assert isinstance(leaf.operand, frozenset)
            table = self._by_slot.setdefault(slots[leaf.fact], _Table())
            table.add(index, map(str, leaf.operand))

    def of(self, vector: Vector) -> list[int]:
        """The rules that may be true or open for a subject; every other one is false."""
        found = self._always.copy()
        for slot, table in self._by_slot.items():
            found += table.left_by(vector[slot])
        return found


class _Table:
    """Rules by the choices of one fact that leave them possible."""

    def __init__(self) -> None:
        self._all: list[int] = []
        self._under: dict[str, list[int]] = {}

    def add(self, index: int, choices: Iterable[str]) -> None:
        self._all.append(index)
        for choice in choices:
            self._under.setdefault(choice, []).append(index)

    def left_by(self, state: State) -> Sequence[int]:
        kind = state.__class__
        if kind is str:
            return self._under.get(state, ())
        if state is NOT_APPLICABLE:
            return ()
        if kind is frozenset:
            under = [self._under[choice] for choice in state if choice in self._under]
            if len(under) == 1:
                return under[0]
            # A rule may stand under several members.
            return list(dict.fromkeys(index for several in under for index in several))
        return self._all


def _least_likely(condition: Condition, facts: Mapping[str, FactSpec]) -> Leaf | None:
    """The test on a choice or a set, needed by the condition, that fewest states let hold."""
    best: tuple[float, Leaf] | None = None
    for leaf in _needed(condition):
        if leaf.test not in (Test.IS, Test.INCLUDES) or not isinstance(leaf.operand, frozenset):
            continue
        if not all(isinstance(member, str) for member in leaf.operand):
            continue
        spec = facts.get(leaf.fact)
        ways = len(spec.choice_ids) if spec is not None else _TREATMENTS
        share = len(leaf.operand) / max(ways, 1)
        if best is None or share < best[0]:
            best = share, leaf
    return best[1] if best else None


def _needed(condition: Condition) -> Iterator[Leaf]:
    if isinstance(condition, Leaf):
        yield condition
    elif isinstance(condition, All):
        for part in condition.parts:
            yield from _needed(part)


__all__ = ["Candidates"]
