"""The tasks of a plan in working order: what has to be released first, how, with what, how long.

Tasks that follow each other and are the same step on one panel after another stand under one
heading; what they share is said once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from cli.output.page import Page
from cli.output.plan_words import amount, counted, in_full, lasting, listed, numbers
from engine.plan import Plan, PlannedTask
from engine.plan.drying import Window
from engine.plan.holds import HoldPoint
from engine.plan.hours import Times
from engine.plan.materials import Used
from engine.plan.merge import Subject
from engine.ruleset.work import Booth, Span

_HOLD = "!"
_PLACES = {
    Booth.WHILE_WORKING: "in the booth",
    Booth.UNTIL_DRY: "in the booth until it is dry",
}


def write_tasks(page: Page, plan: Plan) -> None:
    """Every task, runs of the same step drawn together."""
    page.heading("Tasks in order")
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
                self._page.item(f"Released: {title}")
                continue
            marker = "-" if self._page.style.plain else _HOLD
            where = self._where(still)
            self._page.item(f"Hold, {title} ({where}): {release}", marker=marker)
            reasons = " ".join(self._reasons(here))
            if reasons:
                self._page.paragraph(f"Why: {reasons}", indent=3)

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
            self._page.item(f"How: {step.text}")
        else:
            self._page.item(f"How: as in task {told}.")

    def _details(self, planned: PlannedTask) -> Iterator[tuple[str, str]]:
        """Label and text of everything else about a task."""
        work = planned.task.step.work
        if planned.gear:
            yield "Wear", "; ".join(gear.title for gear in planned.gear)
        if planned.grits:
            yield "Grits", ", then ".join(planned.grits)
        terms = [_PLACES[work.booth]] if work.booth is not None else []
        if work.same_day:
            terms.append("begun and ended on one day")
        if work.people > 1:
            terms.append(counted(work.people, "person", "people"))
        if terms:
            yield "Conditions", "; ".join(terms)
        if planned.used:
            yield "Use", "; ".join(self._used(planned, used) for used in planned.used)
        yield "Time", times_text(planned.times)
        windows = list(self._windows(planned))
        if windows:
            yield "Window", " ".join(windows)
        if planned.after:
            before = sorted(self._numbers[key] for key in planned.after)
            yield "Comes after", f"{'task' if len(before) == 1 else 'tasks'} {numbers(before)}"

    def _used(self, planned: PlannedTask, used: Used) -> str:
        product = used.product
        if used.amount is None:
            much = "amount open"
        else:
            much = amount(self._plan, used.amount, product.handling.measured_by)
        coats = f" in {counted(used.use.coats, 'coat')}" if used.use.coats else ""
        batches = planned.batches.get(product.id)
        mixed = f", mixed in {batches.count} batches" if batches and batches.count > 1 else ""
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
            yield f"{window_text(window)} after {listed(names)}.{otherwise_text(window)}"


def times_text(times: Times) -> str:
    """How long a task takes, with what of it is open."""
    if times.hands_on is None:
        return "open"
    if not times.hands_on and not times.standing_by and not times.waiting:
        return "none; read it and keep to it"
    text = lasting(times.hands_on) + " hands-on"
    if times.standing_by is None:
        text += ", time between coats open"
    elif times.standing_by:
        text += f", {lasting(times.standing_by)} standing by between coats"
    if times.waiting is None:
        text += ", then a wait that is open"
    elif times.waiting:
        text += f", then {lasting(times.waiting)} waiting"
    return text


def window_text(window: Window) -> str:
    """When the next coat may follow."""
    opens, closes = window.opens_h, window.closes_h
    if closes is None:
        return f"From {_hours(opens)} on" if opens else "At any time"
    return f"{_hours(opens)} to {_hours(closes)}" if opens else f"Within {_hours(closes)}"


def otherwise_text(window: Window) -> str:
    """What to do once the window is closed, as a sentence after another."""
    return f" If it is later: {window.once_closed}" if window.once_closed else ""


def _hours(hours: Fraction) -> str:
    return lasting(Span.exactly(hours))
