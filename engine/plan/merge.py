"""What is due, and which of it people would do in one go.

A step that is due on several panels is one task for all of them where its `together` says so; a
step of the car is one task however many rules ask for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from fractions import Fraction

from engine.decision import Decision, StepDue
from engine.plan.setting import Setting
from engine.records import dataclass
from engine.ruleset.model import About, RuleSet, Step
from engine.ruleset.work import Span, Together

Subject = str | None
"""A panel by name; None is the car."""


@dataclass(frozen=True, slots=True)
class Due:
    """One step due on one subject, with the rules that ask for it."""

    step: Step
    panel: Subject
    rules: tuple[str, ...]

    @property
    def key(self) -> tuple[str, Subject]:
        return self.step.id, self.panel


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work as people do it: a step on the car, or on one or more panels together."""

    step: Step
    panels: tuple[str, ...]
    rules: tuple[str, ...]

    @property
    def key(self) -> str:
        """A name that is the same whenever the same work is planned."""
        return f"{self.step.id}: {', '.join(self.panels)}" if self.panels else self.step.id

    @property
    def parts(self) -> tuple[tuple[str, Subject], ...]:
        """The steps by subject that this task is made of."""
        return tuple((self.step.id, panel) for panel in self.panels or (None,))

    def meets(self, other: Task) -> bool:
        """Whether both touch the same panel; the car touches every one."""
        if not self.panels or not other.panels:
            return True
        return not set(self.panels).isdisjoint(other.panels)


@dataclass(frozen=True, slots=True)
class Progress:
    """What has been done and released so far, each with the time where it is known.

    Keys are a step or hold topic and the panel, None for the car. A hold released for the car is
    released for every panel.
    """

    done: Mapping[tuple[str, Subject], datetime | None]
    released: frozenset[tuple[str, Subject]]
    now: datetime | None = None

    @classmethod
    def none(cls) -> Progress:
        return cls({}, frozenset())

    def is_released(self, topic: str, subject: Subject) -> bool:
        return (topic, subject) in self.released or (topic, None) in self.released


def dues(ruleset: RuleSet, decision: Decision) -> tuple[Due, ...]:
    """Everything the decision makes due, car first, then panels as they were named.

    A step of the car that a panel's rule asks for is due once, on the car.
    """
    found: dict[tuple[str, Subject], Due] = {}
    for where, steps in _by_subject(decision):
        for due in steps:
            step = ruleset.steps[due.step]
            panel = where if step.about is About.PANEL else None
            before = found.get((step.id, panel))
            rules = (*before.rules, due.rule) if before else (due.rule,)
            found[(step.id, panel)] = Due(step, panel, tuple(dict.fromkeys(rules)))
    return tuple(found.values())


def _by_subject(decision: Decision) -> Iterable[tuple[Subject, tuple[StepDue, ...]]]:
    yield None, decision.car.steps
    for name, panel in decision.panels.items():
        yield name, panel.found.steps


def merge(due: Iterable[Due], setting: Setting) -> tuple[Task, ...]:
    """The tasks that the dues make: every due is in exactly one of them."""
    groups: dict[tuple[str, str | None], list[Due]] = {}
    for each in due:
        groups.setdefault((each.step.id, _group(each, setting)), []).append(each)
    return tuple(
        Task(
            step=group[0].step,
            panels=tuple(each.panel for each in group if each.panel is not None),
            rules=tuple(dict.fromkeys(rule for each in group for rule in each.rules)),
        )
        for group in groups.values()
    )


def parted(
    task: Task, attended: Callable[[Task], Span | None], day_h: Fraction
) -> tuple[Task, ...]:
    """The task in as few parts, panels in their order, as each take no longer than `day_h`.

    A panel that takes longer alone is a part of its own; a task whose time is not known stays
    whole. `attended` reckons how long people are at a task.
    """
    whole = attended(task)
    if whole is None or whole.high <= day_h or len(task.panels) < 2:
        return (task,)
    parts: list[Task] = []
    for panel in task.panels:
        together = replace(task, panels=(*parts[-1].panels, panel)) if parts else None
        took = attended(together) if together else None
        if together is not None and took is not None and took.high <= day_h:
            parts[-1] = together
        else:
            parts.append(replace(task, panels=(panel,)))
    return tuple(parts)


def _group(due: Due, setting: Setting) -> str | None:
    """What sets this due apart from others of its step; None for one task over the whole car."""
    if due.panel is None or due.step.work.together is Together.CAR:
        return None
    if due.step.work.together is Together.SIDE:
        side = setting.side(due.panel)
        if side is not None:
            return f"side {side}"
    return f"panel {due.panel}"
