"""What differs between two plans of a job: work that is new, work that falls away, hours, stuff."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from engine.plan.as_json import plan_json
from engine.plan.merge import Task
from engine.plan.plan import Plan
from engine.quantity import Kind

Piece = tuple[str, str | None]
"""A piece of work by its title, and the panel it is done on (None: the car)."""


@dataclass(frozen=True, slots=True)
class Amount:
    """How an amount changed, in words; None where there is none of it."""

    title: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class PlanDifference:
    """What is new and what falls away. `hours` are those of all people together."""

    new: tuple[Piece, ...]
    gone: tuple[Piece, ...]
    hours: Amount
    materials: tuple[Amount, ...]

    def __bool__(self) -> bool:
        return bool(
            self.new or self.gone or self.materials or self.hours.before != self.hours.after
        )


def compare(before: Plan, after: Plan) -> PlanDifference:
    """What changed from one plan to another; work that is done counts in neither."""
    had, has = _work(task.task for task in before.tasks), _work(task.task for task in after.tasks)
    stuff_before, stuff_after = _stuff(before), _stuff(after)
    materials: list[Amount] = []
    for title in dict.fromkeys((*stuff_before, *stuff_after)):
        was, now = stuff_before.get(title), stuff_after.get(title)
        if was != now:
            materials.append(Amount(title, was, now))
    return PlanDifference(
        new=tuple(piece for key, piece in has.items() if key not in had),
        gone=tuple(piece for key, piece in had.items() if key not in has),
        hours=Amount("hours", _hours(before), _hours(after)),
        materials=tuple(materials),
    )


def _work(tasks: Iterable[Task]) -> dict[tuple[str, str | None], Piece]:
    found: dict[tuple[str, str | None], Piece] = {}
    for task in tasks:
        for panel in task.panels or (None,):
            found[task.step.id, panel] = (task.step.title, panel)
    return found


def _hours(plan: Plan) -> str:
    return plan.setting.text(plan.hours.person_hours, Kind.TIME)


def _stuff(plan: Plan) -> dict[str, str]:
    return {
        str(material["title"]): str(material["amount"]["text"])
        for material in plan_json(plan)["materials"]
        if material.get("amount")
    }
