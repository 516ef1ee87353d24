"""Limits that stand so that a rule can never fire: which one, and where it would have to stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import z3

from engine.facts import JobFacts
from engine.prove.effect import fires
from engine.prove.encode import Encoding, rational
from engine.prove.search import Answer, Search
from engine.prove.witness import Cars, cut
from engine.reasoning.program import Program, compile_ruleset
from engine.ruleset.depends import leaves
from engine.ruleset.model import All, Any, Condition, FactSpec, Leaf, Not, RuleSet

# How far from where it stands a limit is tried first, as a share of its amount.
_NEAR = (Fraction(1, 10), Fraction(1, 2), Fraction(1))


@dataclass(frozen=True, slots=True)
class Revived:
    """A limit, an amount of it at which a dead rule fires, and a car in which it then does."""

    limit: str
    amount: Fraction
    job: JobFacts
    needed: tuple[str, ...]


def revived(program: Program, index: int, milliseconds: int) -> Revived | None:
    """The first limit of a dead rule's condition whose amount alone keeps it from firing."""
    when = program.rules[index].rule.when
    for name in dict.fromkeys(leaf.limit for leaf in leaves(when) if leaf.limit):
        encoding = Encoding(program, (name,))
        holds = encoding.rules[index].holds
        search = Search(encoding, Cars(program), milliseconds)
        if search.possible(holds) is not Answer.FOUND:
            continue
        found = _near(program, index, search, name)
        if found is not None:
            return found
    return None


def _near(program: Program, index: int, search: Search, name: str) -> Revived | None:
    now = program.ruleset.limits[name].amount
    variable = search.encoding.limits[name]
    holds = search.encoding.rules[index].holds
    for share in (*_NEAR, None):
        within = (
            z3.BoolVal(True)
            if share is None
            else z3.And(
                variable >= rational(now - abs(now) * share),
                variable <= rational(now + abs(now) * share),
            )
        )
        model = search.model(z3.And(holds, within))
        if model is None:
            continue
        value = model.eval(variable, model_completion=True)
        amount = Fraction(value.numerator_as_long(), value.denominator_as_long())
        other = compile_ruleset(with_limit(program.ruleset, name, amount))
        shows = fires(other, index)
        encoding = Encoding(other)
        found = Search(encoding, Cars(other), search.milliseconds).car(
            encoding.rules[index].holds, shows
        )
        if found.job is not None:
            job, needed = cut(other, found.job, shows)
            return Revived(name, amount, job, needed)
    return None


def with_limit(ruleset: RuleSet, name: str, amount: Fraction) -> RuleSet:
    """The rule set with one limit at another amount, in every test that compares with it."""

    def condition(found: Condition) -> Condition:
        if isinstance(found, Leaf):
            if found.limit != name or not isinstance(found.operand, Fraction):
                return found
            return replace(found, operand=amount)
        if isinstance(found, Not):
            return replace(found, part=condition(found.part))
        parts = tuple(condition(part) for part in found.parts)
        return All(parts, found.place) if isinstance(found, All) else Any(parts, found.place)

    def fact(spec: FactSpec) -> FactSpec:
        return replace(
            spec,
            ask_when=condition(spec.ask_when) if spec.ask_when else None,
            refusal=replace(spec.refusal, when=condition(spec.refusal.when))
            if spec.refusal
            else None,
            gathered=replace(spec.gathered, condition=condition(spec.gathered.condition))
            if spec.gathered
            else None,
        )

    return replace(
        ruleset,
        limits={**ruleset.limits, name: replace(ruleset.limits[name], amount=amount)},
        rules={id: replace(rule, when=condition(rule.when)) for id, rule in ruleset.rules.items()},
        facts={id: fact(spec) for id, spec in ruleset.facts.items()},
    )
