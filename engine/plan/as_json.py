"""A plan as plain data, put into the JSON form of its decision.

`merged` fills the keys `steps`, `materials`, `labour` and `calendar` of `prepwright/decision/1`
and adds `plan`. Amounts are in the canonical unit of their kind, rounded to six decimals.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from engine.decision import Decision, source_json
from engine.plan.calendar import Laid
from engine.plan.cost import CostLine, money_text
from engine.plan.hours import Times
from engine.plan.materials import Abrasive, Material, Part, ratio_of
from engine.plan.plan import Calendar, Plan, PlannedTask
from engine.plan.setting import Setting
from engine.plan.solvent import Solvent
from engine.plan.worktime import DAY
from engine.quantity import Kind, canonical_unit, to_canonical
from engine.ruleset.work import Span

_DECIMALS = 6
_SHEETS = "sheets"
_ABRASIVE = "abrasive"


def merged(decision: Decision, plan: Plan) -> dict[str, Any]:
    """The decision's JSON form with the plan in it."""
    shown = decision.as_json()
    places = {part: each for each in plan.tasks for part in each.task.parts}
    done = {due.key for due in plan.done}
    for name, subject in (("", shown["car"]), *shown["panels"].items()):
        steps: list[dict[str, Any]] = subject["steps"]
        for step in steps:
            part = next(
                key for key in ((step["step"], name), (step["step"], None))
                if key in places or key in done
            )  # fmt: skip
            step["done"] = part in done
            if part in places:
                step["task"] = places[part].key
                step["number"] = places[part].number
        # Done work has no number any more and stands before what is left.
        steps.sort(key=lambda step: step.get("number", 0))
    return {**shown, **plan_json(plan)}


def plan_json(plan: Plan) -> dict[str, Any]:
    """The parts of the JSON form that a plan fills."""
    writer = _Writer(plan)
    return {
        "materials": [
            *(writer.material(material) for material in plan.materials),
            *(writer.abrasive(abrasive) for abrasive in plan.abrasives),
        ],
        "labour": writer.labour(),
        "calendar": writer.calendar(plan.calendar) if plan.calendar else [],
        "plan": writer.plan(),
    }


