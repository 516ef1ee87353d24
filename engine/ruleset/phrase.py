"""Conditions and limits of a rule set put into plain English, apart from any job."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from engine.quantity import Kind, parse_quantity, show
from engine.ruleset.model import (
    All,
    Any,
    Condition,
    FactKind,
    FactSpec,
    Leaf,
    Limit,
    Not,
    RuleSet,
    Test,
)
from engine.ruleset.names import TREATMENT
from engine.ruleset.templates import PLACEHOLDER
from engine.words import within

_WORDS = {
    Test.ABOVE: "above",
    Test.AT_LEAST: "at least",
    Test.BELOW: "below",
    Test.AT_MOST: "at most",
}
_OPPOSITE = {
    Test.ABOVE: Test.AT_MOST,
    Test.AT_LEAST: Test.BELOW,
    Test.BELOW: Test.AT_LEAST,
    Test.AT_MOST: Test.ABOVE,
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a condition; `depth` says how far in it stands."""

    depth: int
    text: str


@dataclass(frozen=True, slots=True)
class Phrases:
    """Puts parts of one rule set into words, in the units it shows by default."""

    ruleset: RuleSet

    def unit(self, kind: Kind) -> str | None:
        """The unit amounts of this kind are shown in."""
        return self.ruleset.shown_units.get(self.ruleset.shown_by_default, {}).get(kind)

    def amount(self, amount: Fraction, kind: Kind) -> str:
        return show(amount, kind, self.unit(kind))

    def limit(self, limit: Limit) -> str:
        """A limit with its name and, where the shop set it, what the supplied set says."""
        text = f"{self.amount(limit.amount, limit.kind)} ({limit.id}"
        if limit.shop is None:
            return f"{text})"
        if limit.shop.supplied is None:
            return f"{text}, shop limit)"
        supplied = parse_quantity(limit.shop.supplied, limit.kind).amount
        return f"{text}, shop limit, supplied {self.amount(supplied, limit.kind)})"

    def test(self, leaf: Leaf, *, negated: bool = False) -> str:
        """A test in words: `typical film is above 12 mil (film.overcoat-limit)`."""
        spec = self.ruleset.facts.get(leaf.fact)
        title = within(spec.title) if spec else leaf.fact
        if leaf.test is Test.KNOWN:
            known = (leaf.operand == "yes") is not negated
            return f"{title} is {'known' if known else 'not known'}"
        if isinstance(leaf.operand, frozenset):
            wanted = " or ".join(self._members(spec, leaf))
            if spec is not None and spec.kind is FactKind.YES_NO:
                return f"{title}: {'not ' if negated else ''}{wanted}"
            verb = "includes" if leaf.test is Test.INCLUDES else "is"
            if negated:
                verb = "does not include" if leaf.test is Test.INCLUDES else "is not"
            return f"{title} {verb} {wanted}"
        word = _WORDS[_OPPOSITE[leaf.test] if negated else leaf.test]
        return f"{title} is {word} {self._operand(spec, leaf)}"

    def _operand(self, spec: FactSpec | None, leaf: Leaf) -> str:
        if leaf.limit is not None:
            return self.limit(self.ruleset.limits[leaf.limit])
        assert isinstance(leaf.operand, Fraction)
        kind = spec.quantity if spec else None
        return self.amount(leaf.operand, kind or Kind.NUMBER)

    def _members(self, spec: FactSpec | None, leaf: Leaf) -> list[str]:
        assert isinstance(leaf.operand, frozenset)
        if leaf.fact == TREATMENT:
            return [each for each in self.ruleset.treatments if each in leaf.operand]
        if spec is not None and spec.kind is not FactKind.QUANTITY:
            return [choice for choice in spec.choice_ids if choice in leaf.operand]
        kind = spec.quantity if spec and spec.quantity else Kind.NUMBER
        numbers = sorted(each for each in leaf.operand if isinstance(each, Fraction))
        return [self.amount(number, kind) for number in numbers]

    def template(self, text: str) -> str:
        """A text for people with its limits filled in and its facts named by their titles."""

        def put(match: re.Match[str]) -> str:
            name = match[1].strip()
            limit, spec = self.ruleset.limits.get(name), self.ruleset.facts.get(name)
            if limit is not None:
                return self.amount(limit.amount, limit.kind)
            return f"<{within(spec.title) if spec else name}>"

        return PLACEHOLDER.sub(put, text)

    def condition(self, condition: Condition) -> list[Line]:
        """A condition as lines: what must hold, groups set in below a line that names them."""
        return list(self._lines(condition, 0, negated=False))

    def _lines(self, condition: Condition, depth: int, *, negated: bool) -> Iterator[Line]:
        if isinstance(condition, Leaf):
            yield Line(depth, self.test(condition, negated=negated))
            return
        if isinstance(condition, Not):
            yield from self._lines(condition.part, depth, negated=not negated)
            return
        every = isinstance(condition, All) is not negated
        if every and depth == 0:
            for part in condition.parts:
                yield from self._lines(part, depth, negated=negated)
            return
        between = None if negated else self._between(condition)
        if between is not None:
            yield Line(depth, between)
            return
        yield Line(depth, "all of these:" if every else "any of these:")
        for part in condition.parts:
            yield from self._lines(part, depth + 1, negated=negated)

    def _between(self, condition: All | Any) -> str | None:
        """A range in one line, where the condition is nothing else."""
        if not isinstance(condition, All) or len(condition.parts) != 2:
            return None
        low, high = condition.parts
        if not isinstance(low, Leaf) or not isinstance(high, Leaf) or low.fact != high.fact:
            return None
        if (low.test, high.test) != (Test.AT_LEAST, Test.AT_MOST):
            return None
        end = self._operand(self.ruleset.facts.get(high.fact), high)
        return f"{self.test(low)} and at most {end}"

    def clause(self, condition: Condition, *, negated: bool = False) -> str:
        """A condition in one line."""
        if isinstance(condition, Leaf):
            return self.test(condition, negated=negated)
        if isinstance(condition, Not):
            return self.clause(condition.part, negated=not negated)
        every = isinstance(condition, All) is not negated
        parts = [self._inner(part, negated=negated) for part in condition.parts]
        return (" and " if every else " or ").join(parts)

    def _inner(self, condition: Condition, *, negated: bool) -> str:
        text = self.clause(condition, negated=negated)
        plain = condition
        while isinstance(plain, Not):
            plain = plain.part
        return text if isinstance(plain, Leaf) else f"({text})"
