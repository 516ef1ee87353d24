"""What may be done now, and what stops the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from enum import StrEnum

from engine.plan.holds import HoldPoint
from engine.plan.hours import Times
from engine.plan.merge import Due, Progress, Task
from engine.plan.recoat import Timed
from engine.plan.setting import Setting
from engine.quantity import Kind
from engine.records import dataclass
from engine.ruleset.work import Span, Together
from engine.words import say


class Because(StrEnum):
    """What kind of thing stops a task."""

    TASK = "task"
    HOLD = "hold"
    WAIT = "wait"
    WINDOW = "window"


@dataclass(frozen=True, slots=True)
class Blocker:
    """One thing that stops a task; `names` is the key of the other task, or the hold topic."""

    kind: Because
    names: str
    text: str


@dataclass(frozen=True, slots=True)
class Ready:
    """A task that may be done now; `provided` is what the plan cannot see for itself."""

    task: str
    provided: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Blocked:
    task: str
    by: tuple[Blocker, ...]


@dataclass(frozen=True, slots=True)
class Next:
    ready: tuple[Ready, ...]
    blocked: tuple[Blocked, ...]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What stands before one task."""

    task: Task
    after: tuple[str, ...]
    holds: tuple[HoldPoint, ...]
    coats: tuple[Timed, ...]


def next_up(
    outlooks: Iterable[Outlook],
    done: Mapping[Due, Times],
    progress: Progress,
    setting: Setting,
) -> Next:
    """What may be done now. `outlooks` in the order of the plan, without what is done."""
    listed = list(outlooks)
    tasks = {outlook.task.key: outlook.task for outlook in listed}
    ready: list[Ready] = []
    blocked: list[Blocked] = []
    for outlook in listed:
        looked = _Looker(outlook, tasks, done, progress, setting)
        if looked.by:
            blocked.append(Blocked(outlook.task.key, tuple(looked.by)))
        else:
            ready.append(Ready(outlook.task.key, tuple(dict.fromkeys(looked.provided))))
    return Next(tuple(ready), tuple(blocked))


class _Looker:
    """Looks at one task."""

    def __init__(
        self,
        outlook: Outlook,
        tasks: Mapping[str, Task],
        done: Mapping[Due, Times],
        progress: Progress,
        setting: Setting,
    ) -> None:
        self._outlook = outlook
        self._progress = progress
        self._setting = setting
        self.by: list[Blocker] = []
        self.provided: list[str] = []
        for key in outlook.after:
            before = tasks[key]
            text = say("{work} comes first", work=setting.work(before.step.title, before.panels))
            self.by.append(Blocker(Because.TASK, key, text))
        for hold in outlook.holds:
            if not hold.released:
                self.by.append(Blocker(Because.HOLD, hold.topic.id, _hold_text(hold, setting)))
        for due, times in _last_done(outlook.task, done):
            self._look_at_wait(due, times)
        for coat in outlook.coats:
            self._look_at_window(coat)
        self._look_at_open_panels()

    def _look_at_open_panels(self) -> None:
        """Work done over the whole car in one go may still be due on panels not decided yet."""
        task = self._outlook.task
        if not task.panels or task.step.work.together is not Together.CAR:
            return
        panels = self._setting.decision.panels.values()
        undecided = [panel.name for panel in panels if panel.treatment is None]
        if undecided:
            self.provided.append(
                say(
                    "it is not wanted on {undecided}, still undecided",
                    undecided=", ".join(undecided),
                )
            )

    def _look_at_wait(self, due: Due, times: Times) -> None:
        name = f"{due.step.title} ({due.panel or 'car'})"
        if times.waiting is None:
            self.provided.append(
                say("{name} has had the time it needs; see the data sheet", name=name)
            )
            return
        if not times.waiting:
            return
        until = _later(self._progress.done[due.key], times.waiting)
        if until is None or self._progress.now is None:
            wait = self._setting.text(times.waiting, Kind.TIME)
            self.provided.append(say("{wait} have passed since {name}", wait=wait, name=name))
        elif self._progress.now < until:
            text = say("{name} waits until {clock}", name=name, clock=_clock(until))
            self.by.append(Blocker(Because.WAIT, due.step.id, text))

    def _look_at_window(self, coat: Timed) -> None:
        if coat.due is None:
            return
        name = say("{what} on {panel}", what=coat.what, panel=coat.panel)
        at, now = self._progress.done[coat.due.key], self._progress.now
        opens = Span.exactly(coat.window.opens_h)
        if at is None or now is None:
            if coat.window.closes_h is None:
                since = say("at least {text}", text=self._setting.text(opens, Kind.TIME))
            elif not opens:
                since = say(
                    "at most {amount}", amount=self._setting.amount(coat.window.closes_h, Kind.TIME)
                )
            else:
                since = self._setting.text(Span(opens.low, coat.window.closes_h), Kind.TIME)
            self.provided.append(say("{name} was done {since} ago", name=name, since=since))
            return
        opening = _later(at, opens)
        assert opening is not None
        if now < opening:
            text = say("{name} can be gone over from {clock}", name=name, clock=_clock(opening))
            self.by.append(Blocker(Because.WINDOW, coat.due.step.id, text))
        elif coat.window.closes_h is not None:
            closing = at + timedelta(hours=float(coat.window.closes_h))
            if now > closing:
                remedy = coat.window.once_closed or say("See the data sheet.")
                text = say(
                    "{name} had to be gone over by {clock}. {remedy}",
                    name=name,
                    clock=_clock(closing),
                    remedy=remedy,
                )
                self.by.append(Blocker(Because.WINDOW, coat.due.step.id, text))


def _last_done(task: Task, done: Mapping[Due, Times]) -> Iterable[tuple[Due, Times]]:
    """The latest work done on what this task touches: earlier waits are over once it was done."""
    touching = [
        (due, times)
        for due, times in done.items()
        if due.step.phase <= task.step.phase
        and (due.panel is None or not task.panels or due.panel in task.panels)
    ]
    for due, times in touching:
        overtaken = any(
            other.step.phase > due.step.phase
            and (other.panel is None or due.panel is None or other.panel == due.panel)
            for other, _ in touching
        )
        if not overtaken:
            yield due, times


def _hold_text(hold: HoldPoint, setting: Setting) -> str:
    where = setting.called(hold.open_for)
    return say(
        "hold `{id}` ({where}): {release}",
        id=hold.topic.id,
        where=where,
        release=hold.topic.release,
    )


def _later(at: datetime | None, span: Span) -> datetime | None:
    return None if at is None else at + timedelta(hours=float(span.high))


def _clock(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")
