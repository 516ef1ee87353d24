"""Builds what rules can come to: treatments, holds, cautions and steps."""

from __future__ import annotations

from typing import Any

from engine.ruleset.build_limits import build_source
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import About, Caution, HoldTopic, Step, Treatment
from engine.ruleset.names import Names, check_template
from engine.ruleset.report import Report

_STEP_KEYS = frozenset({"about", "title", "text", "phase", "source"})


def build_treatments(entries: Entries) -> dict[str, Treatment]:
    """The treatments, lightest first; wrong ones keep their place in the order."""
    return {
        id: Treatment(id, entry.get("title") or id, entry.get("text") or "", depth)
        for depth, (id, entry) in enumerate(entries.items())
    }


def build_hold(entry: Entry, names: Names, report: Report) -> HoldTopic | None:
    _check_text(entry, "release", None, names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    return HoldTopic(entry.id, entry.get("title"), entry.get("release"), source, entry.name_place)


def build_caution(entry: Entry, names: Names, report: Report) -> Caution | None:
    _check_text(entry, "text", None, names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    return Caution(entry.id, entry.get("title"), entry.get("text"), source, entry.name_place)


def build_step(entry: Entry, names: Names, report: Report) -> Step | None:
    about = entry.get("about")
    _check_text(entry, "text", About(about) if about else None, names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    more: dict[str, Any] = {key: entry.get(key) for key in entry.data if key not in _STEP_KEYS}
    return Step(
        id=entry.id,
        about=About(about),
        title=entry.get("title"),
        text=entry.get("text"),
        phase=int(entry.get("phase")),
        source=source,
        place=entry.name_place,
        more=more,
    )


def _check_text(entry: Entry, key: str, reader: About | None, names: Names, report: Report) -> None:
    text = entry.get(key)
    if text is not None:
        check_template(text, entry, (key,), reader, names, report)
