"""Counts what differs over many jobs; it does not grow with their number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple, TypeVar

from engine.impact.cause import Cause
from engine.impact.comparison import GivenChange, JobChange
from engine.impact.fitting import Misfit, Unfit
from engine.plan.totals import Totals
from engine.quantity import Kind
from engine.ruleset.work import Span

MOST_EXAMPLES = 5
"""Jobs a group names; those past them are counted."""

MOST_FAILED = 100
"""Jobs that could not be compared which a report names; those past them are counted."""

_STEP = 10**6
"""Sums are kept in millionths: exact fractions of many jobs have no common measure."""

Key = TypeVar("Key")


class Example(NamedTuple):
    """A job that shows a change: its entry in the record (None: a worked case), and the panel."""

    job: str
    entry: int | None
    panel: str | None


class Treated(NamedTuple):
    """Panels whose treatment changed from one to another for the same reason."""

    was: str
    now: str
    because: tuple[Cause, ...]


class Given(NamedTuple):
    """Cars, or panels whose treatment stays, that gained or lost something for the same reason."""

    what: str
    name: str
    gained: bool
    because: tuple[Cause, ...]


class Left(NamedTuple):
    """A told fact left out under the old or the new rules."""

    fact: str
    why: Misfit
    old: bool


@dataclass(slots=True)
class Count:
    """How many: `subjects` are panels and cars, `jobs` the decisions or cases they stand in."""

    subjects: int = 0
    jobs: int = 0
    examples: list[Example] = field(default_factory=list)

    def add(self, examples: Iterable[Example]) -> None:
        """Count what was found in one job."""
        found = list(examples)
        self.subjects += len(found)
        self.jobs += 1
        self.examples += found[: MOST_EXAMPLES - len(self.examples)]

    def join(self, other: Count) -> None:
        self.subjects += other.subjects
        self.jobs += other.jobs
        self.examples += other.examples[: MOST_EXAMPLES - len(self.examples)]


@dataclass(slots=True)
class Treatments:
    """Panels of one change of treatment, and what came and went on them along with it.

    `gained` and `lost` count panels by (`hold`, topic) and the like.
    """

    panels: Count = field(default_factory=Count)
    gained: dict[tuple[str, str], int] = field(default_factory=dict)
    lost: dict[tuple[str, str], int] = field(default_factory=dict)

    def add_beside(self, given: Iterable[GivenChange]) -> None:
        """Count what came and went on one of the panels."""
        for each in given:
            counts = self.gained if each.gained else self.lost
            key = each.what, each.name
            counts[key] = counts.get(key, 0) + 1

    def join(self, other: Treatments) -> None:
        self.panels.join(other.panels)
        for counts, more in ((self.gained, other.gained), (self.lost, other.lost)):
            for key, number in more.items():
                counts[key] = counts.get(key, 0) + number


@dataclass(slots=True)
class Sum:
    """A sum under the old and the new rules, in millionths; `jobs` are those where it differs."""

    before: tuple[int, int] = (0, 0)
    after: tuple[int, int] = (0, 0)
    jobs: int = 0

    def add(self, before: Span | None, after: Span | None) -> None:
        had, has = _millionths(before), _millionths(after)
        self.before, self.after = _plus(self.before, had), _plus(self.after, has)
        self.jobs += had != has

    def join(self, other: Sum) -> None:
        self.before = _plus(self.before, other.before)
        self.after = _plus(self.after, other.after)
        self.jobs += other.jobs

    @property
    def span_before(self) -> Span:
        return Span(Fraction(self.before[0], _STEP), Fraction(self.before[1], _STEP))

    @property
    def span_after(self) -> Span:
        return Span(Fraction(self.after[0], _STEP), Fraction(self.after[1], _STEP))


@dataclass(frozen=True, slots=True)
class Failed:
    """A job that could not be decided under both, and why."""

    job: str | None
    entry: int | None
    why: str


@dataclass(slots=True)
class Tally:
    """What was found over some jobs.

    `looked_at` counts entries or cases, `jobs` those that hold a decision. `changed` jobs have
    another outcome or other work; the others are the same but perhaps for facts that lead to none.
    `hours`, `products` and `sheets` are sums over the jobs whose work changed.
    """

    looked_at: int = 0
    jobs: int = 0
    changed: int = 0
    treated: dict[Treated, Treatments] = field(default_factory=dict)
    given: dict[Given, Count] = field(default_factory=dict)
    opened: Count = field(default_factory=Count)
    closed: Count = field(default_factory=Count)
    facts: dict[str, Count] = field(default_factory=dict)
    fires: dict[str, Count] = field(default_factory=dict)
    quiet: dict[str, Count] = field(default_factory=dict)
    worked: Count = field(default_factory=Count)
    not_reckoned: Count = field(default_factory=Count)
    hours: Sum = field(default_factory=Sum)
    products: dict[tuple[str, Kind], Sum] = field(default_factory=dict)
    sheets: dict[str, Sum] = field(default_factory=dict)
    left_out: dict[Left, Count] = field(default_factory=dict)
    failed: int = 0
    shown_failed: list[Failed] = field(default_factory=list)

    @property
    def same(self) -> int:
        return self.jobs - self.changed - self.failed

    def add(self, change: JobChange, job: str, entry: int | None = None) -> None:
        """Count what differs for one job."""
        whole = Example(job, entry, None)
        self.jobs += 1
        self.changed += change.outcome
        if change.was_complete and not change.is_complete:
            self.opened.add([whole])
        if change.is_complete and not change.was_complete:
            self.closed.add([whole])
        self._add_subjects(change, job, entry)
        for unfit, old in ((change.unfit_before, True), (change.unfit_after, False)):
            self._add_left_out(unfit, whole, old=old)
        if change.work is not None:
            self._add_work(change.work.before, change.work.after, whole)

    def fail(self, why: str, job: str | None, entry: int | None = None) -> None:
        """Count a job that could not be compared."""
        self.jobs += 1
        self.failed += 1
        if len(self.shown_failed) < MOST_FAILED:
            self.shown_failed.append(Failed(job, entry, why))

    def join(self, other: Tally) -> None:
        """Add what was found over jobs that come after."""
        self.looked_at += other.looked_at
        self.jobs += other.jobs
        self.changed += other.changed
        self.failed += other.failed
        self.shown_failed += other.shown_failed[: MOST_FAILED - len(self.shown_failed)]
        for mine, others in (
            (self.opened, other.opened),
            (self.closed, other.closed),
            (self.worked, other.worked),
            (self.not_reckoned, other.not_reckoned),
        ):
            mine.join(others)
        self.hours.join(other.hours)
        for key, treatments in other.treated.items():
            self.treated.setdefault(key, Treatments()).join(treatments)
        _join(self.given, other.given)
        _join(self.left_out, other.left_out)
        for counts, more in (
            (self.facts, other.facts),
            (self.fires, other.fires),
            (self.quiet, other.quiet),
        ):
            _join(counts, more)
        _join_sums(self.products, other.products)
        _join_sums(self.sheets, other.sheets)

    def _add_subjects(self, change: JobChange, job: str, entry: int | None) -> None:
        treated: dict[Treated, list[Example]] = {}
        given: dict[Given, list[Example]] = {}
        named: tuple[dict[str, list[Example]], ...] = ({}, {}, {})
        for subject in change.subjects:
            here = Example(job, entry, subject.panel)
            if (was := subject.treatment) is not None:
                change_of = Treated(was.was, was.now, was.because)
                treated.setdefault(change_of, []).append(here)
                self.treated.setdefault(change_of, Treatments()).add_beside(subject.given)
            else:
                for each in subject.given:
                    key = Given(each.what, each.name, each.gained, each.because)
                    given.setdefault(key, []).append(here)
            found = (subject.facts, subject.fires, subject.quiet)
            for names, lists in zip(found, named, strict=True):
                for name in names:
                    lists.setdefault(name, []).append(here)
        for change_of, examples in treated.items():
            self.treated[change_of].panels.add(examples)
        _count(self.given, given)
        for counts, lists in zip((self.facts, self.fires, self.quiet), named, strict=True):
            _count(counts, lists)

    def _add_left_out(self, unfit: Iterable[Unfit], whole: Example, *, old: bool) -> None:
        _count(self.left_out, {Left(each.fact, each.why, old): [whole] for each in unfit})

    def _add_work(self, before: Totals, after: Totals, whole: Example) -> None:
        self.worked.add([whole])
        if before.left_out or after.left_out:
            self.not_reckoned.add([whole])
        self.hours.add(before.person_hours, after.person_hours)
        _sum(self.products, before.products, after.products)
        _sum(self.sheets, before.sheets, after.sheets)


def _count(counts: dict[Key, Count], found: dict[Key, list[Example]]) -> None:
    for key, examples in found.items():
        counts.setdefault(key, Count()).add(examples)


def _join(counts: dict[Key, Count], more: dict[Key, Count]) -> None:
    for key, count in more.items():
        counts.setdefault(key, Count()).join(count)


def _sum(sums: dict[Key, Sum], before: Mapping[Key, Span], after: Mapping[Key, Span]) -> None:
    for key in dict.fromkeys((*before, *after)):
        sums.setdefault(key, Sum()).add(before.get(key), after.get(key))


def _join_sums(sums: dict[Key, Sum], more: Mapping[Key, Sum]) -> None:
    for key, total in more.items():
        sums.setdefault(key, Sum()).join(total)


def _millionths(span: Span | None) -> tuple[int, int]:
    return (0, 0) if span is None else (round(span.low * _STEP), round(span.high * _STEP))


def _plus(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    return one[0] + other[0], one[1] + other[1]
