"""What an edit would change for the jobs of a store and for the worked cases."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from engine.impact.stored import stored_impact
from engine.impact.tally import Tally
from engine.impact.versions import Version
from engine.impact.worked import worked_impact
from engine.trail.store import Store

Progress = Callable[[str, int, int], None]
"""Told what is looked at, and how many of how many are done."""

STORED = "Stored decisions"
WORKED = "Worked cases"


@dataclass(frozen=True, slots=True)
class Impact:
    """What would change between old and new rules.

    `old` is None where each stored decision is compared with the rules of its own day; `beside`
    are the old rules of the worked cases. `stored` is None where no store was looked at, `seal`
    the seal of the one that was; `every`: all its decisions, not the last of each job alone.
    `worked` is None where the cases were left out.
    """

    old: Version | None
    beside: Version
    new: Version
    stored: Tally | None
    worked: Tally | None
    seal: str | None = None
    every: bool = False

    @property
    def tallies(self) -> tuple[Tally, ...]:
        return tuple(tally for tally in (self.stored, self.worked) if tally is not None)

    @property
    def changed(self) -> bool:
        """Whether any outcome or any work differs, or something could not be compared."""
        return any(tally.changed or tally.failed for tally in self.tallies)


def impact(
    new: Version,
    beside: Version,
    store: Store | None = None,
    *,
    of_their_day: bool = True,
    jobs: Sequence[str] = (),
    every: bool = False,
    cases: bool = True,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Impact:
    """Decide the stored jobs and the worked cases under old and new rules, and compare.

    `beside` are the old rules; with `of_their_day` a stored decision is compared with the rule set
    it was taken by instead. Raises TrailError where an entry that has to be looked into was changed
    or a process dies; what is wrong with one decision is in the report.
    """

    def shown(what: str) -> Callable[[int, int], None] | None:
        return None if progress is None else lambda done, total: progress(what, done, total)

    old = None if of_their_day else beside
    stored = None
    seal = None
    if store is not None:
        with store.reading():
            seal = str(store.head() or "") or None
            stored = stored_impact(
                store,
                new.folder,
                old.folder if old else None,
                jobs=jobs,
                every=every,
                workers=workers,
                progress=shown(STORED),
            )
    worked = worked_impact(beside.ruleset, new.ruleset, shown(WORKED)) if cases else None
    return Impact(old, beside, new, stored, worked, seal, every)
