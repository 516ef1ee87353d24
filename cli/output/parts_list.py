"""Lists of the rules, limits, facts or products of a rule set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cli.output.page import Page
from cli.output.parts_text import FORMAT, fact_json, limit_json, rule_json
from cli.output.product_text import price_text, product_json, shop_json
from cli.output.style import Style
from engine.ruleset.model import Rule, RuleSet
from engine.ruleset.report import listed
from engine.ruleset.shop_model import ShopChange

if TYPE_CHECKING:
    from engine.trail.fired import Firings

_HEADERS = {
    "rules": ("Rule", "Gives", "Source"),
    "limits": ("Limit", "Value", "Note"),
    "facts": ("Fact", "Title", "About"),
    "products": ("Product", "Title", "Serves as", "Price"),
}


@dataclass(frozen=True, slots=True)
class Listing:
    """Rows in groups, and the same as plain data."""

    ruleset: RuleSet
    what: str
    groups: Sequence[tuple[str, Sequence[tuple[str, ...]]]]
    data: Sequence[dict[str, Any]]
    retired: Sequence[ShopChange]
    fired: Firings | None = None

    def text(self, style: Style) -> str:
        page = Page(style)
        for title, rows in self.groups:
            page.heading(title)
            headers = _HEADERS[self.what]
            page.table(headers if self.fired is None else (*headers, "Fired"), rows)
        if not self.groups:
            page.paragraph(f"There are no such {self.what}.")
        if self.fired is not None:
            page.blank()
            page.paragraph(
                "Fired: in the last decisions of how many jobs of the store, out of "
                f"{self.fired.decisions:,}."
            )
        if self.retired:
            page.heading("Retired by the shop")
            for change in self.retired:
                page.item(f"{change.id}: {change.why} ({change.by}, {change.on})")
        return page.text()

    def as_json(self) -> dict[str, Any]:
        return {
            "format": FORMAT,
            "ruleset": {"name": self.ruleset.name, "version": self.ruleset.version},
            self.what: list(self.data),
            "retired": [
                {"rule": change.id, **(shop_json(change) or {})} for change in self.retired
            ],
        }


def listing(
    ruleset: RuleSet,
    what: str,
    *,
    topic: str | None = None,
    only_shop: bool = False,
    fired: Firings | None = None,
) -> Listing:
    """The rules (of one topic), limits, facts or products; `only_shop`: those that a shop changed.

    `fired` puts how often each rule fired beside it.
    """
    changes = ruleset.shop.changes if ruleset.shop else ()
    retired = [change for change in changes if change.retired and change.what == "rule"]
    if what == "rules":
        rules = [
            rule
            for rule in ruleset.rules.values()
            if (topic is None or rule.topic == topic) and (rule.shop or not only_shop)
        ]
        shown = retired if topic is None else []
        data = [rule_json(ruleset, rule, fired) for rule in rules]
        return Listing(ruleset, what, list(_by_topic(rules, fired)), data, shown, fired)
    if what == "limits":
        limits = [limit for limit in ruleset.limits.values() if limit.shop or not only_shop]
        rows: list[tuple[str, ...]] = [
            (limit.id, f"{limit.written}{_mark(limit.shop)}", limit.note or "") for limit in limits
        ]
        data = [limit_json(ruleset, limit) for limit in limits]
        return Listing(ruleset, what, [("Limits", rows)] if rows else [], data, ())
    if what == "products":
        changed = {change.id for change in changes if change.what == "product"}
        products = [
            each for each in ruleset.products.values() if each.id in changed or not only_shop
        ]
        rows = [
            (each.id, each.title, each.kind, price_text(ruleset, each) or "") for each in products
        ]
        data = [product_json(ruleset, each) for each in products]
        return Listing(ruleset, what, [("Products", rows)] if rows else [], data, ())
    changed = {change.id for change in changes if change.what == "fact"}
    facts = [spec for spec in ruleset.facts.values() if spec.id in changed or not only_shop]
    rows = [(spec.id, spec.title, str(spec.about)) for spec in facts]
    data = [fact_json(ruleset, spec) for spec in facts]
    return Listing(ruleset, what, [("Facts", rows)] if rows else [], data, ())


def _by_topic(
    rules: Sequence[Rule], fired: Firings | None
) -> Iterator[tuple[str, list[tuple[str, ...]]]]:
    for topic in dict.fromkeys(rule.topic for rule in rules):
        chosen = [rule for rule in rules if rule.topic == topic]
        noun = "rule" if len(chosen) == 1 else "rules"
        yield (
            f"{topic}: {len(chosen)} {noun}",
            [(rule.id, _gives(rule), str(rule.source), *_fired(rule, fired)) for rule in chosen],
        )


def _fired(rule: Rule, fired: Firings | None) -> tuple[str, ...]:
    return () if fired is None else (f"{fired.of(rule.id).decisions:,}",)


def _gives(rule: Rule) -> str:
    then = rule.then
    parts = [f"treatment {then.treatment}"] if then.treatment else []
    parts += [f"{fact} is {value}" for fact, value in then.conclude]
    for what, names in (("hold", then.holds), ("caution", then.cautions), ("step", then.steps)):
        if names:
            parts.append(f"{what} {listed(names).replace('`', '')}")
    return "; ".join(parts)


def _mark(change: ShopChange | None) -> str:
    if change is None:
        return ""
    return f" (shop; supplied {change.supplied})" if change.supplied else " (shop)"
