"""Entries of the record as a person reads them."""

from __future__ import annotations

import json
from typing import Any

from cli.output.page import Page
from engine.trail import Entry, EntryKind

_A_FEW = 8
"""So many facts told at once are read in a line; more are told subject by subject."""

_FACTS = (EntryKind.JOB_OPENED, EntryKind.TOLD, EntryKind.READING, EntryKind.FOUND)


def write_entry(page: Page, entry: Entry, *, full: bool) -> None:
    """One entry: number, time, job, who, what."""
    job = f" {entry.job}" if entry.job else ""
    said = f"{when_and_who(entry, job)}: {what_was(entry)}"
    page.item(f"{entry.sequence}. {said}", marker="-")
    for line in told_lines(entry):
        page.item(line, indent=5)
    if full:
        shown = json.dumps(entry.original.payload, ensure_ascii=False, sort_keys=True)
        page.item(shown, indent=5)
        page.item(f"hash {entry.hash}", indent=5)


def when_and_who(entry: Entry, about: str = "") -> str:
    """When an entry was made, what kind it is, by whom and with what."""
    original = entry.original
    when = original.at[:19].replace("T", " ")
    taken_over = ", taken over" if entry.kind is EntryKind.IMPORTED else ""
    back = " (the clock had been set back)" if entry.clock_set_back else ""
    instrument = f" with {original.instrument}" if original.instrument else ""
    return (
        f"{when} UTC{back}{about}: {original.kind.value}{taken_over} by "
        f"{original.actor}{instrument}"
    )


def what_was(entry: Entry) -> str:
    """What an entry recorded; of many facts told at once only on what, see `told_lines`."""
    original = entry.original
    if _many(original.kind, original.payload):
        panels = dict.fromkeys(_about(item) for item in original.payload["facts"])
        told = f"{len(original.payload['facts'])} facts told"
        named = ", ".join(map(str, original.payload.get("panels", ())))
        return f"panels {named}; {told}" if named else f"{told} of {', '.join(panels)}"
    return _what(original.kind, original.payload)


def told_lines(entry: Entry) -> list[str]:
    """What was told where it is many facts at once, a line for each panel or other subject."""
    original = entry.original
    if not _many(original.kind, original.payload):
        return []
    lines: dict[str, list[str]] = {}
    for item in original.payload["facts"]:
        lines.setdefault(_about(item), []).append(_fact(item))
    return [f"{about}: {'; '.join(told)}" for about, told in lines.items()]


def _many(kind: EntryKind, payload: dict[str, Any]) -> bool:
    return kind in _FACTS and len(payload.get("facts", ())) > _A_FEW


def _about(item: dict[str, Any]) -> str:
    return str(item.get("panel") or f"the {item.get('about')}")


def said(entry: Entry) -> str:
    """Who did what, for somebody who has the job before him."""
    original = entry.original
    return f"{original.actor}: {original.kind.value}: {_what(original.kind, original.payload)}"


def _what(kind: EntryKind, payload: dict[str, Any]) -> str:
    if kind in _FACTS or kind is EntryKind.WITHDRAWN:
        return _facts(payload)
    if kind is EntryKind.DECISION:
        panels = payload["outcome"]["panels"]
        return "; ".join(f"{name} {panel['treatment'] or 'open'}" for name, panel in panels.items())
    if kind is EntryKind.STEP_DONE:
        note = f" - {payload['note']}" if payload.get("note") else ""
        return f"{payload['step']} ({payload.get('panel') or 'the car'}){note}"
    if kind is EntryKind.HOLD_SIGNED:
        return f"{payload['topic']} ({payload.get('panel') or 'the car'}): {payload['recorded']}"
    if kind is EntryKind.NOTE and payload.get("text"):
        return str(payload["text"])
    if kind is EntryKind.RULESET_CHANGE and isinstance(payload.get("before"), dict):
        return _ruleset_change(payload)
    return ", ".join(
        f"{key} {value}" for key, value in payload.items() if isinstance(value, str | int)
    )


def _ruleset_change(payload: dict[str, Any]) -> str:
    before = payload["before"]
    files = payload.get("files") or {}
    parts = [
        f"{payload.get('name')} {before.get('version')} {before.get('digest')} became "
        f"{payload.get('version')} {payload.get('digest')}",
        *(f"files {how}: {', '.join(map(str, names))}" for how, names in files.items() if names),
    ]
    return "; ".join(parts)


def _facts(payload: dict[str, Any]) -> str:
    said: list[str] = []
    if payload.get("panels"):
        said.append("panels " + ", ".join(map(str, payload["panels"])))
    for item in payload.get("facts", ()):
        where = item.get("panel")
        said.append(f"{where + ' ' if where else ''}{_fact(item)}")
    return "; ".join(said) or "nothing yet"


def _fact(item: dict[str, Any]) -> str:
    written = (item.get("told") or item).get("written")
    value = "" if written is None else f": {written or 'not known'}"
    return f"{item.get('fact')}{value}"
