"""Lays tasks on a calendar: working hours, people, booths, one job a panel, recoat windows.

Tasks are placed one by one in the order given, each as early as its predecessors and the free
people and booths allow (serial list scheduling): the same tasks always give the same calendar.
Work stops at closing time and goes on the next day unless it must be ended on the day it began;
waiting runs on overnight. A coat that would miss its recoat window is moved later; where that
does not help the conflict is told. Times are whole minutes from midnight of the first day.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count

from engine.plan.worktime import Stretch, WorkTime

# How often work is moved for one window before the window is given up, and how often all is laid
# anew before every window still missed is. A move aims at the middle of a window, so where it can
# be kept a few moves do it.
_MOVES = 6
_PASSES = 300


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


@dataclass(slots=True)
class _Resource:
    """Something of which only so many can be taken at once."""

    capacity: int
    taken: list[tuple[int, int, int]] = field(default_factory=list)

    def free_again(self, stretch: Stretch, amount: int) -> int | None:
        """None where `amount` is free all through; else when the first shortage can be over."""
        if stretch.start == stretch.end:
            return None
        over = [each for each in self.taken if each[0] < stretch.end and stretch.start < each[1]]
        for moment in sorted({stretch.start, *(start for start, _, _ in over)}):
            if moment < stretch.start:
                continue
            here = [each for each in over if each[0] <= moment < each[1]]
            if sum(number for _, _, number in here) + amount > self.capacity:
                return min(end for _, end, _ in here)
        return None

    def take(self, stretch: Stretch, amount: int) -> None:
        if stretch.start < stretch.end:
            self.taken.append((stretch.start, stretch.end, amount))


def lay(jobs: Sequence[Job], worktime: WorkTime, *, people: int, booths: int) -> Layout:
    """Lay jobs that stand in an order in which they can be done.

    `people` and `booths` are how many the shop has.
    """
    moved: dict[str, int] = {}
    moves: dict[tuple[str, str], int] = {}
    given_up: set[tuple[str, str]] = set()
    for number in count(1):
        layout = _Pass(worktime, people, booths, moved).lay(jobs)
        late = [over for over in _overruns(jobs, layout) if over.pair not in given_up]
        if not late:
            break
        first = late[0]
        moves[first.pair] = moves.get(first.pair, 0) + 1
        if moves[first.pair] > _MOVES or number > _PASSES:
            given_up.update(over.pair for over in (late[:1] if number <= _PASSES else late))
            # Moves for a window that cannot be kept pushed other work too: all are taken back.
            moved, moves = {}, {}
        else:
            # To its very end would have the next small push miss it again.
            inside = ((first.window.closes or 0) - first.window.opens) // 2
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


@dataclass(frozen=True, slots=True)
class _Overrun:
    """A window that is closed when the work of `job` begins, `by` minutes before."""

    job: str
    window: CoatWindow
    by: int

    @property
    def pair(self) -> tuple[str, str]:
        return self.job, self.window.after


def _overruns(jobs: Sequence[Job], layout: Layout) -> list[_Overrun]:
    found: list[_Overrun] = []
    for job in jobs:
        for window in job.windows:
            later, earlier = layout.laid.get(job.key), layout.laid.get(window.after)
            if later is None or earlier is None or window.closes is None:
                continue
            overrun = later.start - earlier.worked - window.closes
            if overrun > 0:
                found.append(_Overrun(job.key, window, overrun))
    return found


class _Pass:
    """One laying of all jobs, some of them held back."""

    def __init__(
        self, worktime: WorkTime, people: int, booths: int, moved: Mapping[str, int]
    ) -> None:
        self._worktime = worktime
        self._people = _Resource(people)
        self._booths = _Resource(booths)
        self._panels: dict[str, _Resource] = {}
        self._moved = moved
        self._laid: dict[str, Laid] = {}
        self._not_laid: dict[str, str] = {}

    def lay(self, jobs: Sequence[Job]) -> Layout:
        for job in jobs:
            why = self._hindrance(job)
            if why is not None:
                self._not_laid[job.key] = why
            else:
                self._laid[job.key] = self._place(job)
        return Layout(self._laid, self._not_laid, ())

    def _hindrance(self, job: Job) -> str | None:
        """Why a job cannot be laid at all."""
        blocked = [key for key in job.after if key in self._not_laid]
        if blocked:
            return f"it comes after {blocked[0]}, which has no place yet"
        if job.work is None or job.wait is None:
            return "how long it takes could not be reckoned"
        if job.people > self._people.capacity:
            return f"it takes {job.people} people and the shop has {self._people.capacity}"
        if job.booth and not self._booths.capacity:
            return "it needs a spray booth and the shop has none"
        if job.same_day and job.work > self._worktime.longest_day:
            return "it is to be ended on the day it is begun and is longer than any working day"
        return None

    def _place(self, job: Job) -> Laid:
        assert job.work is not None
        assert job.wait is not None
        minute = self._earliest(job)
        while True:
            work = self._worktime.work(minute, job.work, same_day=job.same_day)
            laid = Laid(job, work, work[-1].end + job.wait)
            later = self._free_again(laid)
            if later is None:
                self._take(laid)
                return laid
            # Same-day work may have begun later than asked; going on from there ends the search.
            minute = max(later, minute + 1)

    def _earliest(self, job: Job) -> int:
        ends = [self._laid[key].until for key in job.after]
        opens = [
            self._laid[window.after].worked + window.opens
            for window in job.windows
            if window.after in self._laid
        ]
        return max(self._worktime.start, job.not_before, self._moved.get(job.key, 0), *ends, *opens)

    def _claims(self, laid: Laid) -> list[tuple[_Resource, Stretch, int]]:
        job = laid.job
        through = Stretch(laid.start, laid.until)
        claims = [(self._people, stretch, job.people) for stretch in laid.work]
        if job.booth:
            until = laid.until if job.booth_while_waiting else laid.worked
            claims.append((self._booths, Stretch(laid.start, until), 1))
        claims += [
            (self._panels.setdefault(panel, _Resource(1)), through, 1) for panel in job.panels
        ]
        return claims

    def _free_again(self, laid: Laid) -> int | None:
        for resource, stretch, amount in self._claims(laid):
            later = resource.free_again(stretch, amount)
            if later is not None:
                return later
        return None

    def _take(self, laid: Laid) -> None:
        for resource, stretch, amount in self._claims(laid):
            resource.take(stretch, amount)
