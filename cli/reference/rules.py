"""The page of rules: each with what it gives and why, sorted by topic."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cli.reference.markdown import Page, code, codes, counted, link, plain
from engine.ruleset.model import Rule, RuleSet
from engine.ruleset.phrase import Phrases

FILE = "rules.md"


def topics_of(ruleset: RuleSet) -> Mapping[str, list[Rule]]:
    """The rules by topic, in the order of their files."""
    found: dict[str, list[Rule]] = {}
    for rule in ruleset.rules.values():
        found.setdefault(rule.topic, []).append(rule)
    return found


def topic_heading(topic: str) -> str:
    return f"Rules of {topic}"


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Rules", "every rule by topic: what it gives, and why")
    topics = topics_of(ruleset)
    told.paragraph(
        f"{counted(len(ruleset.rules), 'rule')} in {counted(len(topics), 'topic')}. "
        "`prepwright rules show NAME` says of one what it tests, who it beats, and which worked "
        "cases show it."
    )
    told.items(link(topic, topic_heading(topic)) for topic in topics)
    for topic, rules in topics.items():
        told.heading(topic_heading(topic))
        told.items(item for rule in rules for item in _said(ruleset, rule))
    return told


def _said(ruleset: RuleSet, rule: Rule) -> Iterator[str | tuple[int, str]]:
    phrases = Phrases(ruleset)
    shop = f" (the shop's, {plain(rule.shop.by)}, {plain(rule.shop.on)})" if rule.shop else ""
    yield f"**{code(rule.id)}**{shop}: {plain(phrases.template(rule.because))}"
    yield 1, f"Where {plain(phrases.clause(rule.when))}"
    yield 1, f"Gives {'; '.join(_gives(rule))}"
    if rule.beats or rule.beats_all:
        yield 1, "Beats " + ("every other rule" if rule.beats_all else codes(rule.beats))
    yield 1, f"Source: {plain(str(rule.source))}"


def _gives(rule: Rule) -> Iterator[str]:
    then = rule.then
    if then.treatment:
        yield f"treatment {code(then.treatment)}"
    for what, names in (("hold", then.holds), ("caution", then.cautions), ("step", then.steps)):
        if names:
            yield f"{what} {codes(names)}"
    for fact, value in then.conclude:
        yield f"{code(fact)}: {code(value)}"
