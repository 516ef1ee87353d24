"""Facts named on a command line: `roof rust: perforated`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from engine.errors import InputError, Problem, UsageError
from engine.plaintext import printable, quoted

_MOST_LIKELY = 3

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
        such = _likely(ruleset, facts, text) or "'roof rust: perforated'"
        raise UsageError(f"{quoted(text)} lacks a value; write it as {such}")
    panels, words = leading_panels(named, tuple(facts.panels))
    try:
        spec = find_fact(ruleset, words)
    except InputError:
        such = _likely(ruleset, facts, text)
        if not such:
            raise
        problem = Problem("unknown-fact", f"{quoted(text)} names no fact", fix=f"Write {such}.")
        raise InputError(problem) from None
    about = str(spec.about)
    if about == "panel" and not panels:
        example = next(iter(facts.panels), "roof")
        such = printable(f"{example} {text}")
        raise UsageError(f"{quoted(text)}: say for which panel, such as '{such}'")
    told = replace(read_answer(spec, value.strip()), by=by)
    where = panels if about == "panel" else (None,)
    return [Change(about, panel, spec.id, spec.title, "", value.strip(), told) for panel in where]


def _likely(ruleset: RuleSet, facts: JobFacts, text: str) -> str:
    """How a finding in free words might be written; empty where no choice of a fact is in it."""
    from cli.chat.bulk import match_panels
    from cli.chat.meaning import beyond, meant
    from cli.chat.naming import leading_panels
    from engine.ruleset.model import FactKind

    every = tuple(facts.panels)
    named, _, value = text.partition(":")
    if match_panels(named, every):
        panel, words = named.strip(), value
    else:
        found, words = leading_panels(text.replace(":", " "), every)
        panel = ", ".join(found)
    likely: list[tuple[int, str]] = []
    for spec in ruleset.facts.values():
        if not spec.told or spec.kind not in (FactKind.CHOICE, FactKind.SET):
            continue
        on_panel = str(spec.about) == "panel"
        choices = meant(spec, words)
        if choices and on_panel == bool(panel) and (spec.kind is FactKind.SET or len(choices) == 1):
            name = spec.title.lower()
            written = f"{printable(panel)} {name}" if on_panel else name
            likely.append((len(beyond(spec, words)), f"'{written}: {', '.join(choices)}'"))
    nearest = [each for _, each in sorted(likely, key=lambda pair: pair[0])[:_MOST_LIKELY]]
    return " or ".join(nearest)
