"""Facts named on a command line: `roof rust: perforated`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from engine.errors import UsageError
from engine.plaintext import printable, quoted

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.reasoning.supposing import Change
    from engine.ruleset.model import RuleSet


def told_changes(
    ruleset: RuleSet, facts: JobFacts, texts: Iterable[str], *, by: str | None = None
) -> list[Change]:
    """The changes that texts tell, one or more each.

    Raises UsageError where a text lacks a value or a panel, InputError where the fact or the
    value cannot be taken.
    """
    return [change for text in texts for change in _changes(ruleset, facts, text, by)]


def _changes(ruleset: RuleSet, facts: JobFacts, text: str, by: str | None) -> list[Change]:
    from cli.chat.naming import find_fact, leading_panels
    from engine.answers import read_answer
    from engine.reasoning.supposing import Change

    named, colon, value = text.partition(":")
    if not colon or not value.strip():
        raise UsageError(f"{quoted(text)} lacks a value; write it as 'roof rust: perforated'")
    panels, words = leading_panels(named, tuple(facts.panels))
    spec = find_fact(ruleset, words)
    about = str(spec.about)
    if about == "panel" and not panels:
        example = next(iter(facts.panels), "roof")
        such = printable(f"{example} {text}")
        raise UsageError(f"{quoted(text)}: say for which panel, such as '{such}'")
    told = replace(read_answer(spec, value.strip()), by=by)
    where = panels if about == "panel" else (None,)
    return [Change(about, panel, spec.id, spec.title, "", value.strip(), told) for panel in where]
