"""The calendar beside a slow one that tries every minute and counts who is busy in it."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import given, settings

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from plan_jobs import small

from engine.plan.calendar import Job, lay
from engine.plan.occupancy import Occupancy
from engine.plan.worktime import DAY, WorkTime

PANELS = ("roof", "lid")
LIMIT = 60


@settings(max_examples=200, deadline=None)
@given(
    st.integers(1, 3),
    st.lists(st.tuples(st.integers(0, LIMIT), st.integers(0, 20), st.integers(1, 3)), max_size=12),
)
def test_occupancy_is_that_of_counting_each_minute(
    capacity: int, asked: list[tuple[int, int, int]]
) -> None:
    occupancy, taken = Occupancy(capacity), Counter[int]()
    for start, length, wanted in asked:
        amount = min(wanted, capacity)
        end = start + length
        short = [at for at in range(start, end) if taken[at] + amount > capacity]
        expected = None
        if short:
            expected = next(
                at for at in range(short[0], 3 * LIMIT) if taken[at] + amount <= capacity
            )
        assert occupancy.free_again(start, end, amount) == expected
        if expected is None:
            occupancy.take(start, end, amount)
            taken.update(dict.fromkeys(range(start, end), amount))


@st.composite
def jobs(draw: st.DrawFn) -> list[Job]:
    found: list[Job] = []
    for number in range(draw(st.integers(1, 7))):
        earlier = [job.key for job in found]
        found.append(
            Job(
                key=f"job {number}",
                after=tuple(draw(st.sets(st.sampled_from(earlier), max_size=2))) if earlier else (),
                work=draw(st.sampled_from([0, 1, 30, 90, 240, 300])),
                wait=draw(st.sampled_from([0, 0, 45, 900])),
                people=draw(st.integers(1, 2)),
                booth=draw(st.booleans()),
                booth_while_waiting=draw(st.booleans()),
                same_day=draw(st.booleans()),
                panels=tuple(draw(st.sets(st.sampled_from(PANELS)))),
                not_before=draw(st.sampled_from([0, 0, 725, DAY])),
            )
        )
    return found


class Slow:
    """Places each job at the first minute at which every minute it takes is free."""

    def __init__(self, start: datetime, people: int, booths: int) -> None:
        labour = small().labour
        assert labour is not None
        self.labour, self.start = labour, start
        self.people, self.booths = people, booths
        self.busy: dict[str, Counter[int]] = {
            name: Counter() for name in ("people", "booth", "vehicle")
        }
        self.busy |= {panel: Counter() for panel in PANELS}
        self.until: dict[str, int] = {}

    def open(self, minute: int) -> bool:
        date = self.start.date() + timedelta(days=minute // DAY)
        if date in self.labour.closed:
            return False
        return any(
            open.start <= minute % DAY < open.end for open in self.labour.week[date.weekday()]
        )

    def place(self, job: Job) -> tuple[int, int]:
        assert job.work is not None
        assert job.wait is not None
        minute = max(
            self.start.hour * 60 + self.start.minute,
            job.not_before,
            *(self.until[key] for key in job.after),
            0,
        )
        while True:
            if self.open(minute):
                worked = self.minutes(minute, job.work)
                end = worked[-1] + 1 if worked else minute
                if self.fits(job, minute, worked, end):
                    self.until[job.key] = end + job.wait
                    return minute, end
            minute += 1

    def minutes(self, minute: int, work: int) -> list[int]:
        found: list[int] = []
        while len(found) < work:
            if self.open(minute):
                found.append(minute)
            minute += 1
        return found

    def goes_whole_soon(self, start: int, work: int) -> bool:
        """Whether so much work fits unbroken into the rest of this working day or into the next."""
        days: list[int] = []
        for minute in range(start, start + 9 * DAY):
            if self.open(minute) and minute // DAY not in days:
                days.append(minute // DAY)
            if len(days) > 2:
                return False
            if all(self.open(minute + after) for after in range(work)):
                return True
        return False

    def fits(self, job: Job, start: int, worked: list[int], end: int) -> bool:
        if job.same_day and worked and worked[-1] // DAY != start // DAY:
            return False
        broken = bool(worked) and worked[-1] >= start + len(worked)
        if job.booth and broken and self.goes_whole_soon(start, len(worked)):
            return False
        through = range(start, end + (job.wait or 0))
        claims = [("people", self.people, worked, job.people)]
        if job.booth:
            dry = through if job.booth_while_waiting else range(start, end)
            claims.append(("booth", self.booths, list(dry), 1))
        claims += [(panel, 1, list(through), 1) for panel in job.panels]
        if job.panels and job.booth:
            # The whole vehicle is in the booth, as much of it as all panels together.
            claims.append(("vehicle", len(PANELS), list(dry), len(PANELS)))
        elif job.panels:
            claims.append(("vehicle", len(PANELS), worked, 1))
        for name, capacity, times, amount in claims:
            if any(self.busy[name][at] + amount > capacity for at in times):
                return False
        for name, _, times, amount in claims:
            self.busy[name].update(dict.fromkeys(times, amount))
        return True


@settings(max_examples=60, deadline=None)
@given(jobs(), st.datetimes(datetime(2025, 3, 1), datetime(2025, 3, 8)), st.integers(2, 3))
def test_every_job_is_placed_at_the_first_minute_it_can_be(
    listed: list[Job], start: datetime, people: int
) -> None:
    labour = small().labour
    assert labour is not None
    layout = lay(listed, WorkTime(labour, start), people=people, booths=1)
    slow = Slow(start, people, 1)
    assert not layout.not_laid
    for job in listed:
        laid = layout.laid[job.key]
        assert (laid.start, laid.worked) == slow.place(job)
