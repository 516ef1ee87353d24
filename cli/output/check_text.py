"""What a check of a rule set came to, as text that editors and people read, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from cli.output.safe import neutral
from engine.errors import RuleSetError
from engine.ruleset.check import Checked
from engine.ruleset.finding import of_problem

FORMAT = "prepwright/check/1"


def check_text(checked: Checked) -> str:
    """Findings with file, line and column first, one closing line last."""
    return "\n".join(_lines(checked)) + "\n"


def _lines(checked: Checked) -> Iterator[str]:
    for finding in checked.findings:
        first, *more = str(finding).split("\n")
        yield neutral(first)
        yield from (f"    {neutral(line)}" for line in more)
    ruleset = checked.ruleset
    passed = sum(result.passed for result in checked.results)
    yield neutral(
        f"{ruleset.name} {ruleset.version}: {_count(len(ruleset.rules), 'rule')}, "
        f"{_count(len(ruleset.limits), 'limit')}, {_count(len(ruleset.facts), 'fact')}; "
        f"{passed} of {_count(len(checked.results), 'worked case')} pass; "
        f"{checked.tests_seen_both_ways} of {_count(checked.tests, 'test')} seen both ways; "
        f"{_verdict(checked)}."
    )


def _verdict(checked: Checked) -> str:
    wrong, doubtful = len(checked.errors), len(checked.warnings)
    found = _count(wrong, "problem") if wrong else "no problem found"
    return f"{found}, {_count(doubtful, 'warning')}" if doubtful else found


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def check_json(checked: Checked) -> dict[str, Any]:
    ruleset = checked.ruleset
    return {
        "format": FORMAT,
        "ok": checked.passed,
        "ruleset": {"name": ruleset.name, "version": ruleset.version, "digest": ruleset.digest},
        "findings": [finding.as_json() for finding in checked.findings],
        "errors": len(checked.errors),
        "warnings": len(checked.warnings),
        "rules": len(ruleset.rules),
        "cases": {
            "passed": sum(result.passed for result in checked.results),
            "all": len(checked.results),
        },
        "tests": {"seen_both_ways": checked.tests_seen_both_ways, "all": checked.tests},
    }


def refused_json(error: RuleSetError) -> dict[str, Any]:
    """A rule set that does not load, in the same form; nothing else is known of it."""
    findings = [of_problem(problem).as_json() for problem in error.problems]
    return {
        "format": FORMAT,
        "ok": False,
        "ruleset": None,
        "findings": findings,
        "errors": len(findings),
        "warnings": 0,
    }