class _Writer:
    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._setting: Setting = plan.setting
        self._planned = {planned.key: planned for planned in plan.tasks}

    # --- amounts ------------------------------------------------------------------------------

    def _span(self, span: Span | None, kind: Kind) -> dict[str, Any] | None:
        if span is None:
            return None
        return {
            "low": _number(to_canonical(span.low, kind)),
            "high": _number(to_canonical(span.high, kind)),
            "unit": canonical_unit(kind) or None,
            "text": self._setting.text(span, kind),
        }

    def _measured(self, span: Span | None, kind: Kind) -> dict[str, Any] | None:
        """An amount of a product or of sheets; what is counted comes in whole pieces."""
        return self._span(self._setting.measured(span, kind) if span else span, kind)

    def _money(self, span: Span | None, currency: str | None) -> dict[str, Any] | None:
        if span is None or currency is None:
            return None
        return {
            "low": _number(span.low),
            "high": _number(span.high),
            "unit": currency,
            "text": money_text(span, currency),
        }

    # --- materials ----------------------------------------------------------------------------

    def material(self, material: Material) -> dict[str, Any]:
        product = material.product
        kind = product.handling.measured_by
        voc = product.handling.voc
        shown: dict[str, Any] = {
            "product": product.id,
            "title": product.title,
            "kind": product.kind,
            "amount": self._measured(material.amount, kind),
            "parts": [
                self._part(part, kind, product.handling.size_texts) for part in material.parts
            ],
            "tasks": list(material.tasks),
            "not_reckoned": list(material.not_reckoned),
        }
        handling = product.handling
        if handling.parts:
            shown["ratio"] = [
                {"part": name, "parts": _number(parts)}
                for name, parts in ratio_of(handling).items()
            ]
        if handling.thinner is not None:
            shown["thinner"] = {
                "part": handling.thinner.name,
                "percent": _number(handling.thinner.percent),
                "of": "whole-mix" if handling.thinner.of_whole_mix else "first-part",
            }
        if voc is not None and kind is Kind.VOLUME:
            shown["voc"] = self._span(material.amount.times(voc), Kind.MASS)
        return shown

    def _part(self, part: Part, kind: Kind, sizes: Mapping[Fraction, str]) -> dict[str, Any]:
        shown: dict[str, Any] = {
            "part": part.name or None,
            "amount": self._measured(part.amount, kind),
        }
        if part.cans is not None:
            shown["cans"] = [
                {
                    "size": _number(to_canonical(size, kind)),
                    "text": sizes.get(size) or self._setting.amount(size, kind),
                    "count": count,
                }
                for size, count in part.cans.counts.items()
            ]
            shown["left_over"] = self._span(Span.exactly(part.cans.left_over_L), kind)
        return shown

    def abrasive(self, abrasive: Abrasive) -> dict[str, Any]:
        return {
            "product": abrasive.grade,
            "title": abrasive.grade,
            "kind": _ABRASIVE,
            "amount": self._measured(abrasive.sheets, Kind.NUMBER),
            "counted_in": _SHEETS,
            "tasks": list(abrasive.tasks),
        }

    # --- labour and calendar ------------------------------------------------------------------

    def labour(self) -> dict[str, Any]:
        hours, labour = self._plan.hours, self._plan.labour
        return {
            "hands_on": self._span(hours.hands_on, Kind.TIME),
            "standing_by": self._span(hours.standing_by, Kind.TIME),
            "person_hours": self._span(hours.person_hours, Kind.TIME),
            "waiting": self._span(hours.waiting, Kind.TIME),
            "left_out": list(hours.left_out),
            "people": labour.people if labour else None,
            "booths": labour.booths if labour else None,
            "example": labour.example if labour else None,
        }

    def calendar(self, calendar: Calendar) -> list[dict[str, Any]]:
        """Work and waits in the order in which they begin."""
        entries: list[tuple[int, int, dict[str, Any]]] = []
        for rank, laid in enumerate(calendar.layout.laid.values()):
            for stretch in laid.work:
                entries.append(
                    (stretch.start, rank, self._entry(laid, "work", stretch.start, stretch.end))
                )
            if laid.until > laid.worked:
                entries.append(
                    (laid.worked, rank, self._entry(laid, "wait", laid.worked, laid.until))
                )
        return [entry for _, _, entry in sorted(entries, key=lambda each: each[:2])]

    def _entry(self, laid: Laid, what: str, start: int, end: int) -> dict[str, Any]:
        planned = self._planned[laid.job.key]
        return {
            "what": what,
            "task": planned.key,
            "number": planned.number,
            "step": planned.task.step.id,
            "title": planned.task.step.title,
            "panels": list(planned.task.panels),
            "people": laid.job.people if what == "work" else 0,
            "from": self._moment(start),
            "to": self._moment(end),
        }

    def _moment(self, minute: int) -> dict[str, Any]:
        day, rest = divmod(minute, DAY)
        calendar = self._plan.calendar
        date = calendar.worktime.date(day) if calendar else None
        return {
            "day": day + 1,
            "date": date.isoformat() if date else None,
            "time": f"{rest // 60:02}:{rest % 60:02}",
        }

    # --- the plan -----------------------------------------------------------------------------

    def plan(self) -> dict[str, Any]:
        plan = self._plan
        calendar = plan.calendar
        return {
            "tasks": [self._task(planned) for planned in plan.tasks],
            "done": [{"step": due.step.id, "panel": due.panel} for due in plan.done],
            "next": {
                "ready": [
                    {"task": ready.task, "provided": list(ready.provided)}
                    for ready in plan.next.ready
                ],
                "blocked": [
                    {
                        "task": blocked.task,
                        "by": [
                            {"kind": str(by.kind), "names": by.names, "text": by.text}
                            for by in blocked.by
                        ],
                    }
                    for blocked in plan.next.blocked
                ],
            },
            "finish": None
            if calendar is None or not calendar.layout.laid
            else {
                "at_best": self._moment(calendar.at_best.end),
                "planned": self._moment(calendar.layout.end),
                "whole": not calendar.layout.not_laid,
            },
            "cost": {
                "lines": [self._cost_line(line) for line in plan.cost.lines],
                "total": self._money(plan.cost.total, plan.cost.currency),
                "not_priced": [line.what for line in plan.cost.not_priced],
            },
            "solvent": self._solvent(plan.solvent),
            "assumptions": [
                {"about": each.about, "text": each.text, "settle": each.settle}
                for each in plan.assumptions
            ],
            "missing": [
                {"about": each.about, "what": each.what, "why": each.why} for each in plan.missing
            ],
            "conflicts": [{"about": each.about, "text": each.text} for each in plan.conflicts],
        }

    def _solvent(self, solvent: Solvent | None) -> dict[str, Any] | None:
        if solvent is None:
            return None
        return {
            "limits": solvent.table.id if solvent.table else None,
            "source": source_json(solvent.source) if solvent.source else None,
            "note": solvent.table.note if solvent.table else None,
            "why": solvent.why,
            "lines": [
                {
                    "products": [product.id for product in line.products],
                    "voc": self._grams(line.voc_g_per_L),
                    "category": line.limit.category if line.limit else None,
                    "basis": line.limit.basis.value if line.limit else None,
                    "limit": self._grams(line.limit.limit_g_per_L) if line.limit else None,
                    "over_by": self._grams(line.over_by_g_per_L),
                    "why": line.why,
                }
                for line in solvent.lines
            ],
        }

    def _grams(self, per_litre: Fraction | None) -> dict[str, Any] | None:
        return None if per_litre is None else self._span(Span.exactly(per_litre), Kind.DENSITY)

    def _task(self, planned: PlannedTask) -> dict[str, Any]:
        step = planned.task.step
        return {
            "number": planned.number,
            "task": planned.key,
            "step": step.id,
            "title": step.title,
            "text": step.text,
            "panels": list(planned.task.panels),
            "rules": list(planned.task.rules),
            "phase": step.phase,
            "after": list(planned.after),
            "holds": [
                {
                    "topic": hold.topic.id,
                    "title": hold.topic.title,
                    "release": hold.topic.release,
                    "for": list(hold.subjects),
                    "open_for": list(hold.open_for),
                    "because": list(hold.because),
                }
                for hold in planned.holds
            ],
            "grits": list(planned.grits),
            "products": [
                {
                    "product": used.product.id,
                    "title": used.product.title,
                    "amount": self._measured(used.amount, used.product.handling.measured_by),
                    "coats": used.use.coats,
                    "batches": planned.batches[used.product.id].count
                    if used.product.id in planned.batches
                    else None,
                }
                for used in planned.used
            ],
            "gear": [{"gear": gear.id, "title": gear.title} for gear in planned.gear],
            "booth": str(step.work.booth) if step.work.booth else None,
            "same_day": step.work.same_day,
            "times": self._times(planned.times),
            "source": source_json(step.source),
        }

    def _times(self, times: Times) -> dict[str, Any]:
        return {
            "hands_on": self._span(times.hands_on, Kind.TIME),
            "standing_by": self._span(times.standing_by, Kind.TIME),
            "waiting": self._span(times.waiting, Kind.TIME),
            "people": times.people,
        }

    def _cost_line(self, line: CostLine) -> dict[str, Any]:
        return {
            "what": line.what,
            "title": line.title,
            "amount": self._money(line.amount, line.currency),
            "why": line.why,
        }


def _number(amount: Fraction) -> float:
    return round(float(amount), _DECIMALS)
