"""Parts of a rule set that nothing uses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine.errors import Place
from engine.ruleset.depends import Reckoners, leaves
from engine.ruleset.finding import Finding, warning
from engine.ruleset.model import Condition, Leaf, RuleSet
from engine.ruleset.templates import placeholders

# Read by the plan by their names, whatever the rules say.
_PLAN_FACTS = (
    "area",
    "car.topcoat",
    "shop.spray-booth",
    "shop.surface-temperature",
    "shop.air-temperature",
    "shop.region",
)
# So many steps without a time are named; the file they belong into is one and the same.
_NAMED = 5
_PLAN_LIMITS = ("coverage.other-loss", "mixing.usable-pot-life", "abrasives.step-ratio")
# Read by single calculations alone, to refuse what cannot be right.
_BOUNDS = (
    "coverage.solids-least",
    "coverage.thinner-most",
    "voc.solvent-densest",
    "voc.solvent-lightest",
    "voc.exempt-densest",
    "voc.water-apart",
)


def use_findings(ruleset: RuleSet, reckoners: Reckoners) -> Iterator[Finding]:
    """Limits, facts and outcomes that are there and that nothing reads or gives."""
    tested = list(_tests(ruleset))
    named = set(_named_in_texts(ruleset))
    reckoned = [reckoners[spec.reckoned] for spec in ruleset.facts.values() if spec.reckoned]
    limits = {leaf.limit for leaf in tested} | named | {*_PLAN_LIMITS, *_BOUNDS}
    limits.update(name for reckoner in reckoned for name in reckoner.limits)
    for limit in ruleset.limits.values():
        if limit.id not in limits:
            yield _unused("limit", limit.id, limit.place, "rule, reckoning, text or plan reads")
    facts = {leaf.fact for leaf in tested} | named | facts_of_work(ruleset)
    for reckoner in reckoned:
        facts.update((*reckoner.reads, *reckoner.also, *reckoner.panels))
    for spec in ruleset.facts.values():
        if spec.id not in facts and spec.reckoned is None:
            yield _unused("fact", spec.id, spec.place, "rule, reckoning, text or plan reads")
    yield from _outcomes(ruleset)
    yield from _untimed(ruleset)


def _outcomes(ruleset: RuleSet) -> Iterator[Finding]:
    rules = ruleset.rules.values()
    works = [step.work for step in ruleset.steps.values()]
    steps = {name for rule in rules for name in rule.then.steps}
    cautions = {name for rule in rules for name in rule.then.cautions}
    holds = {name for rule in rules for name in rule.then.holds}
    holds.update(name for work in works for name in work.holds)
    treatments = {rule.then.treatment for rule in rules}
    for step in ruleset.steps.values():
        if step.id not in steps:
            yield _unused("step", step.id, step.place, "rule calls for")
    for caution in ruleset.cautions.values():
        if caution.id not in cautions:
            yield _unused("caution", caution.id, caution.place, "rule shows")
    for hold in ruleset.holds.values():
        if hold.id not in holds:
            yield _unused("hold", hold.id, hold.place, "rule or step sets")
    for treatment in ruleset.treatments.values():
        if treatment.id not in treatments and treatment.place is not None:
            yield _unused("treatment", treatment.id, treatment.place, "rule gives")


def _untimed(ruleset: RuleSet) -> Iterator[Finding]:
    """One finding for all steps that the plan can only give the time of any step."""
    if ruleset.labour is None:
        return
    without = [step for step in ruleset.steps if step not in ruleset.labour.times]
    if not without:
        return
    more = len(without) - _NAMED
    named = ", ".join(f"`{step}`" for step in without[:_NAMED])
    more_text = f" and {more} more" if more > 0 else ""
    what = "1 step has" if len(without) == 1 else f"{len(without)} steps have"
    yield warning(
        "step-without-time",
        f"{what} no time in labour.yaml: {named}{more_text}",
        ruleset.labour.place,
        "Put the shop's time for each under `times`; `{fixed: 0 min}` is that of a step that is "
        "only read.",
        without,
    )


def _unused(what: str, name: str, place: Place, verb: str) -> Finding:
    return warning(
        f"{what}-unused",
        f"no {verb} the {what} `{name}`",
        place,
        "Use it, take it out, or say in reviewed.yaml why it may stay.",
        (name,),
    )


def _tests(ruleset: RuleSet) -> Iterator[Leaf]:
    for condition in conditions(ruleset):
        yield from leaves(condition)


def conditions(ruleset: RuleSet) -> Iterator[Condition]:
    """Every condition of a rule set: of rules, and of facts."""
    for rule in ruleset.rules.values():
        yield rule.when
    for spec in ruleset.facts.values():
        if spec.ask_when is not None:
            yield spec.ask_when
        if spec.refusal is not None:
            yield spec.refusal.when
        if spec.gathered is not None:
            yield spec.gathered.condition


def _named_in_texts(ruleset: RuleSet) -> Iterator[str]:
    texts: list[str | None] = [rule.because for rule in ruleset.rules.values()]
    for spec in ruleset.facts.values():
        texts += [spec.ask, *spec.how, spec.refusal.because if spec.refusal else None]
    texts += [hold.release for hold in ruleset.holds.values()]
    texts += [caution.text for caution in ruleset.cautions.values()]
    texts += [step.text for step in ruleset.steps.values()]
    for text in texts:
        yield from placeholders(text or "")


def facts_of_work(ruleset: RuleSet) -> frozenset[str]:
    """The facts from which the plan reckons times and amounts, whatever the rules say."""
    return frozenset((*_PLAN_FACTS, *_counted_by_work(ruleset)))


def _counted_by_work(ruleset: RuleSet) -> Iterable[str]:
    """Facts by which times and amounts are counted."""
    for step in ruleset.steps.values():
        for use in step.work.products:
            if use.share_fact is not None:
                yield use.share_fact
            if use.use is not None:
                yield from (name for name, _ in use.use.per_fact)
        if step.work.grits is not None and step.work.grits.sheets is not None:
            yield from (name for name, _ in step.work.grits.sheets.per_fact)
    for rates in ruleset.labour.times.values() if ruleset.labour else ():
        yield from (name for name, _ in rates.per_fact)
