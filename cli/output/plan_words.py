"""Times, days, numbers and amounts of a plan in the words of a crew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date as Date
from fractions import Fraction

from engine.plan import Plan
from engine.plan.calendar import Layout
from engine.plan.setting import THE_CAR
from engine.plan.worktime import DAY, WorkTime
from engine.quantity import Kind
from engine.ruleset.work import Span
from engine.words import counted, say, sentence

__all__ = [
    "amount", "clock", "counted", "day_name", "days_of_work", "either", "in_all", "in_full",
    "labouring", "lasting", "listed", "moment", "numbers", "tasks_numbered",
]  # fmt: skip

_WEEKDAYS = (
    sentence("Monday"), sentence("Tuesday"), sentence("Wednesday"), sentence("Thursday"),
    sentence("Friday"), sentence("Saturday"), sentence("Sunday"),
)  # fmt: skip
_MONTHS = (
    sentence("January"), sentence("February"), sentence("March"), sentence("April"),
    sentence("May"), sentence("June"), sentence("July"), sentence("August"),
    sentence("September"), sentence("October"), sentence("November"), sentence("December"),
)  # fmt: skip
_SHORT = 3
_HOUR = 60


def numbers(found: Sequence[int]) -> str:
    """Numbers in rising order with runs drawn together: `3, 5 to 9`."""
    runs: list[list[int]] = []
    for number in found:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        say("{low} to {high}", low=run[0], high=run[-1])
        if len(run) > 2
        else ", ".join(map(str, run))
        for run in runs
    )


def either(low: str, high: str) -> str:
    """A range of two texts with a unit they share said once: `2 to 3.5 gal`."""
    if low == high:
        return low
    number, _, unit = low.partition(" ")
    shared = unit == high.partition(" ")[2] and not any(char.isdigit() for char in unit)
    return say("{low} to {high}", low=number if shared else low, high=high)


def amount(plan: Plan, span: Span, kind: Kind) -> str:
    """An amount in the units of the region; what is counted in whole pieces."""
    return either(*plan.setting.ends(plan.setting.measured(span, kind), kind))


def in_full(plan: Plan, subjects: Iterable[str | None]) -> str:
    """The car and panels in words, none hidden: people sign and work by them."""
    named = list(dict.fromkeys(subjects))
    if plan.setting.shortens(named):
        return ", ".join(name or say(THE_CAR) for name in named)
    return plan.setting.called(named)


# --- lengths of time --------------------------------------------------------------------------


def lasting(span: Span) -> str:
    """How long something takes: `20 to 35 min`, `1 h 10 min to 2 h`, `38 to 71 h`, `7 days`."""
    return either(_length(span.low), _length(span.high))


def _length(hours: Fraction) -> str:
    minutes = max(round(hours * _HOUR), 1) if hours else 0
    if minutes < _HOUR:
        return say("{minutes} min", minutes=minutes)
    if minutes >= 2 * DAY:
        days, rest = divmod(round(hours), 24)
        return counted(days, "day") + (f" {rest} h" if rest else "")
    return _hours_and_minutes(minutes)


def _hours_and_minutes(minutes: int) -> str:
    whole, rest = divmod(minutes, _HOUR)
    return say("{whole} h {rest} min", whole=whole, rest=rest) if rest else f"{whole} h"


def labouring(span: Span) -> str:
    """Hours of work in all, in whole hours once there are many: `38 to 71 h`."""

    def hours(each: Fraction) -> str:
        few = each < 10
        return _length(each) if few else f"{round(each)} h"

    return either(hours(span.low), hours(span.high))


# --- days -------------------------------------------------------------------------------------


def day_name(worktime: WorkTime, day: int) -> str:
    """The heading of a day: `Monday 30 November 2026`; `Day 1, Monday` without a start."""
    date = worktime.date(day)
    if date is None:
        return say("Day {day}, {weekday}", day=day + 1, weekday=say(_WEEKDAYS[day % 7]))
    return say(
        "{weekday} {day} {month} {year}",
        weekday=say(_WEEKDAYS[date.weekday()]),
        day=date.day,
        month=say(_MONTHS[date.month - 1]),
        year=date.year,
    )


def moment(worktime: WorkTime, minute: int) -> str:
    """A day and time in short: `Mon 30 Nov 08:00`; `day 1 08:00` without a start."""
    day, rest = divmod(minute, DAY)
    date = worktime.date(day)
    shown = _short(date) if date else say("day {day}", day=day + 1)
    return f"{shown} {clock(rest)}"


def _short(date: Date) -> str:
    weekday, month = say(_WEEKDAYS[date.weekday()]), say(_MONTHS[date.month - 1])
    return f"{weekday[:_SHORT]} {date.day} {month[:_SHORT]}"


def clock(minute: int, *, end: bool = False) -> str:
    """A time of day; the `end` of a stretch at midnight is 24:00."""
    rest = minute % DAY
    if end and rest == 0:
        rest = DAY
    return f"{rest // _HOUR:02}:{rest % _HOUR:02}"


def days_of_work(layout: Layout) -> int:
    """On how many days somebody works."""
    return len({stretch.start // DAY for laid in layout.laid.values() for stretch in laid.work})


# --- in all -----------------------------------------------------------------------------------


def in_all(plan: Plan) -> str:
    """The hours of everybody and the days: `97 to 194 h of work on 12 to 24 days`."""
    text = say("{labouring} of work", labouring=labouring(plan.hours.person_hours))
    if plan.calendar is not None and plan.calendar.layout.laid:
        most, fewest = days_of_work(plan.calendar.layout), days_of_work(plan.calendar.at_best)
        days = counted(most, "day")
        # Shorter times can miss a closing hour that longer ones keep.
        if fewest < most:
            days = say("{low} to {high}", low=fewest, high=days)
        text += say(" on {days}", days=days)
    open_tasks = len(set(plan.hours.left_out))
    if open_tasks:
        text += say(
            ", without {open_tasks} whose time is open", open_tasks=counted(open_tasks, "task")
        )
    return text


def tasks_numbered(found: Sequence[int]) -> str:
    """`task 3`, `tasks 3, 5 to 9`."""
    if len(found) == 1:
        return say("task {number}", number=found[0])
    return say("tasks {numbers}", numbers=numbers(found))


def listed(names: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    *most, last = names
    return say("{most} and {last}", most=", ".join(most), last=last) if most else last
