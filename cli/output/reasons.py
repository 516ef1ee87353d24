"""Explanations as a person reads them: a tree of reasons down to what was told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from cli.output.page import Page
from engine.reasoning.explain import Reason
from engine.reasoning.kleene import Truth
from engine.reasoning.supposing import Flip, SubjectDifference
from engine.ruleset.model import RuleSet
from engine.words import say, sentence

if TYPE_CHECKING:
    from engine.trail import Entry

_TRUTHS = {True: sentence("yes"), False: sentence("no"), None: sentence("open")}
_INDENT = 2


Recorded = Mapping[tuple[str | None, str], "Entry"]
"""The entry of the record that told each fact, by panel and fact id."""


def write_reasons(page: Page, reason: Reason, recorded: Recorded | None = None) -> None:
    """The tree below a reason, one line a node, deeper nodes further in.

    `recorded` adds the entries of the record to what was told.
    """
    for depth, node in reason.walk():
        if depth == 0:
            continue
        page.item(
            _line(node, recorded or {}), marker=_marker(node), indent=_INDENT * (depth - 1) + 1
        )


def _marker(node: Reason) -> str:
    marks = {"rule": ">", "test": "?", "group": "?", "reckoning": "*", "limit": "*"}
    return marks.get(node.kind, "=")


def _line(node: Reason, recorded: Recorded) -> str:
    if node.kind == "rule":
        return f"{node.text} [{node.name}; {node.source}]"
    if node.kind in ("test", "group"):
        limit = ""
        if node.name and node.source:
            limit = " " + say("[limit {name}; {source}]", name=node.name, source=node.source)
        return f"{node.text}: {_truth(node.truth)}{limit}"
    if node.kind == "limit":
        return f"{node.text} [{node.source}]"
    return node.text + _provenance(node, recorded)


def _truth(truth: Truth) -> str:
    return say(_TRUTHS[truth])


def _provenance(node: Reason, recorded: Recorded) -> str:
    told = node.told
    if told is None:
        return ""
    parts = [
        say("told as `{written}`", written=told.written) if told.written else "",
        say("by {who}", who=told.by) if told.by else "",
        say("at {time}", time=told.at) if told.at else "",
        say("with {instrument}", instrument=told.instrument) if told.instrument else "",
        say("in {place}", place=told.place) if told.place else "",
    ]
    said = " ".join(part for part in parts if part)
    entry = recorded.get((node.where, node.name or ""))
    kept = _entry(entry) if entry else ""
    said = "; ".join(part for part in (said, kept) if part)
    return f" ({said})" if said else ""


def _entry(entry: Entry) -> str:
    original = entry.original
    by = original.actor
    if original.instrument:
        by = f"{by} {say('with {instrument}', instrument=original.instrument)}"
    return say(
        "entry {number}, {kind} by {who}, {when} UTC",
        number=entry.sequence,
        kind=original.kind.value,
        who=by,
        when=original.at[:16].replace("T", " "),
    )


def write_difference(
    page: Page, differences: tuple[SubjectDifference, ...], ruleset: RuleSet
) -> None:
    """What changed from one decision to another, subject by subject, by the titles of `ruleset`."""
    titles = {
        "holds": {hold.id: hold.title for hold in ruleset.holds.values()},
        "cautions": {caution.id: caution.title for caution in ruleset.cautions.values()},
        "steps": {step.id: step.title for step in ruleset.steps.values()},
    }

    def named(kind: str, topics: Iterable[str]) -> str:
        return "; ".join(titles[kind].get(topic, topic) for topic in topics)

    if not differences:
        page.paragraph(say("Nothing would change."))
    for each in differences:
        page.label(each.panel or say("The whole car"))
        if each.treatment:
            was, now = each.treatment
            page.item(f"treatment: {was or 'open'} becomes {now or 'open'}", marker="*")
        for name, (before, after) in each.facts.items():
            title = ruleset.facts[name].title if name in ruleset.facts else name
            page.item(f"{title}: {before or 'not known'} becomes {after or 'not known'}")
        for kind, topics in each.gained.items():
            page.item(f"new {kind}: {named(kind, topics)}", marker="+")
        for kind, topics in each.lost.items():
            page.item(f"{kind} that fall away: {named(kind, topics)}", marker="-")
        page.blank()


def write_flip(page: Page, flip: Flip) -> None:
    """The smallest change that gives one treatment."""
    if flip.changes is None:
        why = "no single or double change gives it" if flip.searched else "none found in the time"
        page.item(f"{flip.treatment}: {why}")
        return
    told = "; ".join(f"{change.title}: {change.was} -> {change.now}" for change in flip.changes)
    page.item(f"{flip.treatment}: {told}")
