"""The tasks of a plan in working order: what has to be released first, how, with what, how long.

Tasks that follow each other and are the same step on one panel after another stand under one
heading; what they share is said once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from cli.output.page import Page
from cli.output.plan_words import amount, counted, in_full, lasting, listed, numbers, tasks_numbered
from engine.plan import Plan, PlannedTask
from engine.plan.drying import Window
from engine.plan.holds import HoldPoint
from engine.plan.hours import Times
from engine.plan.materials import Used
from engine.plan.merge import Subject
from engine.ruleset.work import Booth, Span
from engine.words import say, sentence

_HOLD = "!"
_PLACES = {
    Booth.WHILE_WORKING: sentence("in the booth"),
    Booth.UNTIL_DRY: sentence("in the booth until it is dry"),
}


def write_tasks(page: Page, plan: Plan) -> None:
    """Every task, runs of the same step drawn together."""
    page.heading(say("Tasks in order"))
    writer = _TaskWriter(page, plan)
    for _, run in groupby(plan.tasks, key=lambda planned: planned.task.step.id):
        writer.write(list(run))


class _TaskWriter:
    def __init__(self, page: Page, plan: Plan) -> None:
        self._page = page
        self._plan = plan
        self._numbers = {planned.key: planned.number for planned in plan.tasks}
        self._told: dict[str, int] = {}
        self._reasoned: set[tuple[str, str]] = set()

    def write(self, run: Sequence[PlannedTask]) -> None:
        self._page.blank()
        self._page.label(self._heading(run))
        self._holds(run)
        self._how(run[0])
        details = [dict(self._details(planned)) for planned in run]
        shared = {
            label: text
            for label, text in details[0].items()
            if all(other.get(label) == text for other in details)
        }
        for label, text in shared.items():
            self._page.item(f"{label}: {text}")
        if len(run) > 1:
            for planned, own in zip(run, details, strict=True):
                self._on_one(planned, {k: text for k, text in own.items() if k not in shared})

    def _on_one(self, planned: PlannedTask, own: dict[str, str]) -> None:
        """What differs on one panel of a run."""
        parts = ". ".join(f"{label}: {text.rstrip('.')}" for label, text in own.items())
        where = self._where(planned.task.panels)
        self._page.item(f"{where}. {parts}" if parts else where, marker=f"{planned.number}.")

    def _heading(self, run: Sequence[PlannedTask]) -> str:
        title = run[0].task.step.title
        if len(run) > 1:
            return f"{numbers([planned.number for planned in run])}. {title}"
        where = f" ({self._where(run[0].task.panels)})" if run[0].task.panels else ""
        return f"{run[0].number}. {title}{where}"

    def _where(self, subjects: Iterable[Subject]) -> str:
        return in_full(self._plan, subjects)

    # --- before it begins ---------------------------------------------------------------------

    def _holds(self, run: Sequence[PlannedTask]) -> None:
        holds = [hold for planned in run for hold in planned.holds]
        for topic in dict.fromkeys(hold.topic.id for hold in holds):
            here = [hold for hold in holds if hold.topic.id == topic]
            still = [subject for hold in here for subject in hold.open_for]
            title, release = here[0].topic.title, here[0].topic.release
            if not still:
                self._page.item(say("Released: {title}", title=title))
                continue
            marker = "-" if self._page.style.plain else _HOLD
            where = self._where(still)
            self._page.item(
                say(
                    "Hold, {title} ({where}): {release}", title=title, where=where, release=release
                ),
                marker=marker,
            )
            reasons = " ".join(self._reasons(here))
            if reasons:
                self._page.paragraph(say("Why: {reasons}", reasons=reasons), indent=3)

    def _reasons(self, holds: Sequence[HoldPoint]) -> Iterator[str]:
        """The reasons not told before, with the panels where they are not those of all."""
        everywhere = {subject for hold in holds for subject in hold.subjects}
        reasons: dict[str, dict[Subject, None]] = {}
        for hold in holds:
            for why in hold.because:
                reasons.setdefault(why, {}).update(dict.fromkeys(hold.subjects))
        for why, where in reasons.items():
            if (holds[0].topic.id, why) in self._reasoned:
                continue
            self._reasoned.add((holds[0].topic.id, why))
            here = "" if set(where) == everywhere else f"{self._where(where)}: "
            yield f"{here}{why}"

    # --- how it is done -----------------------------------------------------------------------

    def _how(self, planned: PlannedTask) -> None:
        step = planned.task.step
        told = self._told.setdefault(step.id, planned.number)
        if told == planned.number:
            self._page.item(say("How: {text}", text=step.text))
        else:
            self._page.item(say("How: as in task {told}.", told=told))

    def _details(self, planned: PlannedTask) -> Iterator[tuple[str, str]]:
        """Label and text of everything else about a task."""
        work = planned.task.step.work
        if planned.gear:
            yield say("Wear"), "; ".join(gear.title for gear in planned.gear)
        if planned.grits:
            yield say("Grits"), say(", then ").join(planned.grits)
        terms = [say(_PLACES[work.booth])] if work.booth is not None else []
        if work.same_day:
            terms.append(say("begun and ended on one day"))
        if work.people > 1:
            terms.append(counted(work.people, "person", "people"))
        if terms:
            yield say("Conditions"), "; ".join(terms)
        if planned.used:
            yield say("Use"), "; ".join(self._used(planned, used) for used in planned.used)
        yield say("Time"), times_text(planned.times)
        windows = list(self._windows(planned))
        if windows:
            yield say("Window"), " ".join(windows)
        if planned.after:
            before = sorted(self._numbers[key] for key in planned.after)
            yield say("Comes after"), tasks_numbered(before)

    def _used(self, planned: PlannedTask, used: Used) -> str:
        product = used.product
        if used.amount is None:
            much = say("amount open")
        else:
            much = amount(self._plan, used.amount, product.handling.measured_by)
        coats = say(" in {coats}", coats=counted(used.use.coats, "coat")) if used.use.coats else ""
        batches = planned.batches.get(product.id)
        mixed = (
            say(", mixed in {count} batches", count=batches.count)
            if batches and batches.count > 1
            else ""
        )
        return f"{product.title} {much}{coats}{mixed}"

    def _windows(self, planned: PlannedTask) -> Iterator[str]:
        """The windows it falls in, as sentences; what has the same one is named together."""
        panels: dict[tuple[str, Window], dict[str, None]] = {}
        for coat in planned.coats:
            panels.setdefault((coat.what, coat.window), {})[coat.panel] = None
        together: dict[Window, list[str]] = {}
        for (what, window), where in panels.items():
            everywhere = set(where) == set(planned.task.panels)
            name = what if everywhere else f"{what} ({self._where(where)})"
            together.setdefault(window, []).append(name)
        for window, names in together.items():
            yield say(
                "{window_text} after {listed}.{otherwise_text}",
                window_text=window_text(window),
                listed=listed(names),
                otherwise_text=otherwise_text(window),
            )


def times_text(times: Times) -> str:
    """How long a task takes, with what of it is open."""
    if times.hands_on is None:
        return "open"
    if not times.hands_on and not times.standing_by and not times.waiting:
        return say("none; read it and keep to it")
    text = say("{time} hands-on", time=lasting(times.hands_on))
    if times.standing_by is None:
        text += say(", time between coats open")
    elif times.standing_by:
        text += say(", {lasting} standing by between coats", lasting=lasting(times.standing_by))
    if times.waiting is None:
        text += say(", then a wait that is open")
    elif times.waiting:
        text += say(", then {lasting} waiting", lasting=lasting(times.waiting))
    return text


def window_text(window: Window) -> str:
    """When the next coat may follow."""
    opens, closes = window.opens_h, window.closes_h
    if closes is None:
        return say("From {hours} on", hours=_hours(opens)) if opens else say("At any time")
    return (
        say("{hours} to {hours2}", hours=_hours(opens), hours2=_hours(closes))
        if opens
        else say("Within {hours}", hours=_hours(closes))
    )


def otherwise_text(window: Window) -> str:
    """What to do once the window is closed, as a sentence after another."""
    return (
        say(" If it is later: {once_closed}", once_closed=window.once_closed)
        if window.once_closed
        else ""
    )


def _hours(hours: Fraction) -> str:
    return lasting(Span.exactly(hours))
