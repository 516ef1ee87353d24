"""Finds the decisions that stand: the last one recorded of each job."""

from __future__ import annotations

from array import array
from collections.abc import Sequence

from engine.trail.entry import EntryKind
from engine.trail.sqlite import told_plainly
from engine.trail.store import Store

_TAKEN_IN = "SELECT job FROM entries WHERE kind = ? AND job IS NOT NULL"
_LAST = (
    f"SELECT max(sequence) FROM entries WHERE kind = ? AND job NOT IN ({_TAKEN_IN}) GROUP BY job"
)


def latest_decisions(store: Store, job: str | None = None) -> Sequence[int]:
    """The number of the last decision of each job that has any, or of one, in order.

    Raises TrailError where an entry that has to be looked into was changed.
    """
    found = array("q")
    if job is None:
        kinds = (EntryKind.DECISION.value, EntryKind.IMPORTED.value)
        with told_plainly(store.path):
            found.extend(int(row[0]) for row in store.connection.execute(_LAST, kinds))
            rows = store.connection.execute(f"{_TAKEN_IN} GROUP BY job", kinds[1:])
            looked_into = [str(row[0]) for row in rows]
    else:
        looked_into = [job]
    # Whether an imported entry is a decision is only seen inside it.
    found.extend(filter(None, (_last_of(store, name) for name in looked_into)))
    return array("q", sorted(found))


def _last_of(store: Store, job: str) -> int | None:
    kinds = (EntryKind.DECISION, EntryKind.IMPORTED)
    for entry in store.entries(job, kinds=kinds, backwards=True):
        if entry.original.kind is EntryKind.DECISION:
            return entry.sequence
    return None
