"""Cautions of a job, each once with the places it applies to."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from cli.output.gathering import warned
from cli.output.page import Page
from engine.decision import Decision
from engine.ruleset.model import RuleSet
from engine.words import say, within


def write_cautions(
    page: Page,
    decision: Decision,
    ruleset: RuleSet,
    called: Callable[[Iterable[str]], str] = ", ".join,
) -> None:
    """Every caution in full, then what stands under all of them; nothing where there is none."""
    warnings = warned(decision, ruleset)
    if not warnings:
        return
    page.heading(say("Cautions"))
    for warning in warnings:
        page.label(f"{warning.notice.title} ({called(warning.where)})", page.style.warning)
        page.paragraph(warning.notice.text, indent=2)
        if warning.notice.provisional:
            page.paragraph(until_text(ruleset, warning.notice.until), indent=2)
    page.blank()
    page.paragraph(decision.standing_caution)


def until_text(ruleset: RuleSet, facts: Iterable[str]) -> str:
    """What may make a provisional hold or caution fall away."""
    titles = [
        within(ruleset.facts[fact].title) if fact in ruleset.facts else fact for fact in facts
    ]
    if not titles:
        return say("Provisional, to be safe.")
    return say(
        "Provisional, to be safe; falls away if ruled out by: {facts}.", facts="; ".join(titles)
    )
