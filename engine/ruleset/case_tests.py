"""The tests of all rules as worked cases see them: how each turned out, and how near a miss was."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from engine.reasoning.evaluate import Evaluation
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, Check, Vector, compile_condition
from engine.reasoning.program import compile_ruleset
from engine.ruleset.depends import leaves
from engine.ruleset.model import About, All, Condition, Leaf, Not, Rule, RuleSet, Test


@dataclass(frozen=True, slots=True)
class Seen:
    """Tests by their number, as bits: those that held, and those that did not."""

    held: int
    failed: int

    def and_also(self, other: Seen) -> Seen:
        return Seen(self.held | other.held, self.failed | other.failed)


NOTHING_SEEN = Seen(0, 0)


@dataclass(frozen=True, slots=True)
class OneWay:
    """A test of a rule that worked cases saw turn out one way only, or never settled."""

    rule: str
    leaf: Leaf
    holds: bool
    fails: bool


_Key = tuple[About, object]


class Tests:
    """The tests of every rule of a rule set, numbered; the same test of two rules is one."""

    def __init__(self, ruleset: RuleSet) -> None:
        self._slots = compile_ruleset(ruleset).slots
        self._checks: dict[Leaf, Check] = {}
        self._numbers: dict[_Key, int] = {}
        self._of_rules: list[tuple[str, Leaf, int]] = []
        self._numbered: list[_Test] = []
        for rule in ruleset.rules.values():
            for leaf in leaves(rule.when):
                self._add(rule, leaf)

    def _add(self, rule: Rule, leaf: Leaf) -> None:
        check = self._checks.setdefault(leaf, compile_condition(leaf, self._slots))
        key = rule.about, (leaf.fact, leaf.test, leaf.operand)
        if key not in self._numbers:
            self._numbers[key] = len(self._numbers)
            panel = rule.about is About.PANEL
            of_value = leaf.test is not Test.KNOWN
            bit = 1 << self._numbers[key]
            self._numbered.append(_Test(bit, self._slots[leaf.fact], panel, of_value, check))
        self._of_rules.append((rule.id, leaf, 1 << self._numbers[key]))

    def watch(self) -> Watch:
        """Somebody to show one case after another."""
        return Watch(self._numbered)

    def one_way(self, seen: Seen) -> Iterator[OneWay]:
        """The tests that did not turn out both ways."""
        for rule, leaf, bit in self._of_rules:
            holds, fails = bool(seen.held & bit), bool(seen.failed & bit)
            if not (holds and fails):
                yield OneWay(rule, leaf, holds, fails)

    def __len__(self) -> int:
        return len(self._of_rules)

    def fewest(self, rule: Rule, vector: Vector) -> int:
        """How many tests at least would have to turn out otherwise for a rule to fire."""
        return self._fewest(rule.when, vector, wanted=True)

    def _fewest(self, condition: Condition, vector: Vector, *, wanted: bool) -> int:
        if isinstance(condition, Leaf):
            return 0 if self._checks[condition](vector) is wanted else 1
        if isinstance(condition, Not):
            return self._fewest(condition.part, vector, wanted=not wanted)
        counts = [self._fewest(part, vector, wanted=wanted) for part in condition.parts]
        return sum(counts) if isinstance(condition, All) is wanted else min(counts)


@dataclass(frozen=True, slots=True)
class _Test:
    """A test: its bit, the fact it reads, whether as a panel sees it, and how to put it."""

    bit: int
    slot: int
    panel: bool
    of_value: bool
    check: Check


class Watch:
    """Watches how tests turn out, case by case; what was seen both ways is not looked at again."""

    def __init__(self, tests: Iterable[_Test]) -> None:
        self._unseen: dict[tuple[int, bool], list[_Test]] = {}
        for test in tests:
            self._unseen.setdefault((test.slot, test.panel), []).append(test)
        self._seen = NOTHING_SEEN

    def see(self, evaluation: Evaluation, panel: str) -> Seen:
        """How the tests that still matter turned out for the car and one panel."""
        held = failed = 0
        car, of_panel = evaluation.car.vector, evaluation.panels[panel].vector
        for (slot, by_panel), tests in self._unseen.items():
            vector = of_panel if by_panel else car
            state = vector[slot]
            if state is OPEN:
                continue
            for test in tests:
                if state is NOT_APPLICABLE and test.of_value:
                    failed |= test.bit
                    continue
                truth = test.check(vector)
                if truth:
                    held |= test.bit
                elif truth is False:
                    failed |= test.bit
        found = Seen(held, failed)
        self._forget(found)
        return found

    def _forget(self, found: Seen) -> None:
        before = self._seen.held & self._seen.failed
        self._seen = self._seen.and_also(found)
        both = self._seen.held & self._seen.failed
        if both == before:
            return
        for key, tests in list(self._unseen.items()):
            left = [test for test in tests if not test.bit & both]
            if left:
                self._unseen[key] = left
            else:
                del self._unseen[key]


@lru_cache(maxsize=4)
def tests_of(ruleset: RuleSet) -> Tests:
    return Tests(ruleset)
