"""What came of the worked cases of a rule set, in text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cli.output.safe import neutral
from engine.ruleset.model import RuleSet
from engine.ruleset.run_cases import CaseResult, Coverage


def cases_text(ruleset: RuleSet, results: Sequence[CaseResult], lacking: Coverage) -> str:
    """Failures with file, line and column first, one closing line last."""
    return "\n".join(_lines(ruleset, results, lacking)) + "\n"


def _lines(ruleset: RuleSet, results: Sequence[CaseResult], lacking: Coverage) -> Iterator[str]:
    failed = [result for result in results if not result.passed]
    for result in failed:
        yield f"{result.case.place}: case `{neutral(result.case.id)}` fails [case-failed]"
        for failure in result.failures:
            yield f"    {neutral(failure)}"
    for name in lacking.never_fired:
        yield f"{ruleset.rules[name].place}: no passing case fires `{name}` [never-fired]"
        yield "    Add a worked case with it under `fires`."
    for name in lacking.never_near:
        yield f"{ruleset.rules[name].place}: no near miss of `{name}` [no-near-miss]"
        yield "    Add a passing case with it under `quiet` in which a single test keeps it quiet."
    wrong = len(failed) + len(lacking.never_fired) + len(lacking.never_near)
    yield (
        f"{ruleset.name} {ruleset.version}: {len(ruleset.rules)} rules, {len(ruleset.limits)} "
        f"limits, {len(ruleset.facts)} facts; {len(results) - len(failed)} of {len(results)} "
        f"worked cases pass; {_problems(wrong)}."
    )


def _problems(wrong: int) -> str:
    return "no problem found" if not wrong else f"{wrong} problem{'s' if wrong > 1 else ''}"
