"""How the jobs of a store stand, from their last entries alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from engine.trail.store import Store
from engine.trail.work import last_decision


@dataclass(frozen=True, slots=True)
class Summary:
    """One job: panels and those decided by the last recorded decision, None where there is none."""

    job: str
    panels: int | None
    decided: int | None
    changed_at: str
    changed_by: str


def summaries(store: Store, jobs: Iterable[tuple[str, int]]) -> Iterator[Summary]:
    """How each of these jobs stands, given the number of its last entry.

    Raises TrailError where an entry was changed.
    """
    for job, last in jobs:
        entry = store.entry(last).original
        kept = last_decision(store, job)
        panels = kept.payload["outcome"]["panels"] if kept else None
        yield Summary(
            job=job,
            panels=None if panels is None else len(panels),
            decided=None
            if panels is None
            else sum(1 for panel in panels.values() if panel["treatment"]),
            changed_at=entry.at,
            changed_by=entry.actor,
        )
