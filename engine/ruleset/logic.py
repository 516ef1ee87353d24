"""What conditions say whatever the car: which are the same, and which can never hold.

A condition is spread into alternatives, each a list of tests that must all turn out as said. An
alternative is impossible where the tests of one fact leave it no value. Facts are taken one by
one here; what only several facts together rule out is for `rules prove`.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from engine.quantity import Kind
from engine.ruleset.model import (
    All,
    Condition,
    FactKind,
    FactSpec,
    Leaf,
    Not,
    Rule,
    RuleSet,
    Test,
)
from engine.ruleset.names import TREATMENT

MOST_ALTERNATIVES = 4096
"""Past this a condition is not spread out and taken to be possible."""

_WHOLE = (Kind.COUNT, Kind.YEAR)


@dataclass(frozen=True, slots=True)
class Said:
    """A test and how it must turn out."""

    leaf: Leaf
    holds: bool


Alternative = tuple[Said, ...]


def same_key(condition: Condition, *, negated: bool = False) -> Hashable:
    """Equal for conditions that say the same, whatever the order and nesting they say it in."""
    if isinstance(condition, Leaf):
        return (condition.fact, condition.test, condition.operand, negated)
    if isinstance(condition, Not):
        return same_key(condition.part, negated=not negated)
    every = isinstance(condition, All) is not negated
    parts: set[Hashable] = set()
    for part in condition.parts:
        key = same_key(part, negated=negated)
        if isinstance(key, tuple) and key and key[0] is every:
            parts |= key[1]
        else:
            parts.add(key)
    return next(iter(parts)) if len(parts) == 1 else (every, frozenset(parts))


def alternatives(condition: Condition) -> list[Alternative] | None:
    """The ways a condition can hold; None where there are too many to tell."""
    return _ways(condition, holds=True)


def _ways(condition: Condition, *, holds: bool) -> list[Alternative] | None:
    if isinstance(condition, Leaf):
        return [(Said(condition, holds),)]
    if isinstance(condition, Not):
        return _ways(condition.part, holds=not holds)
    spread = [_ways(part, holds=holds) for part in condition.parts]
    found: list[Alternative] = [()] if isinstance(condition, All) is holds else []
    for ways in spread:
        if ways is None:
            return None
        if isinstance(condition, All) is holds:
            if len(found) * len(ways) > MOST_ALTERNATIVES:
                return None
            found = [(*before, *after) for before in found for after in ways]
        else:
            found += ways
    return found


class Possible:
    """Which conditions the facts of a rule set leave possible."""

    def __init__(self, ruleset: RuleSet) -> None:
        self._facts = ruleset.facts
        self._concluded = _concluded(ruleset)
        given = dict.fromkeys(
            rule.then.treatment for rule in ruleset.rules.values() if rule.then.treatment
        )
        self._treatments = frozenset(map(str, given))

    def clash(self, condition: Condition) -> Alternative | None:
        """Tests of one fact that keep the condition from ever holding; None where it can hold."""
        ways = alternatives(condition)
        if ways is None:
            return None
        first: Alternative | None = None
        for way in ways:
            found = self._clash(way)
            if found is None:
                return None
            first = first or found
        return first

    def _clash(self, way: Alternative) -> Alternative | None:
        by_fact: dict[str, list[Said]] = {}
        for said in way:
            by_fact.setdefault(said.leaf.fact, []).append(said)
        for fact, tests in by_fact.items():
            if not self._can_hold(fact, tests):
                return tuple(self._fewest(fact, tests))
        return None

    def _fewest(self, fact: str, tests: list[Said]) -> list[Said]:
        """The tests without those that do not matter to the clash."""
        kept = list(dict.fromkeys(tests))
        for said in list(kept):
            fewer = [other for other in kept if other is not said]
            if fewer and not self._can_hold(fact, fewer):
                kept = fewer
        return kept

    def _can_hold(self, fact: str, tests: Iterable[Said]) -> bool:
        said = list(tests)
        if fact == TREATMENT:
            return bool(_choices_left(self._treatments | {"not applicable"}, said))
        spec = self._facts[fact]
        if any(_allows_no_value(mark, said) for mark in _marks(spec)):
            return True
        if any(test.leaf.test is Test.KNOWN and _wants_known(test) is False for test in said):
            return False
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
            return bool(_choices_left(self._choices(spec), said))
        if spec.kind is FactKind.SET:
            return _a_set_fits(spec, said)
        if spec.kind is FactKind.QUANTITY:
            return _a_number_fits(spec, said)
        return True

    def _choices(self, spec: FactSpec) -> frozenset[str]:
        return self._concluded.get(spec.id, frozenset(spec.choice_ids) - spec.not_yet)


def _concluded(ruleset: RuleSet) -> Mapping[str, frozenset[str]]:
    found = {
        spec.id: {spec.otherwise} for spec in ruleset.facts.values() if spec.otherwise is not None
    }
    for rule in ruleset.rules.values():
        for fact, value in rule.then.conclude:
            found[fact].add(value)
    return {fact: frozenset(map(str, values)) for fact, values in found.items()}


def _marks(spec: FactSpec) -> Iterator[str]:
    """The states without a value that a settled fact can be in."""
    if spec.told and spec.assume is None:
        yield "not known"
    if spec.ask_when is not None or spec.reckoned is not None or not spec.asked:
        yield "not applicable"


def _wants_known(said: Said) -> bool | None:
    if said.leaf.test is not Test.KNOWN:
        return None
    return (said.leaf.operand == "yes") is said.holds


def _allows_no_value(mark: str, tests: Iterable[Said]) -> bool:
    """Whether a fact without a value lets every test turn out as said.

    A test on a value is open while the fact is not known and false where it does not apply.
    """
    for said in tests:
        wants = _wants_known(said)
        if wants is True or (wants is None and (said.holds or mark == "not known")):
            return False
    return True


def _choices_left(choices: Iterable[str], tests: Iterable[Said]) -> set[str]:
    left = set(choices)
    for said in tests:
        if isinstance(said.leaf.operand, frozenset):
            members = {str(member) for member in said.leaf.operand}
            left = left & members if said.holds else left - members
    return left


def _a_set_fits(spec: FactSpec, tests: Iterable[Said]) -> bool:
    groups: list[set[str]] = []
    barred: set[str] = set(spec.not_yet)
    for said in tests:
        if said.leaf.test is Test.INCLUDES and isinstance(said.leaf.operand, frozenset):
            members = {str(member) for member in said.leaf.operand}
            if said.holds:
                groups.append(members)
            else:
                barred |= members
    alone = spec.alone
    if alone is not None and alone not in barred and all(alone in group for group in groups):
        return True
    free = set(spec.choice_ids) - barred - ({alone} if alone else set())
    return bool(free) and all(group & free for group in groups)


def _a_number_fits(spec: FactSpec, tests: Iterable[Said]) -> bool:
    low, high = spec.plausible or (None, None)
    open_low = open_high = False
    points: set[Fraction] | None = None
    barred: set[Fraction] = set()
    for said in tests:
        operand, test = said.leaf.operand, said.leaf.test
        if isinstance(operand, frozenset):
            numbers = {each for each in operand if isinstance(each, Fraction)}
            if said.holds:
                points = numbers if points is None else points & numbers
            else:
                barred |= numbers
        elif isinstance(operand, Fraction):
            if (test in (Test.ABOVE, Test.AT_LEAST)) is said.holds:
                strict = test in (Test.ABOVE, Test.AT_MOST)
                if low is None or operand > low or (operand == low and strict):
                    low, open_low = operand, strict
            else:
                strict = test in (Test.BELOW, Test.AT_LEAST)
                if high is None or operand < high or (operand == high and strict):
                    high, open_high = operand, strict

    def inside(number: Fraction) -> bool:
        if number in barred:
            return False
        over = low is None or number > low or (number == low and not open_low)
        under = high is None or number < high or (number == high and not open_high)
        return over and under

    if points is not None:
        return any(inside(point) for point in points)
    if low is None or high is None:
        return True
    if spec.quantity in _WHOLE:
        first = low.__ceil__()
        return any(inside(Fraction(first + step)) for step in range(len(barred) + 3))
    return low < high or (low == high and inside(low))


# --- what a rule gives ------------------------------------------------------------------------


def effects(rule: Rule) -> frozenset[tuple[str, str]]:
    """What a rule gives when it fires."""
    then = rule.then
    given = {("conclude", f"{fact}={value}") for fact, value in then.conclude}
    given |= {("step", step) for step in then.steps}
    given |= {("caution", topic) for topic in then.cautions}
    given |= {("hold", topic) for topic in then.holds}
    if then.treatment is not None:
        given.add(("treatment", then.treatment))
    return frozenset(given)
