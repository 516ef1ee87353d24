"""The shop's working hours as one line of minutes from the first day's midnight."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from datetime import date as Date
from datetime import datetime, timedelta

from engine.errors import ReckoningError
from engine.records import dataclass
from engine.ruleset.work import Labour, OpenTime
from engine.words import say

DAY = 24 * 60
# Ten years: past it a calendar without any open day is refused rather than searched for ever.
_FURTHEST = 3653


@dataclass(frozen=True, slots=True)
class Stretch:
    """Minutes from `start` to `end`, counted from midnight of the first day."""

    start: int
    end: int


class WorkTime:
    """Working hours from the first day on.

    Without `start` the first day is a Monday without a date, so that no day off applies.
    `longest_day` is the working minutes of the longest day of the week.
    """

    def __init__(self, labour: Labour, start: datetime | None) -> None:
        self._week = labour.week
        self._closed = labour.closed
        self.longest_day = max(sum(open.end - open.start for open in day) for day in self._week)
        self._first: Date | None = start.date() if start else None
        self.start = start.hour * 60 + start.minute if start else 0
        # The open stretches of the first days, as far as anybody has asked yet.
        self._open: list[Stretch] = []
        self._ends: list[int] = []
        self._days = 0

    def on(self, day: int) -> tuple[OpenTime, ...]:
        """The working time of a day; 0 is the first."""
        if self._first is None:
            return self._week[day % 7]
        found = self._first + timedelta(days=day)
        return () if found in self._closed else self._week[found.weekday()]

    def date(self, day: int) -> Date | None:
        """The date of a day. Raises ReckoningError where no calendar goes that far."""
        last = self._last_day()
        if last is not None and day > last:
            raise ReckoningError(
                say("the work would go on past {max}; begin it earlier", max=Date.max)
            )
        return self._first + timedelta(days=day) if self._first else None

    def _last_day(self) -> int | None:
        """The last day a calendar has a date for."""
        return (Date.max - self._first).days if self._first else None

    def stretches(self, minute: int) -> Iterator[Stretch]:
        """Open stretches from a minute on. Raises ReckoningError where no day opens any more."""
        at = bisect_right(self._ends, minute)
        while True:
            while at >= len(self._open):
                self._open_another_day()
                at = bisect_right(self._ends, minute, at)
            found = self._open[at]
            yield found if found.start >= minute else Stretch(minute, found.end)
            at += 1

    def _open_another_day(self) -> None:
        last = self._last_day()
        for _ in range(_FURTHEST):
            if last is not None and self._days > last:
                break
            day = self._days
            self._days += 1
            opened = self.on(day)
            if opened:
                for open in opened:
                    self._open.append(Stretch(day * DAY + open.start, day * DAY + open.end))
                    self._ends.append(day * DAY + open.end)
                return
        raise ReckoningError(
            say("no working day is left in the calendar; see `closed` in labour.yaml")
        )

    def work(
        self, minute: int, minutes: int, *, same_day: bool, unbroken: bool = False
    ) -> tuple[Stretch, ...]:
        """The stretches in which work of so many minutes is done, begun at `minute` or later.

        Work without length is an empty stretch in working time. Same-day work that does not fit
        into the rest of a day begins on a later one; it must fit into some day. Unbroken work waits
        for a stretch that holds all of it, where the rest of this day or the next has one.
        """
        at = bisect_right(self._ends, minute)
        if at < len(self._open):
            # Most work is done in the stretch it begins in.
            first = self._open[at]
            begun = max(first.start, minute)
            if begun + minutes <= first.end:
                return (Stretch(begun, begun + minutes),)
        whole = self._whole(minute, minutes) if unbroken else None
        if whole is not None:
            return (whole,)
        found: list[Stretch] = []
        left = minutes
        for open in self.stretches(minute):
            if same_day and found and found[0].start // DAY != open.start // DAY:
                found, left = [], minutes
            end = min(open.end, open.start + left)
            found.append(Stretch(open.start, end))
            left -= end - open.start
            if left == 0:
                break
        return tuple(found)

    def _whole(self, minute: int, minutes: int) -> Stretch | None:
        """The first stretch of this working day and the next that holds work of so many minutes."""
        days: set[int] = set()
        for open in self.stretches(minute):
            days.add(open.start // DAY)
            if len(days) > 2:
                break
            if open.end - open.start >= minutes:
                return Stretch(open.start, open.start + minutes)
        return None
