"""The calendar of a plan: day by day, from when to when, who does what."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from cli.output.page import Page
from cli.output.plan_words import clock, counted, day_name, moment, tasks_numbered
from engine.plan import Calendar, Plan, PlannedTask
from engine.plan.calendar import Laid
from engine.plan.worktime import DAY, Stretch
from engine.records import dataclass
from engine.words import say

_COLUMNS_NEED = 36


@dataclass(frozen=True, slots=True)
class _Line:
    """One stretch of work on one task: the `part`-th, counted from 0."""

    planned: PlannedTask
    laid: Laid
    stretch: Stretch
    part: int

    @property
    def day(self) -> int:
        return self.stretch.start // DAY

    @property
    def last(self) -> bool:
        return self.part == len(self.laid.work) - 1


def write_calendar(page: Page, plan: Plan) -> None:
    """Each day with its work in the order in which it begins, and what has no place."""
    page.heading(say("Calendar"))
    calendar = plan.calendar
    if calendar is None:
        page.paragraph(say("There is none: the rule set has no labour.yaml with the shop's hours."))
        return
    for day, lines in groupby(_lines(plan, calendar), key=lambda line: line.day):
        page.blank()
        page.label(day_name(calendar.worktime, day))
        for line in lines:
            _write(page, plan, calendar, line)
    left_out = [each.number for each in plan.tasks if each.key in calendar.layout.not_laid]
    if left_out:
        page.blank()
        page.paragraph(
            say(
                "Without a place on the calendar: {tasks}. See the conflicts.",
                tasks=tasks_numbered(left_out),
            ),
            dress=page.style.warning,
        )


def _lines(plan: Plan, calendar: Calendar) -> list[_Line]:
    found = [
        _Line(planned, laid, stretch, part)
        for planned in plan.tasks
        if (laid := calendar.layout.laid.get(planned.key)) is not None
        for part, stretch in enumerate(laid.work)
    ]
    return sorted(found, key=lambda line: (line.stretch.start, line.planned.number, line.part))


def _write(page: Page, plan: Plan, calendar: Calendar, line: _Line) -> None:
    start, end = clock(line.stretch.start), clock(line.stretch.end, end=True)
    short = line.stretch.start == line.stretch.end
    text = f"{line.planned.number}. {', '.join(_parts(plan, calendar, line))}"
    if page.style.plain or page.style.width < _COLUMNS_NEED:
        page.item(f"{start if short else f'{start} to {end}'}: {text}")
    else:
        page.item(text, marker=f"{start:11}" if short else f"{start}-{end}")


def _parts(plan: Plan, calendar: Calendar, line: _Line) -> Iterator[str]:
    yield titled(plan, line.planned)
    if line.part:
        yield say("goes on")
    if line.laid.job.work:
        yield counted(line.laid.job.people, "person", "people")
    if not line.last:
        yield say("not finished yet")
    elif line.laid.until > line.laid.worked:
        yield say("then waits until {moment}", moment=moment(calendar.worktime, line.laid.until))


def titled(plan: Plan, planned: PlannedTask) -> str:
    """A task by its title and where it is done; work on the car by its title alone."""
    task = planned.task
    return plan.setting.work(task.step.title, task.panels) if task.panels else task.step.title
