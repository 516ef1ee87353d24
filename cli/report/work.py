"""The work of a plan as rows of text: tasks, days, materials, hours, cost and what is left open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from cli.output.plan_lists import can_texts, much_text, unpriced_titles
from cli.output.plan_tasks import otherwise_text, times_text, window_text
from cli.output.plan_words import (
    amount,
    clock,
    counted,
    day_name,
    in_full,
    labouring,
    lasting,
    listed,
    moment,
    numbers,
)
from engine.plan import Calendar, Plan, PlannedTask
from engine.plan.cost import money_text
from engine.plan.materials import Used
from engine.plan.worktime import DAY
from engine.quantity import Kind
from engine.ruleset.work import Booth
from engine.words import say, sentence

_PLACES = {
    Booth.WHILE_WORKING: sentence("booth while working"),
    Booth.UNTIL_DRY: sentence("booth until dry"),
}


@dataclass(frozen=True, slots=True)
class TaskHold:
    title: str
    release: str
    where: str
    released: bool


@dataclass(frozen=True, slots=True)
class Part:
    """One task of a run, with what differs from the others: label and text."""

    number: int
    where: str
    details: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Run:
    """Tasks that follow each other and are the same step, one panel after another."""

    numbers: str
    title: str
    text: str
    holds: tuple[TaskHold, ...]
    shared: tuple[tuple[str, str], ...]
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Work on one task within one day."""

    time: str
    number: int
    title: str
    where: str
    note: str


@dataclass(frozen=True, slots=True)
class Day:
    name: str
    work: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class Needed:
    title: str
    amount: str
    cans: str


@dataclass(frozen=True, slots=True)
class Note:
    about: str
    text: str
    settle: str


# --- tasks ------------------------------------------------------------------------------------


def runs(plan: Plan) -> tuple[Run, ...]:
    """All tasks in working order; how a step is done is said where it first comes."""
    told: dict[str, int] = {}
    place = {planned.key: planned.number for planned in plan.tasks}
    grouped = groupby(plan.tasks, key=lambda planned: planned.task.step.id)
    return tuple(_run(plan, list(run), told, place) for _, run in grouped)


def _run(
    plan: Plan, run: Sequence[PlannedTask], told: dict[str, int], place: dict[str, int]
) -> Run:
    step = run[0].task.step
    first = told.setdefault(step.id, run[0].number)
    details = [dict(_details(plan, planned, place)) for planned in run]
    shared = {
        label: text
        for label, text in details[0].items()
        if all(other.get(label) == text for other in details)
    }
    return Run(
        numbers=numbers([planned.number for planned in run]),
        title=step.title,
        text=step.text if first == run[0].number else say("As in task {first}.", first=first),
        holds=tuple(_holds(plan, run)),
        shared=tuple(shared.items()),
        parts=tuple(
            Part(
                planned.number,
                in_full(plan, planned.task.panels),
                tuple((label, text) for label, text in own.items() if label not in shared),
            )
            for planned, own in zip(run, details, strict=True)
        ),
    )


def _holds(plan: Plan, run: Iterable[PlannedTask]) -> Iterator[TaskHold]:
    together: dict[str, list[tuple[str, str, bool]]] = {}
    texts: dict[str, tuple[str, str]] = {}
    for planned in run:
        for hold in planned.holds:
            texts[hold.topic.id] = hold.topic.title, hold.topic.release
            for subject in hold.subjects:
                together.setdefault(hold.topic.id, []).append(
                    (hold.topic.id, in_full(plan, [subject]), subject not in hold.open_for)
                )
    for topic, lines in together.items():
        title, release = texts[topic]
        for _, where, released in dict.fromkeys(lines):
            yield TaskHold(title, release, where, released)


