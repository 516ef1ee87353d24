"""Decides again, by the rule sets of their days, everything the record holds decisions of.

Entries are read one by one and results are forgotten once counted, so that the memory in use does
not grow with the record.
"""

from __future__ import annotations

import json
import multiprocessing
import os
from collections import OrderedDict, deque
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from engine.errors import PrepwrightError, TrailError
from engine.ruleset.model import RuleSet
from engine.trail.canonical import canonical, parse
from engine.trail.deciding import decide_again
from engine.trail.differences import Difference, differences
from engine.trail.entry import Entry, EntryKind
from engine.trail.rulesets import Load, kept_ruleset
from engine.trail.store import Store

CHUNK = 50
"""Decisions a worker is handed at once."""

MOST_KEPT = 1000
"""Decisions that differ which a report keeps; those past them are counted."""

_RULESETS_LOADED = 8

_KINDS = (EntryKind.DECISION, EntryKind.IMPORTED)

Again = Callable[[RuleSet, Mapping[str, Any]], dict[str, Any]]
"""Decides a recorded decision again; see `engine.trail.deciding.decide_again`."""

Progress = Callable[[int, int], None]
"""Told how many of how many are done."""


@dataclass(frozen=True, slots=True)
class Replayed:
    """A decision that is not the same again: how it differs, or why it could not be replayed."""

    sequence: int
    job: str | None
    differences: tuple[Difference, ...]
    failed: str | None = None

    @property
    def wording(self) -> bool:
        """Whether nothing but texts for people differs."""
        return self.failed is None and all(found.wording for found in self.differences)


@dataclass(frozen=True, slots=True)
class ReplayReport:
    """What replaying found: how many decisions there were, and those not the same again.

    `changed` counts decisions with another outcome, `reworded` those with other texts alone,
    `failed` those that could not be decided again. `shown` holds the first thousand of them.
    """

    decisions: int
    same: int
    changed: int
    reworded: int
    failed: int
    shown: tuple[Replayed, ...]

    @property
    def identical(self) -> bool:
        return self.same == self.decisions


def replay(
    store: Store,
    job: str | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    load: Load | None = None,
    again: Again = decide_again,
) -> ReplayReport:
    """Decide every recorded decision again, of one job or of all, by the rule set of its day.

    `workers` is the number of processes, by default one for each core that may be used; with one,
    no process is started. `load` and `again` must be functions of a module, so that processes
    find them. Raises TrailError where a process dies; what is wrong with a decision is in the
    report.
    """
    total = store.count(job, kinds=_KINDS)
    sequences = store.numbers(job, kinds=_KINDS)
    tally = _Tally(progress, total)
    count = workers if workers is not None else _cores()
    if count <= 1 or total <= CHUNK:
        worker = _Worker(store, load, again)
        for chunk in _chunks(sequences):
            tally.add(worker.run(chunk))
        return tally.report()
    context = multiprocessing.get_context("spawn")
    setup = (store.path, load, again)
    with ProcessPoolExecutor(count, mp_context=context, initializer=_start, initargs=setup) as pool:
        waiting: deque[Future[_Results]] = deque()
        try:
            for chunk in _chunks(sequences):
                waiting.append(pool.submit(_run, chunk))
                if len(waiting) > 2 * count:
                    tally.add(waiting.popleft().result())
            while waiting:
                tally.add(waiting.popleft().result())
        except BrokenProcessPool:
            raise TrailError(
                "a process that replays decisions was ended from outside, for want of memory "
                "perhaps. Try again with fewer processes."
            ) from None
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    return tally.report()


