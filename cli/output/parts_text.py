"""One part of a rule set explained: a rule in plain English, or what uses a limit or fact."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from cli.output.page import Page
from cli.output.product_text import figures, price_text, product_json, shop_json
from cli.output.style import Style
from engine.decision import source_json
from engine.quantity.units import KINDS
from engine.reckoning.reckoners import RECKONERS
from engine.ruleset import relations
from engine.ruleset.model import About, CaseSpec, FactSpec, Limit, Product, Rule, RuleSet
from engine.ruleset.phrase import Phrases
from engine.ruleset.relations import Part
from engine.ruleset.shop_model import ShopChange
from engine.ruleset.source import Source

if TYPE_CHECKING:
    from engine.trail.fired import Firings

FORMAT = "prepwright/parts/1"

_ABOUT = {"panel": "a panel", "car": "the car"}


def part_text(
    ruleset: RuleSet, part: Part, style: Style, fired: Firings | str | None = None
) -> str:
    """A part and what it has to do with others, as text.

    `fired` is how often rules fired in the store, or why that cannot be told.
    """
    page = _PartPage(ruleset, style, fired)
    match part.kind:
        case "rule":
            page.rule(ruleset.rules[part.name])
        case "limit":
            page.limit(ruleset.limits[part.name])
        case "fact":
            page.fact(ruleset.facts[part.name])
        case "product":
            page.product(ruleset.products[part.name])
        case _:
            page.outcome(part)
    return page.text()


class _PartPage(Page):
    def __init__(self, ruleset: RuleSet, style: Style, fired: Firings | str | None) -> None:
        super().__init__(style)
        self._fired = fired
        self._ruleset = ruleset
        self._phrases = Phrases(ruleset)

    # --- a rule -----------------------------------------------------------------------------------

    def rule(self, rule: Rule) -> None:
        self.heading(f"Rule {rule.id} ({rule.topic})")
        self.blank()
        self.label(f"About {_ABOUT[rule.about]}. It fires where")
        for line in self._phrases.condition(rule.when):
            self.item(line.text, indent=1 + 2 * line.depth)
        self.blank()
        self.label("Then")
        for text in self._given(rule):
            self.item(text)
        self.blank()
        self.paragraph(f"Because: {self._phrases.template(rule.because)}")
        if rule.note:
            self.paragraph(f"Note: {rule.note}")
        self._order(rule)
        self._cases(rule)
        self._in_store(rule)
        self._origin(rule.source, rule.shop, str(rule.place))

    def _given(self, rule: Rule) -> Iterable[str]:
        ruleset, then = self._ruleset, rule.then
        if then.treatment is not None:
            yield f"treatment {then.treatment}: {ruleset.treatments[then.treatment].title}"
        for fact, value in then.conclude:
            yield f"it is concluded that {ruleset.facts[fact].title} is {value} ({fact})"
        for hold in then.holds:
            yield f"hold {hold}: {ruleset.holds[hold].title}"
        for caution in then.cautions:
            yield f"caution {caution}: {ruleset.cautions[caution].title}"
        for step in then.steps:
            yield f"step {step}: {ruleset.steps[step].title}"
        if rule.applies_while_open:
            yield "while facts are missing it stands provisionally, to be safe"

    def _order(self, rule: Rule) -> None:
        if rule.then.treatment is None:
            return
        if rule.beats_all:
            self.paragraph("It beats every other rule's treatment.")
        elif rule.beats:
            self.paragraph(f"It beats {', '.join(rule.beats)}.")
        beaten = relations.beaten_by(self._ruleset, rule)
        if beaten:
            self.paragraph(f"It is beaten by {', '.join(beaten)}.")
        self.paragraph("Among treatments that are not beaten the deepest wins.")

    def _cases(self, rule: Rule) -> None:
        cases = relations.cases_of(self._ruleset, rule.id)
        for label, found in (
            ("Worked cases that fire it", cases.fires),
            ("Worked cases that keep it quiet", cases.quiet),
            ("Worked cases that leave it open", cases.open),
        ):
            if found:
                self.blank()
                self.label(label)
                for case in found:
                    self.item(f"{case.id} ({case.place})")

    def _in_store(self, rule: Rule) -> None:
        if self._fired is None:
            return
        self.blank()
        self.label("In the store")
        if isinstance(self._fired, str):
            self.paragraph(self._fired)
            return
        self.paragraph(fired_text(self._fired, rule))

    def _origin(self, source: Source, change: ShopChange | None, place: str) -> None:
        self.blank()
        self.paragraph(f"Source: {str(source).rstrip('.')}.")
        if change is not None:
            self.paragraph(_of_shop(change))
        self.paragraph(f"It stands at {place}.")

    # --- anything else ----------------------------------------------------------------------------

    def limit(self, limit: Limit) -> None:
        ruleset = self._ruleset
        self.heading(f"Limit {limit.id}: {limit.written}")
        if limit.note:
            self.paragraph(limit.note)
        if limit.shop is not None and limit.shop.supplied is not None:
            self.paragraph(f"The supplied set says {limit.shop.supplied}.")
        self._names("Rules that compare with it", relations.rules_with_limit(ruleset, limit.id))
        self._names(
            "Facts worked out with it", relations.facts_with_limit(ruleset, limit.id, RECKONERS)
        )
        self._origin(limit.source, limit.shop, str(limit.place))

    def fact(self, fact: FactSpec) -> None:
        ruleset = self._ruleset
        self.heading(f"Fact {fact.id}: {fact.title}")
        self.paragraph(f"About {_ABOUT.get(fact.about, 'the shop')}; {_kind(fact)}; {_way(fact)}.")
        if fact.ask:
            self.paragraph(f"Asked: {fact.ask}")
        for choice in fact.choices:
            self.item(f"{choice.id}: {choice.text}")
        if fact.ask_when is not None:
            self.blank()
            self.label("It applies where")
            for line in self._phrases.condition(fact.ask_when):
                self.item(line.text, indent=1 + 2 * line.depth)
        self._names("Rules that read it", relations.rules_reading(ruleset, fact.id))
        self._names("Rules that conclude it", relations.rules_concluding(ruleset, fact.id))
        self._names(
            "Facts that rest on it", relations.facts_resting_on(ruleset, fact.id, RECKONERS)
        )
        self.blank()
        self.paragraph(f"It stands at {fact.place}.")

    def product(self, product: Product) -> None:
        ruleset = self._ruleset
        self.heading(f"Product {product.id}: {product.title}")
        self.paragraph(f"Serves as {product.kind}.")
        for line in figures(product):
            self.item(line)
        self.item(f"price: {price_text(ruleset, product) or 'none; labour.yaml takes it'}")
        self._names("Steps that use it", relations.steps_using(ruleset, product.id))
        self._names("Paint systems with a coat of it", relations.systems_with(ruleset, product.id))
        change = relations.shop_change(ruleset, "product", product.id)
        self._origin(product.source, change, str(product.place))

    def outcome(self, part: Part) -> None:
        ruleset = self._ruleset
        self.heading(f"{part.kind.capitalize()} {part.name}: {_title(ruleset, part)}")
        self.paragraph(_said(ruleset, part))
        self._names("Rules that give it", relations.rules_giving(ruleset, part.kind, part.name))

    def _names(self, label: str, names: Iterable[str]) -> None:
        listed = list(names)
        if listed:
            self.blank()
            self.label(label)
            for name in listed:
                self.item(name)


def _kind(fact: FactSpec) -> str:
    if fact.kind == "quantity" and fact.quantity is not None:
        return KINDS[fact.quantity].noun
    return f"a {fact.kind}"


def _way(fact: FactSpec) -> str:
    if fact.reckoned is not None:
        return "worked out by the program"
    if fact.gathered is not None:
        return f"gathered from the panels: {fact.gathered.quantifier} of them"
    if fact.otherwise is not None:
        return f"concluded by rules, otherwise {fact.otherwise}"
    return "told by people" if fact.assume is None else f"assumed {fact.assume} unless told"


def _title(ruleset: RuleSet, part: Part) -> str:
    if part.kind == "step":
        return ruleset.steps[part.name].title
    if part.kind == "hold":
        return ruleset.holds[part.name].title
    if part.kind == "caution":
        return ruleset.cautions[part.name].title
    return ruleset.treatments[part.name].title


def _said(ruleset: RuleSet, part: Part) -> str:
    if part.kind == "step":
        return ruleset.steps[part.name].text
    if part.kind == "hold":
        return f"Lifted by: {ruleset.holds[part.name].release}"
    if part.kind == "caution":
        return ruleset.cautions[part.name].text
    return ruleset.treatments[part.name].text


def _of_shop(change: ShopChange) -> str:
    verb = "Added" if change.replaces is None else "Changed"
    if change.what == "rule" and change.replaces is not None:
        verb = f"Put in place of the supplied {change.replaces}"
    return f"{verb} by {change.by}, {change.on}: {change.why}"


# --- JSON -----------------------------------------------------------------------------------------


def parts_json(
    ruleset: RuleSet, parts: Iterable[Part], fired: Firings | str | None = None
) -> dict[str, Any]:
    """Parts of a rule set as plain data (`prepwright/parts/1`)."""
    return {
        "format": FORMAT,
        "ruleset": {"name": ruleset.name, "version": ruleset.version},
        "parts": [part_json(ruleset, part, fired) for part in parts],
    }


def part_json(ruleset: RuleSet, part: Part, fired: Firings | str | None = None) -> dict[str, Any]:
    """A part as plain data."""
    if part.kind == "rule":
        return rule_json(ruleset, ruleset.rules[part.name], fired)
    if part.kind == "limit":
        return limit_json(ruleset, ruleset.limits[part.name])
    if part.kind == "fact":
        return fact_json(ruleset, ruleset.facts[part.name])
    if part.kind == "product":
        return product_json(ruleset, ruleset.products[part.name])
    return {
        "kind": part.kind,
        "name": part.name,
        "title": _title(ruleset, part),
        "text": _said(ruleset, part),
        "given_by": list(relations.rules_giving(ruleset, part.kind, part.name)),
    }


def rule_json(ruleset: RuleSet, rule: Rule, fired: Firings | str | None = None) -> dict[str, Any]:
    cases = relations.cases_of(ruleset, rule.id)
    then = rule.then
    return {
        "kind": "rule",
        "name": rule.id,
        "topic": rule.topic,
        "about": str(rule.about),
        "when": Phrases(ruleset).clause(rule.when),
        "then": {
            "treatment": then.treatment,
            "conclude": dict(then.conclude),
            "holds": list(then.holds),
            "cautions": list(then.cautions),
            "steps": list(then.steps),
        },
        "because": rule.because,
        "beats": "all" if rule.beats_all else list(rule.beats),
        "beaten_by": list(relations.beaten_by(ruleset, rule)),
        "cases": {
            "fires": _titles(cases.fires),
            "quiet": _titles(cases.quiet),
            "open": _titles(cases.open),
        },
        "fired": None if fired is None or isinstance(fired, str) else _fired_json(fired, rule),
        "source": source_json(rule.source),
        "shop": shop_json(rule.shop),
        "place": str(rule.place),
    }


def fired_text(fired: Firings, rule: Rule) -> str:
    """How often a rule fired, in words."""
    if not fired.decisions:
        return "There is no decision in it yet."
    of = f"{fired.decisions:,} {'job' if fired.decisions == 1 else 'jobs'}"
    each = fired.of(rule.id)
    unread = f" {fired.unreadable:,} of them cannot be read." if fired.unreadable else ""
    if not each.decisions:
        return f"It fired in the last decision of none of {of}.{unread}"
    on = f" on {each.subjects:,} {'panel' if each.subjects == 1 else 'panels'}"
    where = on if rule.about is About.PANEL else ""
    return (
        f"It fired in the last decision of {each.decisions:,} of {of}{where}, last on "
        f"{each.last[:10]}.{unread}"
    )


def _fired_json(fired: Firings, rule: Rule) -> dict[str, Any]:
    each = fired.of(rule.id)
    return {
        "jobs": each.decisions,
        "of_jobs": fired.decisions,
        "unreadable": fired.unreadable,
        "subjects": each.subjects,
        "last": each.last or None,
    }


def limit_json(ruleset: RuleSet, limit: Limit) -> dict[str, Any]:
    return {
        "kind": "limit",
        "name": limit.id,
        "value": limit.written,
        "note": limit.note,
        "rules": list(relations.rules_with_limit(ruleset, limit.id)),
        "facts": list(relations.facts_with_limit(ruleset, limit.id, RECKONERS)),
        "source": source_json(limit.source),
        "shop": shop_json(limit.shop),
        "place": str(limit.place),
    }


def fact_json(ruleset: RuleSet, fact: FactSpec) -> dict[str, Any]:
    return {
        "kind": "fact",
        "name": fact.id,
        "about": str(fact.about),
        "title": fact.title,
        "value": _kind(fact),
        "way": _way(fact),
        "ask": fact.ask,
        "choices": list(fact.choice_ids),
        "rules": list(relations.rules_reading(ruleset, fact.id)),
        "concluded_by": list(relations.rules_concluding(ruleset, fact.id)),
        "facts": list(relations.facts_resting_on(ruleset, fact.id, RECKONERS)),
        "place": str(fact.place),
    }


def _titles(cases: Iterable[CaseSpec]) -> list[str]:
    return [case.id for case in cases]