def _details(plan: Plan, planned: PlannedTask, place: dict[str, int]) -> Iterator[tuple[str, str]]:
    if planned.grits:
        yield say("Grits"), say(", then ").join(planned.grits)
    if planned.used:
        yield say("Use"), "; ".join(_used(plan, planned, used) for used in planned.used)
    if planned.gear:
        yield say("Wear"), "; ".join(gear.title for gear in planned.gear)
    work = planned.task.step.work
    terms = [say(_PLACES[work.booth])] if work.booth is not None else []
    if work.same_day:
        terms.append(say("begun and ended on one day"))
    if work.people > 1:
        terms.append(counted(work.people, "person", "people"))
    if terms:
        yield say("Place"), listed(terms)
    yield say("Time"), times_text(planned.times)
    windows: dict[str, dict[str, None]] = {}
    for coat in planned.coats:
        text = say(
            "{window_text} after {what}.{otherwise_text}",
            window_text=window_text(coat.window),
            what=coat.what,
            otherwise_text=otherwise_text(coat.window),
        )
        windows.setdefault(text, {})[coat.panel] = None
    if windows:
        yield say("Window"), " ".join(windows)
    if planned.after:
        yield say("After"), numbers(sorted(place[key] for key in planned.after))


def _used(plan: Plan, planned: PlannedTask, used: Used) -> str:
    product = used.product
    if used.amount is None:
        much = say("amount open")
    else:
        much = amount(plan, used.amount, product.handling.measured_by)
    coats = f", {counted(used.use.coats, 'coat')}" if used.use.coats else ""
    batches = planned.batches.get(product.id)
    mixed = say(", {count} batches", count=batches.count) if batches and batches.count > 1 else ""
    return f"{product.title} {much}{coats}{mixed}"


# --- days -------------------------------------------------------------------------------------


