"""The decisions of a store, decided under old and new rules."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from engine.errors import PrepwrightError, TrailError
from engine.impact.comparison import Comparison
from engine.impact.tally import Tally
from engine.ruleset.model import RuleSet
from engine.trail.entry import Entry, EntryKind
from engine.trail.facts import job_from
from engine.trail.latest import latest_decisions
from engine.trail.replay import why_not_replayed
from engine.trail.rulesets import KeptRuleSets, load_for_deciding
from engine.trail.spread import CHUNK, Chunk, Work, cores, spread
from engine.trail.store import Store

Progress = Callable[[int, int], None]
"""Told how many of how many are done."""

_KINDS = (EntryKind.DECISION, EntryKind.IMPORTED)


def stored_impact(
    store: Store,
    new: Path,
    old: Path | None = None,
    *,
    jobs: Sequence[str] = (),
    every: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Tally:
    """What differs for the recorded decisions under the rule sets in two folders.

    Without `old` each decision is compared with what the rule set of its day comes to. The last
    decision of each job is looked at, or `every` one. `workers` is the number of processes, by
    default one for each core that may be used. Raises TrailError where a process dies or an entry
    that has to be looked into was changed, RuleSetError where a rule set does not load.
    """
    numbers, total = _numbers(store, jobs, every=every)
    count = workers if workers is not None else cores()
    if total <= CHUNK:
        count = 1
    tally = Tally()
    here = _Worker(store, new, old).run if count <= 1 else _unused
    for found in spread(numbers, here, _begin, (store.path, new, old), count):
        tally.join(found)
        if progress is not None:
            progress(tally.looked_at, max(total, tally.looked_at))
    return tally


def _numbers(store: Store, jobs: Sequence[str], *, every: bool) -> tuple[Iterable[int], int]:
    """The entries to look at, and how many they are."""
    if not every:
        found = (
            sorted(number for job in jobs for number in latest_decisions(store, job))
            if jobs
            else latest_decisions(store)
        )
        return found, len(found)
    if not jobs:
        return store.numbers(kinds=_KINDS), store.count(kinds=_KINDS)
    total = sum(store.count(job, kinds=_KINDS) for job in jobs)
    return (number for job in jobs for number in store.numbers(job, kinds=_KINDS)), total


class _Worker:
    """Compares decisions; what belongs to a pair of rule sets is worked out once."""

    def __init__(self, store: Store, new: Path, old: Path | None) -> None:
        self._store = store
        self._new = load_for_deciding(new)
        self._old = load_for_deciding(old) if old is not None else None
        self._kept = KeptRuleSets(store)
        self._comparisons: dict[str, Comparison] = {}

    def run(self, numbers: Chunk) -> Tally:
        tally = Tally(looked_at=len(numbers))
        for number in numbers:
            try:
                entry = self._store.entry(number)
                if entry.original.kind is EntryKind.DECISION:
                    self._compare(entry, tally)
            except TrailError as error:
                tally.fail(why_not_replayed(error), None, number)
        return tally

    def _compare(self, entry: Entry, tally: Tally) -> None:
        recorded = entry.original.payload
        job = entry.job or entry.original.job or ""
        old = self._old or self._kept.of(recorded)
        if isinstance(old, str):
            tally.fail(old, job, entry.sequence)
            return
        try:
            facts = job_from(recorded["inputs"])
            change = self._comparison(old).of(facts, asked=bool(recorded["asked"]))
        except (PrepwrightError, LookupError, TypeError, ValueError) as error:
            tally.fail(why_not_replayed(error), job, entry.sequence)
            return
        tally.add(change, job, entry.sequence)

    def _comparison(self, old: RuleSet) -> Comparison:
        found = self._comparisons.get(old.digest)
        if found is None or found.old is not old:
            # Rule sets of many days are not all kept in memory.
            if len(self._comparisons) >= _MOST_COMPARED:
                self._comparisons.clear()
            found = self._comparisons[old.digest] = Comparison(old, self._new)
        return found


_MOST_COMPARED = 8


def _begin(store: Path, new: Path, old: Path | None) -> Work[Tally]:
    return _Worker(Store.open(store, read_only=True), new, old).run


def _unused(numbers: Chunk) -> Tally:
    raise AssertionError("processes do the work")
