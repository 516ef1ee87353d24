"""The plan of a decided job: work in order, materials, hours, a calendar, cost, what is next.

plan = make_plan(ruleset, decide(ruleset, facts))
"""

from engine.plan.as_json import merged, plan_json
from engine.plan.merge import Progress
from engine.plan.plan import Calendar, Plan, PlannedTask, make_plan

__all__ = [
    "Calendar",
    "Plan",
    "PlannedTask",
    "Progress",
    "make_plan",
    "merged",
    "plan_json",
]
