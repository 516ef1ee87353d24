"""What the work of a decided job comes to, without laying it on days: hours, products, sheets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.decision import Decision
from engine.plan.drying import Waits
from engine.plan.hours import Hours, total_hours
from engine.plan.materials import Materials
from engine.plan.merge import dues, merge
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


def totals(ruleset: RuleSet, decision: Decision) -> Totals:
    """The sums over all the work that a decision makes due, done or not."""
    setting = Setting(ruleset, decision, Notes())
    materials = Materials(setting)
    hours = Hours(setting, ruleset.labour, Waits(setting))
    tasks = merge(dues(ruleset, decision), setting)
    # Waiting is nobody's hour, so that it does not matter here which products were put on before.
    timed = [(task, hours.times(task, ())) for task in tasks]
    products: dict[str, Span] = {}
    lacking = dict.fromkeys(task.key for task, times in timed if times.person_hours is None)
    for task in tasks:
        for used in materials.used(task):
            if used.amount is None:
                lacking[task.key] = None
            amount = used.amount or NOTHING
            products[used.product.id] = products.get(used.product.id, NOTHING) + amount
    abrasives = materials.abrasives((task, materials.grits(task)) for task in tasks)
    return Totals(
        person_hours=total_hours(timed).person_hours,
        products={
            (id, kind): setting.measured(span, kind)
            for id, span in products.items()
            for kind in (ruleset.products[id].handling.measured_by,)
        },
        sheets={
            each.grade: setting.measured(each.sheets, Kind.NUMBER)
            for each in abrasives
            if each.sheets is not None
        },
        left_out=tuple(lacking),
    )
