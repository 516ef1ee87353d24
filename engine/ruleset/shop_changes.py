"""Keeps who changed what in a supplied rule set, when and why, and what stood there before."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from engine.ruleset.entries import Entry, plain
from engine.ruleset.report import Report
from engine.ruleset.shop_model import ShopChange, Touched

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.A)
_ABOUT_CHANGE = ("by", "on", "why", "replaces", "new")


class Changes:
    """The changes of one shop, in the order they are met."""

    def __init__(self, report: Report) -> None:
        self._report = report
        self._now: dict[tuple[str, str], Entry] = {}
        self.made: list[ShopChange] = []

    def note(
        self,
        entry: Entry,
        what: str,
        there: Entry | None,
        *,
        replaces: str | None = None,
        supplied: str | None = None,
        retired: bool = False,
    ) -> None:
        """Keep a change; `there` is the supplied entry it touches.

        One whose who, when or why broke the schema is reported already.
        """
        by, on, why = (entry.get(key) for key in ("by", "on", "why"))
        if on is not None and not _is_day(on):
            self._report.add(
                "bad-date",
                f"`{on}` is no date",
                entry.place("on"),
                "Write year, month and day, as in `2026-12-25`.",
            )
        if by is None or on is None or why is None:
            return
        change = ShopChange(
            what, entry.id, by, on, why, entry.name_place, replaces, supplied, retired
        )
        self.made.append(change)
        if there is not None:
            self._now[_key(change)] = there

    def touched(self, copies: Iterable[Entry]) -> tuple[Touched, ...]:
        """What the changes touch, beside the copies of it that the shop keeps in these files."""
        kept = {
            what: {id: _plain(data) for id, data in parts.items()}
            for document in copies
            for what, parts in document.data.items()
        }
        return tuple(
            Touched(
                change,
                kept.get(change.what, {}).get(change.replaces),
                _plain(self._now[_key(change)].data) if _key(change) in self._now else None,
            )
            for change in self.made
            if change.replaces is not None
        )


def dressed(entry: Entry, inherited: Mapping[str, Any] | None = None) -> Entry:
    """A shop's entry as the builders take it: without a source of its own it is the shop's."""
    said = {
        part: entry.get(key)
        for part, key in (("name", "by"), ("edition", "on"), ("clause", "why"))
        if entry.get(key) is not None
    }
    data = {key: value for key, value in entry.data.items() if key not in _ABOUT_CHANGE}
    return replace(entry, data={**(inherited or {}), "source": {"kind": "shop", **said}, **data})


def _key(change: ShopChange) -> tuple[str, str]:
    return change.what, change.replaces or ""


def _is_day(written: str) -> bool:
    if not _DAY.fullmatch(written):
        return False
    try:
        date.fromisoformat(written)
    except ValueError:
        return False
    return True


def _plain(value: Any) -> Any:
    """The same with every scalar as text, as it is kept and compared."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return "" if value is None else plain(value)
