"""The page of limits: every number that rules and reckonings compare with."""

from __future__ import annotations

from collections.abc import Iterator

from cli.reference.facts import FILE as FACTS
from cli.reference.facts import facts_linked
from cli.reference.markdown import Page, code, codes, counted, link, plain
from engine.quantity.units import KINDS
from engine.reckoning.reckoners import RECKONERS
from engine.ruleset import relations
from engine.ruleset.model import Limit, RuleSet

FILE = "limits.md"


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Limits", "every number rules compare with, with its source and its readers")
    limits = list(ruleset.limits.values())
    told.paragraph(
        f"{counted(len(limits), 'limit')}. A rule names one with `$`, as in "
        f"`{{above: ${limits[0].id}}}`; texts fill one in, as in `{{{limits[0].id}}}`."
        if limits
        else "There are none."
    )
    groups = dict.fromkeys(limit.id.partition(".")[0] for limit in limits)
    told.items(
        f"{link(group, group)}: " + ", ".join(link(code(each.id), each.id) for each in chosen)
        for group in groups
        if (chosen := [each for each in limits if each.id.partition(".")[0] == group])
    )
    for group in groups:
        told.heading(group)
        for limit in limits:
            if limit.id.partition(".")[0] == group:
                told.heading(limit.id, 3)
                told.paragraph(f"**{plain(limit.written)}**, {KINDS[limit.kind].noun}.")
                told.items(_said(ruleset, limit))
    return told


def _said(ruleset: RuleSet, limit: Limit) -> Iterator[str]:
    if limit.note:
        yield plain(limit.note)
    if limit.shop is not None:
        shop = limit.shop
        yield f"Set by the shop: {plain(f'{shop.why} ({shop.by}, {shop.on})')}"
        if shop.supplied:
            yield f"The supplied set says {plain(shop.supplied)}"
    yield f"Source: {plain(str(limit.source))}"
    rules = relations.rules_with_limit(ruleset, limit.id)
    if rules:
        yield f"Compared by {counted(len(rules), 'rule')}: {codes(rules)}"
    facts = relations.facts_with_limit(ruleset, limit.id, RECKONERS)
    if facts:
        yield f"Read by facts: {facts_linked(facts, FACTS)}"
