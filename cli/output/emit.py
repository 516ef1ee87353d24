"""Writes a decision to standard output, as text or as JSON."""

from __future__ import annotations

import shlex
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from cli.output.jsontext import write_json
from engine.decision import Decision
from engine.ruleset.model import RuleSet
from engine.words import language

if TYPE_CHECKING:
    from engine.plan import Progress


def write_decision(
    decision: Decision,
    ruleset: RuleSet,
    *,
    as_json: bool,
    plain: bool,
    width: int | None,
    job: str | None = None,
    progress: Progress | None = None,
    at_most: int | None = None,
) -> None:
    """The decision as JSON with its plan, or as text that suits the terminal.

    `job` is what the job is called on the command line; the text then says how to see the plan,
    and how to see the rest of a text of more than `at_most` lines, which is cut to its top.
    The plan has no date, so that the same job gives the same bytes on any day: the clock that
    comes with `progress` is left out of it.
    """
    from cli.planning import plan_for
    from engine.plan import Progress, merged

    made = plan_for(ruleset, decision, replace(progress or Progress.none(), now=None))
    if as_json:
        write_json({**merged(decision, made), "language": language()})
        return
    from cli.output.decision_text import decision_text
    from cli.output.plan_text import about_plan
    from cli.output.style import style_for_stdout

    style = style_for_stdout(plain=plain, width=width)
    command = f"prepwright plan {shlex.quote(job)}" if job is not None else None
    line = about_plan(made, command)
    sys.stdout.write(
        decision_text(
            decision,
            ruleset,
            style,
            about_plan=line,
            at_most=at_most if job is not None else None,
            whole=f"prepwright decide {shlex.quote(job or '')}",
            progress=progress,
        )
    )
