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

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_SHORT = 3
_HOUR = 60


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """`1 task`, `2 tasks`."""
    return f"{number} {noun}" if number == 1 else f"{number} {plural or noun + 's'}"


def numbers(found: Sequence[int]) -> str:
    """Numbers in rising order with runs drawn together: `3, 5 to 9`."""
    runs: list[list[int]] = []
    for number in found:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def either(low: str, high: str) -> str:
    """A range of two texts with a unit they share said once: `2 to 3.5 gal`."""
    if low == high:
        return low
    number, _, unit = low.partition(" ")
    shared = unit == high.partition(" ")[2] and not any(char.isdigit() for char in unit)
    return f"{number if shared else low} to {high}"


def amount(plan: Plan, span: Span, kind: Kind) -> str:
    """An amount in the units of the region; what is counted in whole pieces."""
    return either(*plan.setting.ends(plan.setting.measured(span, kind), kind))


def in_full(plan: Plan, subjects: Iterable[str | None]) -> str:
    """The car and panels in words, none hidden: people sign and work by them."""
    named = list(dict.fromkeys(subjects))
    short = plan.setting.called(named)
    return ", ".join(name or THE_CAR for name in named) if short.endswith(" more") else short


# --- lengths of time --------------------------------------------------------------------------


def lasting(span: Span) -> str:
    """How long something takes: `20 to 35 min`, `1 h 10 min to 2 h`, `38 to 71 h`, `7 days`."""
    return either(_length(span.low), _length(span.high))


def _length(hours: Fraction) -> str:
    minutes = max(round(hours * _HOUR), 1) if hours else 0
    if minutes < _HOUR:
        return f"{minutes} min"
    if minutes >= 2 * DAY:
        days, rest = divmod(round(hours), 24)
        return counted(days, "day") + (f" {rest} h" if rest else "")
    return _hours_and_minutes(minutes)


def _hours_and_minutes(minutes: int) -> str:
    whole, rest = divmod(minutes, _HOUR)
    return f"{whole} h {rest} min" if rest else f"{whole} h"


def labouring(span: Span) -> str:
    """Hours of work in all, in whole hours once there are many: `38 to 71 h`."""

    def hours(each: Fraction) -> str:
        few = each < 10
        return _hours_and_minutes(round(each * _HOUR)) if few else f"{round(each)} h"

    return either(hours(span.low), hours(span.high))


# --- days -------------------------------------------------------------------------------------


def day_name(worktime: WorkTime, day: int) -> str:
    """The heading of a day: `Monday 30 November 2026`; `Day 1, Monday` without a start."""
    date = worktime.date(day)
    if date is None:
        return f"Day {day + 1}, {_WEEKDAYS[day % 7]}"
    return f"{_WEEKDAYS[date.weekday()]} {date.day} {_MONTHS[date.month - 1]} {date.year}"


def moment(worktime: WorkTime, minute: int) -> str:
    """A day and time in short: `Mon 30 Nov 08:00`; `day 1 08:00` without a start."""
    day, rest = divmod(minute, DAY)
    date = worktime.date(day)
    shown = _short(date) if date else f"day {day + 1}"
    return f"{shown} {clock(rest)}"


def _short(date: Date) -> str:
    return f"{_WEEKDAYS[date.weekday()][:_SHORT]} {date.day} {_MONTHS[date.month - 1][:_SHORT]}"


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
    text = f"{labouring(plan.hours.person_hours)} of work"
    if plan.calendar is not None and plan.calendar.layout.laid:
        most, fewest = days_of_work(plan.calendar.layout), days_of_work(plan.calendar.at_best)
        # Shorter times can miss a closing hour that longer ones keep.
        least = "" if fewest >= most else f"{fewest} to "
        text += f" on {least}{counted(most, 'day')}"
    open_tasks = len(set(plan.hours.left_out))
    if open_tasks:
        text += f", without {counted(open_tasks, 'task')} whose time is open"
    return text


def listed(names: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
