"""What an entry has to say before it is added to the record."""

from __future__ import annotations

from engine.errors import TrailError
from engine.trail.canonical import canonical
from engine.trail.entry import Draft, EntryKind, unwrapped
from engine.trail.facts import check_payload

_ABOUT_THE_SHOP = frozenset(
    (
        EntryKind.NOTE,
        EntryKind.RULESET_KEPT,
        EntryKind.RULESET_CHANGE,
        EntryKind.GAUGE_CHECK,
        EntryKind.SEAL_PRINTED,
        EntryKind.IMPORTED,
    )
)


def check_draft(draft: Draft) -> None:
    """Raise TrailError where an entry says too little to be added, or could not be replayed."""
    canonical([draft.actor, draft.instrument, draft.job])
    if not isinstance(draft.payload, dict):
        raise TrailError("the payload of an entry must be a mapping")
    if not draft.actor.strip():
        raise TrailError("an entry must say who made it")
    if draft.job is not None and not draft.job.strip():
        raise TrailError("the name of a job cannot be empty")
    needs_job = draft.kind not in _ABOUT_THE_SHOP
    if needs_job and draft.job is None:
        raise TrailError(f"an entry `{draft.kind.value}` must name its job")
    kind, payload = draft.kind, draft.payload
    while kind is EntryKind.IMPORTED:
        inner = unwrapped(payload)
        kind, payload = inner.kind, inner.payload
    check_payload(kind, payload)
