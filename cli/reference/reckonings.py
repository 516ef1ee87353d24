"""The page of reckonings: the calculations that a fact may name, with all that each takes."""

from __future__ import annotations

from collections.abc import Iterator

from cli.reference.facts import FILE as FACTS
from cli.reference.facts import facts_linked
from cli.reference.limits import FILE as LIMITS
from cli.reference.markdown import Page, anchor, code, codes, counted, link, plain
from engine.reckoning.reckoners import RECKONERS
from engine.reckoning.reckoners.base import Reckoner
from engine.ruleset.model import RuleSet

FILE = "reckonings.md"


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Reckonings", "the calculations a fact may name, and what each of them reads")
    told.paragraph(
        f"{counted(len(RECKONERS), 'calculation')} that a fact may name under `reckoned:`. What "
        "one needs has to be in the rule set; what it takes where it is known need not be. All "
        "numbers come from the limits and tables of the rule set."
    )
    told.paragraph(", ".join(link(code(name), name) for name in RECKONERS))
    for name, reckoner in RECKONERS.items():
        told.heading(name, 3)
        told.items(_said(ruleset, name, reckoner))
    return told


def _said(ruleset: RuleSet, name: str, reckoner: Reckoner) -> Iterator[str]:
    named = [spec for spec in ruleset.facts.values() if spec.reckoned == name]
    for spec in named:
        yield f"Gives {facts_linked([spec.id], FACTS)}: {plain(spec.title)}"
    if not named:
        yield "No fact of this rule set names it"
    for label, facts in (
        ("Needs", reckoner.reads),
        ("Takes where known", reckoner.also),
        ("Of every other panel", reckoner.panels),
        ("Only panels alike in", reckoner.alike),
    ):
        if facts:
            there = [each for each in facts if each in ruleset.facts or each == "treatment"]
            gone = [each for each in facts if each not in there]
            shown = [facts_linked(there, FACTS), codes(gone)]
            yield f"{label}: {', '.join(filter(None, shown))}"
    if reckoner.limits:
        yield "Limits: " + ", ".join(
            f"[{code(each)}]({LIMITS}#{anchor(each)})" if each in ruleset.limits else code(each)
            for each in reckoner.limits
        )
    if reckoner.tables:
        yield f"Tables: {codes(reckoner.tables)}"
    if reckoner.systems:
        yield "Reads the paint system of the car's topcoat"