def days(plan: Plan) -> tuple[Day, ...]:
    """The calendar day by day; none where there is no calendar."""
    calendar = plan.calendar
    if calendar is None:
        return ()
    stretches: list[tuple[int, int, int, Stretch]] = []
    for planned in plan.tasks:
        for start, stretch in _stretches(plan, calendar, planned):
            stretches.append((start // DAY, start, planned.number, stretch))
    stretches.sort(key=lambda each: each[:3])
    return tuple(
        Day(day_name(calendar.worktime, day), tuple(each[3] for each in work))
        for day, work in groupby(stretches, key=lambda each: each[0])
    )


def _stretches(
    plan: Plan, calendar: Calendar, planned: PlannedTask
) -> Iterator[tuple[int, Stretch]]:
    laid = calendar.layout.laid.get(planned.key)
    if laid is None:
        return
    for part, stretch in enumerate(laid.work):
        notes = [say("goes on")] if part else []
        if part < len(laid.work) - 1:
            notes.append(say("not finished yet"))
        elif laid.until > laid.worked:
            notes.append(
                say("then waits until {moment}", moment=moment(calendar.worktime, laid.until))
            )
        start, end = clock(stretch.start), clock(stretch.end, end=True)
        yield (
            stretch.start,
            Stretch(
                start if stretch.start == stretch.end else f"{start}-{end}",
                planned.number,
                planned.task.step.title,
                plan.setting.called(planned.task.panels) if planned.task.panels else "",
                ", ".join(notes),
            ),
        )


def without_place(plan: Plan) -> str:
    """The numbers of tasks that have no place on the calendar."""
    if plan.calendar is None:
        return ""
    return numbers([t.number for t in plan.tasks if t.key in plan.calendar.layout.not_laid])


def done_when(plan: Plan) -> str:
    """The day on which the work ends, at best and as planned; nothing without a calendar."""
    calendar = plan.calendar
    if calendar is None or not calendar.layout.laid:
        return ""
    # An end at midnight belongs to the day before.
    ends = [max(end - 1, 0) // DAY for end in (calendar.at_best.end, calendar.layout.end)]
    dated = calendar.worktime.date(0) is not None
    best, planned = (
        day_name(calendar.worktime, day) if dated else say("day {day}", day=day + 1) for day in ends
    )
    when = (
        say("on {planned}", planned=planned)
        if best == planned
        else say("between {best} and {planned}", best=best, planned=planned)
    )
    return when if dated else say("{when} of the work", when=when)


# --- what it takes ----------------------------------------------------------------------------


def needed(plan: Plan) -> tuple[Needed, ...]:
    """Products with the cans to buy, then abrasives by grade."""
    products = [
        Needed(each.product.title, much_text(plan, each), "; ".join(can_texts(plan, each)))
        for each in plan.materials
    ]
    abrasives = [
        Needed(
            say("Abrasive {grade}", grade=each.grade),
            say("sheets not counted")
            if each.sheets is None
            else say("{amount} sheets", amount=amount(plan, each.sheets, Kind.NUMBER)),
            "",
        )
        for each in plan.abrasives
    ]
    return (*products, *abrasives)


def gear(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Every piece of gear that a task names, once: title and text."""
    found = {piece.id: piece for planned in plan.tasks for piece in planned.gear}
    return tuple((piece.title, piece.text) for piece in found.values())


def hours(plan: Plan) -> tuple[tuple[str, str], ...]:
    """The hours of the whole plan, label and text."""
    total = plan.hours
    rows = [(say("Hands on"), labouring(total.hands_on))]
    if total.standing_by:
        rows.append((say("Standing by between coats"), labouring(total.standing_by)))
    if total.waiting:
        rows.append((say("Waiting, added up over all tasks"), lasting(total.waiting)))
    rows.append((say("Hours to be paid, everybody's"), labouring(total.person_hours)))
    if total.left_out:
        tasks = counted(len(set(total.left_out)), "task")
        rows.append((say("Without"), say("{tasks} of open time", tasks=tasks)))
    return tuple(rows)


def cost(plan: Plan) -> tuple[tuple[tuple[str, str], ...], str]:
    """What has a price, label and text, and one sentence on the whole."""
    lines: list[tuple[str, str]] = []
    for line in plan.cost.lines:
        if line.amount is not None and line.currency is not None:
            but = f" ({line.why})" if line.why else ""
            lines.append((line.title, f"{money_text(line.amount, line.currency)}{but}"))
    unpriced: dict[str, list[str]] = {}
    for line in plan.cost.lines:
        if line.amount is None:
            unpriced.setdefault(line.why or say("no price"), []).append(line.title)
    lines += [
        (unpriced_titles(plan, titles), say("not priced: {why}", why=why))
        for why, titles in unpriced.items()
    ]
    if plan.cost.total is not None and plan.cost.currency is not None:
        partly = say(", without what is not priced") if plan.cost.not_priced else ""
        whole = say(
            "Total: {money_text}{partly}.",
            money_text=money_text(plan.cost.total, plan.cost.currency),
            partly=partly,
        )
    elif all(line.amount is None for line in plan.cost.lines):
        whole = say("Not priced: nothing here has a price, so there is no total.")
    else:
        whole = say("There is no total over several currencies.")
    return tuple(lines), whole


def conflicts(plan: Plan) -> tuple[Note, ...]:
    return _notes(plan, ((each.about, each.text, "") for each in plan.conflicts))


def missing(plan: Plan) -> tuple[Note, ...]:
    return _notes(plan, ((each.about, say(each.what), each.why) for each in plan.missing))


def assumed(plan: Plan) -> tuple[Note, ...]:
    return _notes(plan, ((each.about, each.text, each.settle) for each in plan.assumptions))


def _notes(plan: Plan, notes: Iterable[tuple[str, str, str]]) -> tuple[Note, ...]:
    """Notes that say the same are drawn together."""
    together: dict[tuple[str, str], list[str]] = {}
    for about, text, settle in notes:
        together.setdefault((text, settle), []).append(about)
    panels = plan.setting.decision.panels
    return tuple(
        Note(
            plan.setting.called(about)
            if all(each in panels for each in about)
            else listed(map(say, about)),
            text,
            settle,
        )
        for (text, settle), about in together.items()
    )
