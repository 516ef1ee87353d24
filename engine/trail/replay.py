"""Decides again, by the rule sets of their days, everything the record holds decisions of.

Entries are read one by one and results are forgotten once counted, so that the memory in use does
not grow with the record.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from engine.errors import PrepwrightError, TrailError
from engine.ruleset.model import RuleSet
from engine.trail.canonical import canonical, parse, reads_as, sha256
from engine.trail.deciding import decide_again
from engine.trail.differences import Difference, differences
from engine.trail.entry import Entry, EntryKind
from engine.trail.rulesets import KeptRuleSets, Load
from engine.trail.spread import CHUNK, Chunk, Work, cores, spread
from engine.trail.store import Store

MOST_KEPT = 1000
"""Decisions that differ which a report keeps; those past them are counted."""

_REMEMBERED = 50
"""Outcomes a process keeps at hand: jobs are often decided again with nothing changed."""

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
    count = workers if workers is not None else cores()
    if total <= CHUNK:
        count = 1
    here = _Worker(store, load, again).run
    for results in spread(sequences, here, _begin, (store.path, load, again), count):
        tally.add(results)
    return tally.report()


def replay_entry(ruleset: RuleSet, entry: Entry, again: Again = decide_again) -> Replayed | None:
    """Decide one recorded decision again by `ruleset`; None where it is the same.

    `ruleset` may be another than that of its day: then the differences are its impact.
    """
    recorded = entry.original.payload
    try:
        found = again(ruleset, recorded)
        before = {part: recorded[part] for part in found}
        if reads_as(before, found):
            return None
        now = parse(canonical(found))
    except (PrepwrightError, LookupError, TypeError, ValueError) as error:
        return Replayed(entry.sequence, entry.job, (), failed=why_not_replayed(error))
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


class _Remembering:
    """Decides again, and remembers what it came to last.

    To decide is pure: the same told of the same panels gives the same by the same rules, and the
    name of the job goes into nothing but the place where the outcome repeats it.
    """

    def __init__(self, again: Again) -> None:
        self._again = again
        self._kept: OrderedDict[tuple[str, str], dict[str, Any]] = OrderedDict()

    def __call__(self, ruleset: RuleSet, recorded: Mapping[str, Any]) -> dict[str, Any]:
        inputs = recorded["inputs"]
        job = inputs["job"]
        if not isinstance(job, str):
            return self._again(ruleset, recorded)
        told = canonical([{**inputs, "job": ""}, recorded["engines"], recorded["asked"]])
        key = (ruleset.digest, sha256(told))
        if key in self._kept:
            self._kept.move_to_end(key)
        else:
            self._kept[key] = self._again(ruleset, recorded)
            if len(self._kept) > _REMEMBERED:
                self._kept.popitem(last=False)
        found = self._kept[key]
        return {**found, "outcome": {**found["outcome"], "job": job}}


class _Worker:
    """Replays decisions, each by the rule set of its day."""

    def __init__(self, store: Store, load: Load | None, again: Again) -> None:
        self._store = store
        self._rulesets = KeptRuleSets(store, load)
        self._again = _Remembering(again)

    def run(self, sequences: Chunk) -> _Results:
        found: list[Replayed] = []
        count = 0
        for sequence in sequences:
            try:
                entry = self._store.entry(sequence)
                if entry.original.kind is not EntryKind.DECISION:
                    continue
                replayed = self._replayed(entry)
            except TrailError as error:
                replayed = Replayed(sequence, None, (), failed=why_not_replayed(error))
            count += 1
            if replayed is not None:
                found.append(replayed)
        return _Results(len(sequences), count, tuple(found))

    def _replayed(self, entry: Entry) -> Replayed | None:
        ruleset = self._rulesets.of(entry.original.payload)
        if isinstance(ruleset, str):
            return Replayed(entry.sequence, entry.job, (), failed=ruleset)
        return replay_entry(ruleset, entry, self._again)


def _begin(path: Path, load: Load | None, again: Again) -> Work[_Results]:
    return _Worker(Store.open(path, read_only=True), load, again).run


def why_not_replayed(error: Exception) -> str:
    """Why a recorded decision could not be decided again, in words."""
    if isinstance(error, PrepwrightError):
        return error.format_message()
    return f"its record lacks a part or holds a wrong one: {error!r}"
