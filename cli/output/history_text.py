"""The story of a job: what was decided when, what changed it, who signed what.

Told from what the record holds, in the words it was recorded in; nothing is decided again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from cli.output.page import Page
from cli.output.trail_text import told_lines, what_was, when_and_who
from engine.trail import Entry, EntryKind

Outcome = dict[str, Any]


def write_history(page: Page, entries: Iterable[Entry]) -> Iterator[None]:
    """The entries of a job in order, one at each step; a decision is told by what it changed."""
    before: tuple[int, dict[str, Any]] | None = None
    for entry in entries:
        original = entry.original
        if original.kind is EntryKind.SEAL_PRINTED:
            continue
        page.item(f"{entry.sequence}. {when_and_who(entry)}: {what_was(entry)}")
        for line in told_lines(entry):
            page.item(line, indent=5)
        if original.kind is EntryKind.DECISION:
            for marker, text in _decided(before, original.payload):
                page.item(text, marker=marker, indent=5)
            before = (entry.sequence, original.payload)
        yield


def _decided(
    before: tuple[int, dict[str, Any]] | None, payload: dict[str, Any]
) -> Iterable[tuple[str, str]]:
    """Marked lines on a decision: all of the first one, of a later one what differs."""
    used = payload["ruleset"]
    ruleset = f"{used.get('name')} {used.get('version')}, {used.get('digest')}"
    if before is None:
        yield "=", f"under {ruleset}"
    elif before[1]["ruleset"].get("digest") != used.get("digest"):
        yield "*", f"the rules are others now: {ruleset}"
    had: Outcome = before[1]["outcome"]["panels"] if before else {}
    has: Outcome = payload["outcome"]["panels"]
    same = True
    for name in dict.fromkeys((*had, *has)):
        was, now = _treatment(had.get(name)), _treatment(has.get(name))
        if name not in has:
            yield "-", f"{name} is not part of the job any more"
        elif before is None or name not in had:
            yield "+", f"{name}: {now}{_reason(has[name])}"
        elif was != now:
            yield "*", f"{name}: {was} became {now}{_reason(has[name])}"
        same &= was == now
        yield from _holds(name, had.get(name), has.get(name), first=before is None)
    earlier: Outcome = before[1]["outcome"]["car"] if before else {}
    yield from _holds("the car", earlier, payload["outcome"]["car"], first=before is None)
    if before is not None and same:
        yield "=", f"every treatment as in entry {before[0]}"


def _treatment(panel: Outcome | None) -> str:
    return str((panel or {}).get("treatment") or "open")


def _reason(panel: Outcome) -> str:
    for reason in panel.get("because", ()):
        return f". {reason['text']} [{reason['rule']}]"
    return ""


def _holds(
    name: str, had: Outcome | None, has: Outcome | None, *, first: bool
) -> Iterable[tuple[str, str]]:
    was, now = _topics(had), _topics(has)
    new, gone = now.keys() - was.keys(), was.keys() - now.keys()
    if new:
        yield "+", f"{name}: {'held by' if first else 'now held by'} {', '.join(sorted(new))}"
    if gone and has is not None:
        yield "-", f"{name}: no longer held by {', '.join(sorted(gone))}"


def _topics(found: Outcome | None) -> dict[str, None]:
    return dict.fromkeys(str(hold["topic"]) for hold in (found or {}).get("holds", ()))
