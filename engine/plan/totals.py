"""What the work of a decided job comes to, without laying it on days: hours, products, sheets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.decision import Decision
from engine.plan.drying import Waits
from engine.plan.hours import Hours
from engine.plan.materials import Materials
from engine.plan.merge import Task, dues, merge
from engine.plan.notes import Notes
from engine.plan.setting import Setting
from engine.quantity import Kind
from engine.ruleset.model import RuleSet
from engine.ruleset.work import NOTHING, Span


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of a plan, as `make_plan` reckons them.

    `person_hours` are in h; `products` by id and measure, in its base unit; `sheets` by grade.
    `left_out` names the tasks of which an hour or an amount could not be reckoned and is in no sum.
    """

    person_hours: Span
    products: Mapping[tuple[str, Kind], Span]
    sheets: Mapping[str, Span]
    left_out: tuple[str, ...]


TaskKey = tuple[str, tuple[str, ...]]
"""A task by its step and its panels."""


@dataclass(frozen=True, slots=True)
class TaskTotals:
    """What one task adds to the sums; `whole` where nothing of it is left out."""

    person_hours: Span | None
    products: tuple[tuple[tuple[str, Kind], Span], ...]
    sheets: tuple[tuple[str, Span], ...]
    whole: bool


def totals(
    ruleset: RuleSet, decision: Decision, known: dict[TaskKey, TaskTotals] | None = None
) -> Totals:
    """The sums over all the work that a decision makes due, done or not.

    `known` are tasks reckoned before, to be taken as they are; those reckoned here are put in.
    """
    reckoner = _Reckoner(ruleset, decision)
    reckoned = {} if known is None else known
    hours = NOTHING
    products: dict[tuple[str, Kind], Span] = {}
    sheets: dict[str, Span] = {}
    left_out: list[str] = []
    for task in reckoner.tasks():
        key = task.step.id, task.panels
        if key not in reckoned:
            reckoned[key] = reckoner.of(task)
        found = reckoned[key]
        hours += found.person_hours or NOTHING
        for product, amount in found.products:
            products[product] = products.get(product, NOTHING) + amount
        for grade, amount in found.sheets:
            sheets[grade] = sheets.get(grade, NOTHING) + amount
        if not found.whole:
            left_out.append(task.key)
    measured = reckoner.setting.measured
    return Totals(
        person_hours=hours,
        products={(id, kind): measured(span, kind) for (id, kind), span in products.items()},
        sheets={grade: measured(span, Kind.NUMBER) for grade, span in sheets.items()},
        left_out=tuple(sorted(left_out)),
    )


class _Reckoner:
    def __init__(self, ruleset: RuleSet, decision: Decision) -> None:
        self.setting = Setting(ruleset, decision, Notes())
        self._materials = Materials(self.setting)
        self._hours = Hours(self.setting, ruleset.labour, Waits(self.setting))

    def tasks(self) -> tuple[Task, ...]:
        return merge(dues(self.setting.ruleset, self.setting.decision), self.setting)

    def of(self, task: Task) -> TaskTotals:
        # Waiting is nobody's hour, so that it does not matter which products were put on before.
        paid = self._hours.times(task, ()).person_hours
        used = self._materials.used(task)
        abrasives = self._materials.abrasives([(task, self._materials.grits(task))])
        return TaskTotals(
            paid,
            tuple(
                ((each.product.id, each.product.handling.measured_by), each.amount or NOTHING)
                for each in used
            ),
            tuple((each.grade, each.sheets) for each in abrasives if each.sheets is not None),
            paid is not None and all(each.amount is not None for each in used),
        )
