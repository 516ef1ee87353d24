"""Who reads, gives, beats and tests what in a rule set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.ruleset.depends import Reckoners, facts_read, inputs_of, leaves
from engine.ruleset.model import CaseSpec, Condition, FactSpec, Rule, RuleSet
from engine.ruleset.shop_model import ShopChange


@dataclass(frozen=True, slots=True)
class CasesOf:
    """The worked cases that name a rule, by what they say of it."""

    fires: tuple[CaseSpec, ...]
    quiet: tuple[CaseSpec, ...]
    open: tuple[CaseSpec, ...]


def cases_of(ruleset: RuleSet, rule: str) -> CasesOf:
    return CasesOf(
        tuple(case for case in ruleset.cases if rule in case.fires),
        tuple(case for case in ruleset.cases if rule in case.quiet),
        tuple(case for case in ruleset.cases if rule in case.open),
    )


def beaten_by(ruleset: RuleSet, rule: Rule) -> tuple[str, ...]:
    """The rules that make a rule's treatment lose whenever they fire."""
    if rule.then.treatment is None:
        return ()
    return tuple(
        other.id
        for other in ruleset.rules.values()
        if other.id != rule.id
        and (rule.id in other.beats or (other.beats_all and not rule.beats_all))
    )


def rules_with_limit(ruleset: RuleSet, limit: str) -> tuple[str, ...]:
    """The rules that compare a fact with a limit."""
    return tuple(
        rule.id
        for rule in ruleset.rules.values()
        if any(leaf.limit == limit for leaf in leaves(rule.when))
    )


def facts_with_limit(ruleset: RuleSet, limit: str, reckoners: Reckoners) -> tuple[str, ...]:
    """The facts reckoned with a limit, or asked or refused by it."""
    return tuple(
        spec.id
        for spec in ruleset.facts.values()
        if (spec.reckoned in reckoners and limit in reckoners[str(spec.reckoned)].limits)
        or any(leaf.limit == limit for condition in _own(spec) for leaf in leaves(condition))
    )


def rules_reading(ruleset: RuleSet, fact: str) -> tuple[str, ...]:
    return tuple(rule.id for rule in ruleset.rules.values() if fact in facts_read(rule.when))


def rules_concluding(ruleset: RuleSet, fact: str) -> tuple[str, ...]:
    return tuple(
        rule.id
        for rule in ruleset.rules.values()
        if any(concluded == fact for concluded, _ in rule.then.conclude)
    )


def facts_resting_on(ruleset: RuleSet, fact: str, reckoners: Reckoners) -> tuple[str, ...]:
    """The facts that wait for a fact: reckoned or gathered from it, asked or refused by it."""
    return tuple(
        spec.id
        for spec in ruleset.facts.values()
        if fact in inputs_of(spec, reckoners, ruleset.facts)
    )


def rules_giving(ruleset: RuleSet, what: str, name: str) -> tuple[str, ...]:
    """The rules that give a `step`, `hold`, `caution` or `treatment`."""
    return tuple(rule.id for rule in ruleset.rules.values() if name in _given(rule, what))


def steps_using(ruleset: RuleSet, product: str) -> tuple[str, ...]:
    """The steps that put a product on or use it up."""
    return tuple(
        step.id
        for step in ruleset.steps.values()
        if any(use.product == product for use in step.work.products)
    )


def systems_with(ruleset: RuleSet, product: str) -> tuple[str, ...]:
    """The paint systems that count a coat of a product."""
    return tuple(
        system.id
        for system in ruleset.systems.values()
        if any(coat.product == product for coats in system.coats.values() for coat in coats)
    )


def shop_change(ruleset: RuleSet, what: str, id: str) -> ShopChange | None:
    """What a shop changed of one part, or that it added it; None where it did neither."""
    changes = ruleset.shop.changes if ruleset.shop else ()
    return next((each for each in changes if (each.what, each.id) == (what, id)), None)


def _given(rule: Rule, what: str) -> tuple[str | None, ...]:
    then = rule.then
    return {
        "step": then.steps,
        "hold": then.holds,
        "caution": then.cautions,
        "treatment": (then.treatment,),
    }[what]


def _own(spec: FactSpec) -> list[Condition]:
    conditions = [spec.ask_when]
    conditions.append(spec.refusal.when if spec.refusal else None)
    conditions.append(spec.gathered.condition if spec.gathered else None)
    return [condition for condition in conditions if condition is not None]


# --- names --------------------------------------------------------------------------------------

KINDS_OF_PART = ("rule", "limit", "fact", "step", "hold", "caution", "treatment", "product")


@dataclass(frozen=True, slots=True)
class Part:
    """One named part of a rule set; `kind` is one of `KINDS_OF_PART`."""

    kind: str
    name: str


def parts_named(ruleset: RuleSet, name: str) -> list[Part]:
    """Every part of that name; a rule and a step may share one."""
    return [Part(kind, name) for kind in KINDS_OF_PART if name in _parts(ruleset, kind)]


def names_of(ruleset: RuleSet) -> list[str]:
    """Every name that `parts_named` finds something for."""
    return [name for kind in KINDS_OF_PART for name in _parts(ruleset, kind)]


def _parts(ruleset: RuleSet, kind: str) -> Mapping[str, object]:
    parts: dict[str, Mapping[str, object]] = {
        "rule": ruleset.rules,
        "limit": ruleset.limits,
        "fact": ruleset.facts,
        "step": ruleset.steps,
        "hold": ruleset.holds,
        "caution": ruleset.cautions,
        "treatment": ruleset.treatments,
        "product": ruleset.products,
    }
    return parts[kind]
