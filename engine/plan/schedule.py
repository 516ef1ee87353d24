"""From planned tasks to the calendar, and from the calendar to what cannot be kept."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Protocol

from engine.plan.calendar import CoatWindow, Job, Layout, lay
from engine.plan.hours import Times
from engine.plan.merge import Progress, Task
from engine.plan.recoat import Timed
from engine.plan.setting import BOOTH, THE_CAR, Setting
from engine.plan.worktime import WorkTime
from engine.quantity import Kind
from engine.records import dataclass
from engine.ruleset.work import Booth, Labour, Span
from engine.words import say

_MINUTES = 60


class Plannable(Protocol):
    """What the calendar needs of a planned task."""

    @property
    def task(self) -> Task: ...
    @property
    def after(self) -> tuple[str, ...]: ...
    @property
    def times(self) -> Times: ...
    @property
    def coats(self) -> tuple[Timed, ...]: ...


@dataclass(frozen=True, slots=True)
class _Bounds:
    """When a task may begin because of coats put on before the plan was made, in minutes."""

    not_before: int = 0
    begin_by: int | None = None


class Schedule:
    """Lays the tasks of one job on the shop's hours."""

    def __init__(
        self, setting: Setting, labour: Labour, progress: Progress, start: datetime | None
    ) -> None:
        self._setting = setting
        self._people = labour.people
        self._booths = labour.booths
        self._progress = progress
        self._start = start
        self.worktime = WorkTime(labour, start)
        if setting.choice(BOOTH) == "no":
            # The work still blocks one place; where that is, the decision has settled by a hold.
            self._booths = 1
            setting.notes.assume(
                THE_CAR,
                say("the place to spray in takes one job at a time, as a booth would"),
                say("settle where it is sprayed"),
            )

    def lay(self, planned: Sequence[Plannable], *, longest: bool) -> Layout:
        """The calendar by the longest times reckoned, or by the shortest."""
        jobs = [self._job(each, longest=longest) for each in planned]
        return lay(jobs, self.worktime, people=self._people, booths=self._booths)

    def _job(self, planned: Plannable, *, longest: bool) -> Job:
        work = planned.task.step.work
        bounds = self._bounds(planned.coats)
        return Job(
            key=planned.task.key,
            after=planned.after,
            work=_minutes(planned.times.attended, longest=longest),
            wait=_minutes(planned.times.waiting, longest=longest),
            people=work.people,
            booth=work.booth is not None,
            booth_while_waiting=work.booth is Booth.UNTIL_DRY,
            same_day=work.same_day,
            panels=planned.task.panels,
            windows=tuple(dict.fromkeys(_windows(planned.coats))),
            not_before=bounds.not_before,
            begin_by=bounds.begin_by,
        )

    def _bounds(self, coats: Iterable[Timed]) -> _Bounds:
        opens: list[int] = []
        closes: list[int] = []
        for coat in coats:
            if coat.due is None:
                continue
            put_on = self._progress.done[coat.due.key]
            if put_on is None or self._start is None:
                self._setting.notes.assume(
                    coat.panel,
                    say(
                        "the time after {what} is kept; the plan does not know when it was "
                        "done, or when work begins",
                        what=coat.what,
                    ),
                    say("record when each step is done, and give the day on which work begins"),
                )
                continue
            midnight = datetime.combine(self._start.date(), datetime.min.time())
            at = math.ceil((put_on - midnight) / timedelta(minutes=1))
            opens.append(at + _up(coat.window.opens_h))
            if coat.window.closes_h is not None:
                closes.append(at + _down(coat.window.closes_h))
        return _Bounds(max(opens, default=0), min(closes, default=None))

    def note_conflicts(self, planned: Sequence[Plannable], layout: Layout) -> None:
        """Note what the calendar could not lay, and windows that it misses."""
        by_key = {each.task.key: each for each in planned}
        follow = 0
        for key, why in layout.not_laid.items():
            planned_task = by_key[key]
            if any(before in layout.not_laid for before in planned_task.after):
                follow += 1
                continue
            task = planned_task.task
            self._setting.notes.conflict(
                self._setting.work(task.step.title, task.panels),
                say("not on the calendar: {why}", why=why),
            )
        if follow:
            if follow == 1:
                text = say("1 later task has no place on it for the same reason")
            else:
                text = say(
                    "{count} later tasks have no place on it for the same reason", count=follow
                )
            self._setting.notes.conflict("calendar", text)
        for miss in layout.missed:
            later = by_key[miss.job]
            coats = [coat for coat in later.coats if coat.key == miss.after]
            late = self._setting.amount(Fraction(miss.by, _MINUTES), Kind.TIME)
            remedies = dict.fromkeys(c.window.once_closed for c in coats if c.window.once_closed)
            under = ", ".join(dict.fromkeys(coat.what for coat in coats))
            self._setting.notes.conflict(
                self._setting.work(later.task.step.title, later.task.panels),
                " ".join(
                    [
                        say("begins {late} too late after {under}.", late=late, under=under),
                        *remedies,
                    ]
                ),
            )


def _windows(coats: Iterable[Timed]) -> Iterable[CoatWindow]:
    for coat in coats:
        if coat.key is not None:
            closes = coat.window.closes_h
            yield CoatWindow(
                coat.key, _up(coat.window.opens_h), None if closes is None else _down(closes)
            )


def _minutes(span: Span | None, *, longest: bool) -> int | None:
    if span is None:
        return None
    return _up(span.high if longest else span.low)


def _up(hours: Fraction) -> int:
    return math.ceil(hours * _MINUTES)


def _down(hours: Fraction) -> int:
    return math.floor(hours * _MINUTES)
