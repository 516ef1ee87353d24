"""How often each rule fired in the decisions that stand."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.errors import TrailError
from engine.trail.entry import EntryKind, Row
from engine.trail.latest import latest_decisions
from engine.trail.store import Store

_FIRINGS = '"firings":'
_AT_ONCE = 500


@dataclass(slots=True)
class Fired:
    """One rule: in how many decisions and on how many panels (or cars) it fired, last when."""

    decisions: int = 0
    subjects: int = 0
    last: str = ""


@dataclass(slots=True)
class Firings:
    """Over how many decisions it was counted, what was counted, and how many cannot be read."""

    decisions: int = 0
    rules: dict[str, Fired] = field(default_factory=dict)
    unreadable: int = 0

    def of(self, rule: str) -> Fired:
        return self.rules.get(rule, Fired())


def firings_in(store: Store, progress: Callable[[int, int], None] | None = None) -> Firings:
    """Count over the last decision of each job, by the rules as they were called then.

    Entries are read as they stand; `engine.trail.verify` tells whether one was changed.
    """
    found = Firings()
    numbers = latest_decisions(store)
    for row in (row for number in numbers for row in store.rows(first=number, last=number)):
        found.decisions += 1
        try:
            _count(found, _firings(store, row), str(row.at))
        except (TrailError, AttributeError, KeyError, TypeError, ValueError):
            found.unreadable += 1
        if progress is not None and found.decisions % _AT_ONCE == 0:
            progress(found.decisions, len(numbers))
    return found


def _firings(store: Store, row: Row) -> Mapping[str, Any]:
    if row.kind != EntryKind.DECISION.value:
        inner: Mapping[str, Any] = store.entry(row.sequence).original.payload["firings"]
        return inner
    # Keys are in order, so this stands before the many texts, which need not be read.
    begins = row.payload.index(_FIRINGS) + len(_FIRINGS)
    decoded: Mapping[str, Any] = _DECODER.raw_decode(row.payload, begins)[0]
    return decoded


_DECODER = json.JSONDecoder()


def _count(found: Firings, firings: Mapping[str, Any], at: str) -> None:
    subjects = [firings["car"], *firings["panels"].values()]
    counts: dict[str, int] = {}
    for fired in subjects:
        for rule in fired:
            counts[rule] = counts.get(rule, 0) + 1
    for rule, number in counts.items():
        each = found.rules.setdefault(rule, Fired())
        each.decisions += 1
        each.subjects += number
        each.last = max(each.last, at)
