"""Makes the plan a command shows: from when on, with how many people, what is done already."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from engine.errors import UsageError
from engine.plaintext import quoted

if TYPE_CHECKING:
    from engine.decision import Decision
    from engine.plan import Plan, Progress
    from engine.ruleset.model import RuleSet
    from engine.ruleset.work import Labour

_START = re.compile(r"(\d{4}-\d\d-\d\d)(?:[T ](\d\d:\d\d))?", re.ASCII)
_RIGHT = "write it as 2026-11-30, or 2026-11-30T13:00 with the time work begins"


def start_from(text: str) -> datetime:
    """The moment work begins, in the time of the shop. Raises UsageError with what is right."""
    shape = _START.fullmatch(text.strip())
    if shape is None:
        raise UsageError(f"{quoted(text)} is no day to start on; {_RIGHT}")
    day, time = shape.groups()
    try:
        return datetime.fromisoformat(f"{day}T{time or '00:00'}")
    except ValueError:
        raise UsageError(f"there is no {quoted(text)} in the calendar; {_RIGHT}") from None


def plan_for(
    ruleset: RuleSet,
    decision: Decision,
    progress: Progress,
    *,
    start: datetime | None = None,
    people: int | None = None,
    booths: int | None = None,
) -> Plan:
    """The plan of a decided job with the shop's people and booths, or as many as are given.

    Raises UsageError where the rule set has no labour to change.
    """
    from engine.plan import make_plan

    labour = _labour(ruleset, people, booths)
    return make_plan(
        ruleset, decision, labour=labour, progress=_in_shop_time(progress), start=start
    )


def _labour(ruleset: RuleSet, people: int | None, booths: int | None) -> Labour | None:
    labour = ruleset.labour
    if people is None and booths is None:
        return labour
    if labour is None:
        raise UsageError(
            f"the rule set {ruleset.name} has no labour.yaml, so people and booths change "
            "nothing; add the shop's hours first"
        )
    return replace(
        labour,
        people=labour.people if people is None else people,
        booths=labour.booths if booths is None else booths,
    )


def _in_shop_time(progress: Progress) -> Progress:
    """Times of the record on the clock on the wall, which is what a crew reads."""

    def local(at: datetime | None) -> datetime | None:
        return at.astimezone().replace(tzinfo=None) if at is not None and at.tzinfo else at

    done = {key: local(at) for key, at in progress.done.items()}
    return replace(progress, done=done, now=local(progress.now))
