"""Builds what rules can come to: treatments, holds and cautions."""

from __future__ import annotations

from engine.ruleset.build_limits import build_source
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import Caution, HoldTopic, Treatment
from engine.ruleset.names import Names, check_template
from engine.ruleset.report import Report


def build_treatments(entries: Entries) -> dict[str, Treatment]:
    """The treatments, lightest first; wrong ones keep their place in the order."""
    return {
        id: Treatment(
            id,
            entry.get("title") or id,
            entry.get("text") or "",
            depth,
            entry.get("coats"),
            entry.name_place,
        )
        for depth, (id, entry) in enumerate(entries.items())
    }


def build_hold(entry: Entry, names: Names, report: Report) -> HoldTopic | None:
    _check_text(entry, "release", names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    return HoldTopic(
        entry.id,
        entry.get("title"),
        entry.get("release"),
        source,
        entry.name_place,
        blocks=tuple(entry.get("blocks") or ()),
        from_phase=entry.get("from-phase"),
    )


def build_caution(entry: Entry, names: Names, report: Report) -> Caution | None:
    _check_text(entry, "text", names, report)
    source = build_source(entry)
    if source is None or not entry.sound:
        return None
    return Caution(entry.id, entry.get("title"), entry.get("text"), source, entry.name_place)


def _check_text(entry: Entry, key: str, names: Names, report: Report) -> None:
    text = entry.get(key)
    if text is not None:
        check_template(text, entry, (key,), None, names, report)
