"""Work on a job as the record keeps it: steps done, holds signed, decisions taken."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from engine.errors import TrailError
from engine.records import dataclass
from engine.trail.entry import Draft, EntryKind, Original
from engine.trail.jobs import history
from engine.trail.store import Store

if TYPE_CHECKING:
    from engine.plan import Progress


@dataclass(frozen=True, slots=True)
class KeptDecision:
    """A decision as it was recorded: its number in the record, when, by whom, and its JSON form."""

    sequence: int
    at: str
    actor: str
    payload: dict[str, Any]


def step_done(
    job: str, actor: str, step: str, panel: str | None, *, note: str | None = None
) -> Draft:
    """Records that a step is done, on one panel or (None) for the car."""
    return Draft(EntryKind.STEP_DONE, actor, _kept(step=step, panel=panel, note=note), job)


def hold_signed(
    job: str,
    actor: str,
    topic: str,
    panel: str | None,
    recorded: str,
    *,
    instrument: str | None = None,
) -> Draft:
    """Records what releases a hold: `recorded` is the measurement or the words signed under."""
    payload = _kept(topic=topic, panel=panel, recorded=recorded)
    return Draft(EntryKind.HOLD_SIGNED, actor, payload, job, instrument)


def _kept(**parts: str | None) -> dict[str, Any]:
    return {name: text for name, text in parts.items() if text is not None}


def progress(store: Store, job: str, now: datetime | None = None) -> Progress:
    """What of a job is done and released, with the times it was recorded at.

    Raises TrailError where there is no such job, or an entry was changed.
    """
    # Planning is much to import for somebody who wants to know what was decided.
    from engine.plan import Progress

    done: dict[tuple[str, str | None], datetime | None] = {}
    released: set[tuple[str, str | None]] = set()
    for entry in history(store, job):
        if entry.kind is EntryKind.STEP_DONE:
            done[_text(entry, "step"), entry.payload.get("panel")] = datetime.fromisoformat(
                entry.at
            )
        elif entry.kind is EntryKind.HOLD_SIGNED:
            released.add((_text(entry, "topic"), entry.payload.get("panel")))
    return Progress(done, frozenset(released), now)


def last_decision(store: Store, job: str) -> KeptDecision | None:
    """The decision recorded last of a job, or None."""
    kinds = (EntryKind.DECISION, EntryKind.IMPORTED)
    for entry in store.entries(job, kinds=kinds, backwards=True):
        original = entry.original
        if original.kind is EntryKind.DECISION:
            return KeptDecision(entry.sequence, original.at, original.actor, original.payload)
    return None


def _text(entry: Original, key: str) -> str:
    value = entry.payload.get(key)
    if not isinstance(value, str):
        raise TrailError(f"entry {entry.sequence} of the record does not name its {key}")
    return value
