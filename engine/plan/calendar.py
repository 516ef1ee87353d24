"""Lays tasks on a calendar: working hours, people, booths, one job a panel, recoat windows.

Tasks are placed one by one in the order given, each as early as its predecessors and the free
people and booths allow (serial list scheduling): the same tasks always give the same calendar.
While a panel is in the booth no other panel of the vehicle is worked on, for it stands there whole.
Work stops at a break and at closing time and goes on after it, unless it must be ended on the day
it began; work in the booth waits for a stretch without a break that holds it. Waiting runs on
overnight. A coat that would miss its recoat window is moved later; where that
does not help the conflict is told. Times are whole minutes from midnight of the first day.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import count, takewhile
from typing import NamedTuple

from engine.plan.occupancy import Occupancy
from engine.plan.worktime import Stretch, WorkTime
from engine.records import dataclass
from engine.words import say

# How often work is moved for one window before the window is given up, and how often all is laid
# anew before every window still missed is. A move aims well inside a window, so where it can be
# kept a few moves do it.
_MOVES = 6
_PASSES = 300
# How far inside a window the later work is brought, in minutes.
_SLACK = 240
# How many jobs apart it is remembered what is taken, to lay only what comes after anew.
_STAGE = 12
# As much as any number of panels worked on at once.
_WHOLE_VEHICLE = 1_000_000


@dataclass(frozen=True, slots=True)
class CoatWindow:
    """Work that has to begin between `opens` and `closes` after the end of the work `after`."""

    after: str
    opens: int
    closes: int | None


@dataclass(frozen=True, slots=True)
class Job:
    """One task as the calendar sees it; None for a time that could not be reckoned."""

    key: str
    after: tuple[str, ...]
    work: int | None
    wait: int | None
    people: int = 1
    booth: bool = False
    booth_while_waiting: bool = False
    same_day: bool = False
    panels: tuple[str, ...] = ()
    windows: tuple[CoatWindow, ...] = ()
    not_before: int = 0
    begin_by: int | None = None


@dataclass(frozen=True, slots=True)
class Laid:
    """A task on the calendar: when it is worked on, and until when it waits."""

    job: Job
    work: tuple[Stretch, ...]
    until: int

    @property
    def start(self) -> int:
        return self.work[0].start

    @property
    def worked(self) -> int:
        """When the work itself ends."""
        return self.work[-1].end

    @property
    def booth_until(self) -> int:
        """When a job that needs a booth leaves it."""
        return self.until if self.job.booth_while_waiting else self.worked


@dataclass(frozen=True, slots=True)
class Missed:
    """A recoat window that cannot be kept: the later work begins `by` minutes too late.

    `after` None: the earlier coat was on before the plan was made.
    """

    job: str
    after: str | None
    by: int


@dataclass(frozen=True, slots=True)
class Layout:
    """The calendar: tasks laid in order of placing, those that could not be, windows missed."""

    laid: Mapping[str, Laid]
    not_laid: Mapping[str, str]
    missed: tuple[Missed, ...]

    @property
    def end(self) -> int:
        """When the last task is over, waiting included."""
        return max((laid.until for laid in self.laid.values()), default=0)


def lay(jobs: Sequence[Job], worktime: WorkTime, *, people: int, booths: int) -> Layout:
    """Lay jobs that stand in an order in which they can be done.

    `people` and `booths` are how many the shop has.
    """
    moved: dict[str, int] = {}
    moves: dict[tuple[str, str], int] = {}
    given_up: set[tuple[str, str]] = set()
    begun: dict[tuple[str, str], _Standing] = {}
    layout, before = _Laying({}, {}), moved
    for number in count(1):
        kept = _kept(jobs, layout, before, moved)
        laying = _Pass(worktime, people, booths, moved)
        # What follows the first window missed is laid once that is settled.
        enough = given_up if number <= _PASSES else None
        layout, before = laying.lay(jobs, kept, layout, enough), dict(moved)
        overruns = _overruns(jobs, layout)
        late = [over for over in overruns if over.pair not in given_up]
        while late and number <= _PASSES and moves.get(late[0].pair, 0) >= _MOVES:
            # Moves for a window that cannot be kept pushed other work too: all are taken back. Up
            # to the first of them everything would be laid as it was.
            given_up.add(late[0].pair)
            layout, overruns, moved, moves = begun[late[0].pair]
            begun = dict(takewhile(lambda one: one[0] != late[0].pair, begun.items()))  # noqa: B023
            before = dict(moved)
            late = [over for over in overruns if over.pair not in given_up]
        if not late:
            if layout.reached == len(jobs):
                break
            continue
        first = late[0]
        if number > _PASSES:
            given_up.update(over.pair for over in late)
            moved, moves, begun = {}, {}, {}
            continue
        if first.pair not in moves:
            begun[first.pair] = _Standing(layout, overruns, dict(moved), dict(moves))
        moves[first.pair] = moves.get(first.pair, 0) + 1
        # To its very end would have the next small push miss it again; further than a little
        # would leave days between in which nobody works on it.
        inside = min(((first.window.closes or 0) - first.window.opens) // 2, _SLACK)
        after = first.window.after
        moved[after] = layout.laid[after].start + first.by + inside
    missed = [Missed(over.job, over.window.after, over.by) for over in _overruns(jobs, layout)]
    missed += [
        Missed(job.key, None, layout.laid[job.key].start - job.begin_by)
        for job in jobs
        if job.begin_by is not None
        and job.key in layout.laid
        and layout.laid[job.key].start > job.begin_by
    ]
    return Layout(layout.laid, layout.not_laid, tuple(missed))


class _Laying(NamedTuple):
    """What one pass came to: as a layout, of as many jobs as it `reached`.

    `stages` on the way are those from which another pass may go on.
    """

    laid: Mapping[str, Laid]
    not_laid: Mapping[str, str]
    reached: int = 0
    stages: tuple[_Taken, ...] = ()


class _Standing(NamedTuple):
    """How far things were before anything was moved for a window."""

    layout: _Laying
    overruns: list[_Overrun]
    moved: dict[str, int]
    moves: dict[tuple[str, str], int]


def _kept(
    jobs: Sequence[Job], layout: _Laying, before: Mapping[str, int], moved: Mapping[str, int]
) -> int:
    """How many jobs keep their place: those placed ahead of every job moved otherwise now."""
    for number, job in enumerate(jobs[: layout.reached]):
        if job.key in layout.laid and before.get(job.key) != moved.get(job.key):
            return number
    return layout.reached


@dataclass(frozen=True, slots=True)
class _Overrun:
    """A window that is closed when the work of `job` begins, `by` minutes before."""

    job: str
    window: CoatWindow
    by: int

    @property
    def pair(self) -> tuple[str, str]:
        return self.job, self.window.after


def _overruns(jobs: Sequence[Job], layout: _Laying) -> list[_Overrun]:
    return [over for job in jobs if job.windows for over in _missed_by(job, layout.laid)]


def _missed_by(job: Job, laid: Mapping[str, Laid]) -> Iterator[_Overrun]:
    for window in job.windows:
        later, earlier = laid.get(job.key), laid.get(window.after)
        if later is None or earlier is None or window.closes is None:
            continue
        overrun = later.start - earlier.worked - window.closes
        if overrun > 0:
            yield _Overrun(job.key, window, overrun)


class _Taken(NamedTuple):
    """What the jobs ahead of the one of this `number` take of everything."""

    number: int
    people: Occupancy
    booths: Occupancy
    vehicle: Occupancy
    panels: Mapping[str, Occupancy]

    def copy(self, number: int) -> _Taken:
        panels = {name: panel.copy() for name, panel in self.panels.items()}
        return _Taken(number, self.people.copy(), self.booths.copy(), self.vehicle.copy(), panels)


class _Pass:
    """One laying of all jobs, some of them held back."""

    def __init__(
        self, worktime: WorkTime, people: int, booths: int, moved: Mapping[str, int]
    ) -> None:
        self._worktime = worktime
        self._people = Occupancy(people)
        self._booths = Occupancy(booths)
        self._panels: dict[str, Occupancy] = {}
        self._vehicle = Occupancy(_WHOLE_VEHICLE)
        self._moved = moved
        self._laid: dict[str, Laid] = {}
        self._not_laid: dict[str, str] = {}

    def lay(
        self,
        jobs: Sequence[Job],
        kept: int,
        last: _Laying,
        given_up: Collection[tuple[str, str]] | None,
    ) -> _Laying:
        """Jobs laid up to the first that misses a window not given up; without any, all of them.

        The first `kept` of them stand where the `last` laying has them.
        """
        stages = [stage for stage in last.stages if stage.number <= kept]
        begin = self._begin(stages[-1]) if stages else 0
        reached = len(jobs)
        for number, job in enumerate(jobs):
            if number < kept and job.key in last.not_laid:
                self._not_laid[job.key] = last.not_laid[job.key]
                continue
            if number < kept:
                laid = last.laid[job.key]
            else:
                why = self._hindrance(job)
                if why is not None:
                    self._not_laid[job.key] = why
                    continue
                laid = self._place(job)
            self._laid[job.key] = laid
            if number >= begin:
                self._take(laid)
                if number - (stages[-1].number if stages else 0) >= _STAGE:
                    stages.append(self._taken().copy(number + 1))
            if number >= kept and given_up is not None and job.windows:
                missed = _missed_by(job, self._laid)
                if any(over.pair not in given_up for over in missed):
                    reached = number + 1
                    break
        return _Laying(self._laid, self._not_laid, reached, tuple(stages))

    def _begin(self, stage: _Taken) -> int:
        begin, self._people, self._booths, self._vehicle, panels = stage.copy(stage.number)
        self._panels = dict(panels)
        return begin

    def _taken(self) -> _Taken:
        return _Taken(0, self._people, self._booths, self._vehicle, self._panels)

    def _hindrance(self, job: Job) -> str | None:
        """Why a job cannot be laid at all."""
        for key in job.after:
            if key in self._not_laid:
                return say("it comes after {key}, which has no place yet", key=key)
        if job.work is None or job.wait is None:
            return say("how long it takes could not be reckoned")
        if job.people > self._people.capacity:
            return say(
                "it takes {people} people and the shop has {capacity}",
                people=job.people,
                capacity=self._people.capacity,
            )
        if job.booth and not self._booths.capacity:
            return say("it needs a spray booth and the shop has none")
        if job.same_day and job.work > self._worktime.longest_day:
            return say(
                "it is to be ended on the day it is begun and is longer than any working day"
            )
        return None

    def _place(self, job: Job) -> Laid:
        assert job.work is not None
        assert job.wait is not None
        minute: int | None = self._earliest(job)
        while minute is not None:
            # Nobody leaves a coat half sprayed to eat.
            work = self._worktime.work(minute, job.work, same_day=job.same_day, unbroken=job.booth)
            laid = Laid(job, work, work[-1].end + job.wait)
            # Begun any sooner, the work would still run into the shortage found.
            minute = self._free_again(laid)
        return laid

    def _earliest(self, job: Job) -> int:
        ends = [self._laid[key].until for key in job.after]
        opens = [
            self._laid[window.after].worked + window.opens
            for window in job.windows
            if window.after in self._laid
        ]
        return max(self._worktime.start, job.not_before, self._moved.get(job.key, 0), *ends, *opens)

    def _free_again(self, laid: Laid) -> int | None:
        """None where everything is free for it; else when the first shortage found is over."""
        job = laid.job
        for panel in job.panels:
            if panel in self._panels:
                later = self._panels[panel].free_again(laid.start, laid.until, 1)
                if later is not None:
                    return later
        for start, end, share in _at_vehicle(laid):
            later = self._vehicle.free_again(start, end, share)
            if later is not None:
                return later
        if job.booth:
            later = self._booths.free_again(laid.start, laid.booth_until, 1)
            if later is not None:
                return later
        for stretch in laid.work:
            later = self._people.free_again(stretch.start, stretch.end, job.people)
            if later is not None:
                return later
        return None

    def _take(self, laid: Laid) -> None:
        job = laid.job
        for panel in job.panels:
            self._panels.setdefault(panel, Occupancy(1)).take(laid.start, laid.until, 1)
        for start, end, share in _at_vehicle(laid):
            self._vehicle.take(start, end, share)
        if job.booth:
            self._booths.take(laid.start, laid.booth_until, 1)
        for stretch in laid.work:
            self._people.take(stretch.start, stretch.end, job.people)


def _at_vehicle(laid: Laid) -> list[tuple[int, int, int]]:
    """From when until when work on panels takes how much of the vehicle."""
    job = laid.job
    if not job.panels:
        return []
    if job.booth:
        return [(laid.start, laid.booth_until, _WHOLE_VEHICLE)]
    return [(stretch.start, stretch.end, 1) for stretch in laid.work]
