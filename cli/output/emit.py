"""Writes a decision to standard output, as text or as JSON."""

from __future__ import annotations

import sys

from cli.output.jsontext import write_json
from engine.decision import Decision
from engine.ruleset.model import RuleSet


def write_decision(
    decision: Decision, ruleset: RuleSet, *, as_json: bool, plain: bool, width: int | None
) -> None:
    """The decision as JSON, or as text that suits the terminal."""
    if as_json:
        write_json(decision.as_json())
        return
    from cli.output.decision_text import decision_text
    from cli.output.style import style_for_stdout

    style = style_for_stdout(plain=plain, width=width)
    sys.stdout.write(decision_text(decision, ruleset, style))
