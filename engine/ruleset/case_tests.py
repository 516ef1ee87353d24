"""The tests of all rules as worked cases see them: how each turned out, and how near a miss was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from engine.reasoning.evaluate import Evaluation
from engine.reasoning.kleene import Check, Vector, compile_condition
from engine.reasoning.program import compile_ruleset
from engine.ruleset.depends import leaves
from engine.ruleset.model import About, All, Condition, Leaf, Not, Rule, RuleSet


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
        self._numbered: list[tuple[int, About, Check]] = []
        for rule in ruleset.rules.values():
            for leaf in leaves(rule.when):
                self._add(rule, leaf)

    def _add(self, rule: Rule, leaf: Leaf) -> None:
        check = self._checks.setdefault(leaf, compile_condition(leaf, self._slots))
        key = rule.about, (leaf.fact, leaf.test, leaf.operand)
        if key not in self._numbers:
            self._numbers[key] = len(self._numbers)
            self._numbered.append((1 << self._numbers[key], rule.about, check))
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


class Watch:
    """Watches how tests turn out, case by case; what was seen both ways is not looked at again."""

    def __init__(self, numbered: list[tuple[int, About, Check]]) -> None:
        self._unseen = list(numbered)
        self._seen = NOTHING_SEEN

    def see(self, evaluation: Evaluation, panel: str) -> Seen:
        """How the tests that still matter turned out for the car and one panel."""
        held = failed = 0
        car, of_panel = evaluation.car.vector, evaluation.panels[panel].vector
        for bit, about, check in self._unseen:
            truth = check(of_panel if about is About.PANEL else car)
            if truth:
                held |= bit
            elif truth is False:
                failed |= bit
        found = Seen(held, failed)
        self._seen = self._seen.and_also(found)
        both = self._seen.held & self._seen.failed
        self._unseen = [test for test in self._unseen if not test[0] & both]
        return found


@lru_cache(maxsize=4)
def tests_of(ruleset: RuleSet) -> Tests:
    return Tests(ruleset)
