"""Every small change of a rule that its worked cases ought to notice.

One change at a time: a number a tenth higher or lower (of whole things a quarter, and one at
least), a comparison that takes in its end or
leaves it out, a test turned round, a choice or a condition left out, another treatment, an outcome
dropped. Each mutant is a whole rule set, linked as the loader would have linked it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from engine.quantity import Kind
from engine.ruleset.model import All, Any, Condition, Leaf, Not, Rule, RuleSet, Test

TENTH, QUARTER = Fraction(1, 10), Fraction(1, 4)
_WHOLE = (Kind.COUNT, Kind.YEAR)

ENDS = {
    Test.ABOVE: Test.AT_LEAST,
    Test.AT_LEAST: Test.ABOVE,
    Test.BELOW: Test.AT_MOST,
    Test.AT_MOST: Test.BELOW,
}
"""The comparison that differs only at the number itself."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """A rule changed in one way. `kind` groups changes alike; `change` says it in words."""

    rule: str
    kind: str
    change: str
    changed: Rule

    @property
    def name(self) -> str:
        return f"{self.rule}: {self.change}"

    def in_set(self, ruleset: RuleSet) -> RuleSet:
        """The rule set with this rule in place of its original."""
        return replace(ruleset, rules={**ruleset.rules, self.rule: self.changed})


def mutants(ruleset: RuleSet) -> Iterator[Mutant]:
    """Every mutant of every rule, in the order of the rule set."""
    whole = {spec.id for spec in ruleset.facts.values() if spec.quantity in _WHOLE}
    for rule in ruleset.rules.values():
        for kind, change, when in _conditions(rule.when, whole):
            yield Mutant(rule.id, kind, change, replace(rule, when=when))
        yield from _outcomes(ruleset, rule)


def _conditions(
    condition: Condition, whole: Collection[str]
) -> Iterator[tuple[str, str, Condition]]:
    if isinstance(condition, Leaf):
        yield from _tests(condition, whole)
    elif isinstance(condition, Not):
        yield (
            "test turned round",
            f"not ({_said(condition.part)}) -> {_said(condition.part)}",
            (condition.part),
        )
        for kind, change, part in _conditions(condition.part, whole):
            # Turned round inside and out is the same change told twice.
            if kind != "test turned round":
                yield kind, change, replace(condition, part=part)
    else:
        yield from _groups(condition, whole)


def _groups(group: All | Any, whole: Collection[str]) -> Iterator[tuple[str, str, Condition]]:
    for place, part in enumerate(group.parts):
        others = (*group.parts[:place], *group.parts[place + 1 :])
        if others:
            yield "condition left out", f"without {_said(part)}", replace(group, parts=others)
        for kind, change, changed in _conditions(part, whole):
            parts = (*group.parts[:place], changed, *group.parts[place + 1 :])
            yield kind, change, replace(group, parts=parts)


def _tests(leaf: Leaf, whole: Collection[str]) -> Iterator[tuple[str, str, Condition]]:
    operand = leaf.operand
    yield "test turned round", f"{_said(leaf)} -> not", Not(leaf, leaf.place)
    if isinstance(operand, Fraction):
        by = max(operand * QUARTER, 1) if leaf.fact in whole else abs(operand) * TENTH
        # A part of nothing moves nothing: such a limit is only tried at its end.
        for word, moved in (("higher", operand + by), ("lower", operand - by)) if by else ():
            yield "number moved", f"{_said(leaf)} moved {word}", replace(leaf, operand=moved)
        if leaf.test in ENDS:
            other = replace(leaf, test=ENDS[leaf.test])
            yield "end of a range", f"{_said(leaf)} -> {other.test}", other
    elif isinstance(operand, frozenset) and len(operand) > 1:
        for choice in sorted(operand, key=str):
            fewer = replace(leaf, operand=operand - {choice})
            yield "choice left out", f"{_said(leaf)} without {choice}", fewer


def _outcomes(ruleset: RuleSet, rule: Rule) -> Iterator[Mutant]:
    then = rule.then
    if then.treatment:
        order = list(ruleset.treatments)
        at = order.index(then.treatment)
        for other in order[max(at - 1, 0) : at] + order[at + 1 : at + 2]:
            changed = replace(rule, then=replace(then, treatment=other))
            yield Mutant(rule.id, "treatment changed", f"{then.treatment} -> {other}", changed)
        changed = replace(rule, then=replace(then, treatment=None))
        yield Mutant(rule.id, "treatment dropped", f"without {then.treatment}", changed)
    for key in ("steps", "holds", "cautions"):
        names: tuple[str, ...] = getattr(then, key)
        for name in names:
            left = tuple(each for each in names if each != name)
            changed = replace(rule, then=replace(then, **{key: left}))
            yield Mutant(rule.id, f"{key[:-1]} dropped", f"without the {key[:-1]} {name}", changed)
    for fact, value in then.conclude:
        left = tuple(each for each in then.conclude if each != (fact, value))
        changed = replace(rule, then=replace(then, conclude=left))
        yield Mutant(rule.id, "conclusion dropped", f"without {fact}: {value}", changed)
    if rule.applies_while_open:
        changed = replace(rule, applies_while_open=False)
        yield Mutant(rule.id, "when-open dropped", "without when-open", changed)


def _said(condition: Condition) -> str:
    if isinstance(condition, Not):
        return f"not ({_said(condition.part)})"
    if isinstance(condition, All | Any):
        word = " and " if isinstance(condition, All) else " or "
        return word.join(_said(part) for part in condition.parts)
    if condition.limit:
        return f"{condition.fact} {condition.test} ${condition.limit}"
    operand = condition.operand
    shown = "/".join(sorted(map(str, operand))) if isinstance(operand, frozenset) else str(operand)
    return f"{condition.fact} {condition.test} {shown}"