def replay_entry(ruleset: RuleSet, entry: Entry, again: Again = decide_again) -> Replayed | None:
    """Decide one recorded decision again by `ruleset`; None where it is the same.

    `ruleset` may be another than that of its day: then the differences are its impact.
    """
    recorded = entry.original.payload
    try:
        now = parse(canonical(again(ruleset, recorded)))
        before = {part: recorded[part] for part in now}
    except (PrepwrightError, LookupError, TypeError, ValueError) as error:
        return Replayed(entry.sequence, entry.job, (), failed=_why(error))
    # Both come out of canonical JSON, where one spelling stands for one value.
    if _spelt(before) == _spelt(now):
        return None
    return Replayed(entry.sequence, entry.job, tuple(differences(before, now)))


@dataclass(frozen=True, slots=True)
class _Results:
    entries: int
    decisions: int
    found: tuple[Replayed, ...]


class _Tally:
    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress = progress
        self._total = total
        self._entries = self._decisions = self._found = self._failed = self._reworded = 0
        self._shown: list[Replayed] = []

    def add(self, results: _Results) -> None:
        self._entries += results.entries
        self._decisions += results.decisions
        self._found += len(results.found)
        self._failed += sum(found.failed is not None for found in results.found)
        self._reworded += sum(found.wording for found in results.found)
        self._shown.extend(results.found[: MOST_KEPT - len(self._shown)])
        if self._progress:
            self._progress(self._entries, max(self._total, self._entries))

    def report(self) -> ReplayReport:
        return ReplayReport(
            decisions=self._decisions,
            same=self._decisions - self._found,
            changed=self._found - self._failed - self._reworded,
            reworded=self._reworded,
            failed=self._failed,
            shown=tuple(self._shown),
        )


class _Worker:
    """Replays decisions; keeps the rule sets it needed last."""

    def __init__(self, store: Store, load: Load | None, again: Again) -> None:
        self._store = store
        self._load = load
        self._again = again
        self._loaded: OrderedDict[str, RuleSet | str] = OrderedDict()

    def run(self, sequences: tuple[int, ...]) -> _Results:
        found: list[Replayed] = []
        count = 0
        for sequence in sequences:
            try:
                entry = self._store.entry(sequence)
                if entry.original.kind is not EntryKind.DECISION:
                    continue
                replayed = self._replayed(entry)
            except TrailError as error:
                replayed = Replayed(sequence, None, (), failed=_why(error))
            count += 1
            if replayed is not None:
                found.append(replayed)
        return _Results(len(sequences), count, tuple(found))

    def _replayed(self, entry: Entry) -> Replayed | None:
        ruleset = self._ruleset(entry.original.payload)
        if isinstance(ruleset, str):
            return Replayed(entry.sequence, entry.job, (), failed=ruleset)
        return replay_entry(ruleset, entry, self._again)

    def _ruleset(self, recorded: Mapping[str, Any]) -> RuleSet | str:
        """The rule set of a decision, or why it cannot be had."""
        about = recorded.get("ruleset")
        digest = str(about.get("digest")) if isinstance(about, dict) else "?"
        if digest not in self._loaded:
            if len(self._loaded) >= _RULESETS_LOADED:
                self._loaded.popitem(last=False)
            try:
                self._loaded[digest] = kept_ruleset(self._store, digest, load=self._load)
            except PrepwrightError as error:
                self._loaded[digest] = f"its rule set cannot be had: {_why(error)}"
        self._loaded.move_to_end(digest)
        return self._loaded[digest]


_worker: _Worker | None = None


def _start(path: Path, load: Load | None, again: Again) -> None:
    global _worker
    _worker = _Worker(Store.open(path, read_only=True), load, again)


def _run(chunk: tuple[int, ...]) -> _Results:
    assert _worker is not None
    return _worker.run(chunk)


def _chunks(sequences: Iterator[int]) -> Iterator[tuple[int, ...]]:
    while chunk := tuple(islice(sequences, CHUNK)):
        yield chunk


def _spelt(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


def _why(error: Exception) -> str:
    if isinstance(error, PrepwrightError):
        return error.format_message()
    return f"its record lacks a part or holds a wrong one: {error!r}"


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
