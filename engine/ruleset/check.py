"""Checks a rule set that loads: its logic, what is unused, its worked cases, and a shop's changes.

    same-logic            two rules fire together, and one gives nothing that the other does not
    never-holds           a condition that no car can meet, by the tests of one fact
    case-failed           a worked case comes out otherwise
    never-fired           no passing case fires a rule
    no-near-miss          no passing case keeps a rule quiet by a single test
    limit-unused, fact-unused, step-unused, caution-unused, hold-unused, treatment-unused
    step-without-time     steps that the shop's labour gives no time of their own
    seen-one-way          a test that turns out the same in every worked case
    case-differs          a supplied case comes out otherwise under a shop's changes
    never-concluded       a fact that only rules concluded which the shop took out
    supplied-changed, supplied-part-changed, supplied-not-noted, supplied-not-copied
    reviewed-in-vain      a reviewed finding that is not found any more
    text-missing, text-stale, text-misplaced, text-extra, text-placeholders, word-taken
                          of the texts in other languages, see `engine.ruleset.check_language`

The upper five are errors, and the last three of texts. What `reviewed.yaml` names may stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from engine.ruleset.case_tests import OneWay, tests_of
from engine.ruleset.check_language import language_findings
from engine.ruleset.check_logic import logic_findings
from engine.ruleset.check_shop import shop_findings
from engine.ruleset.check_use import use_findings
from engine.ruleset.depends import Reckoners
from engine.ruleset.entries import SUPPLIED
from engine.ruleset.finding import Finding, Severity, error, warning, without_reviewed
from engine.ruleset.model import CaseSpec, RuleSet
from engine.ruleset.phrase import Phrases
from engine.ruleset.run_cases import CaseResult, Coverage, coverage, run_cases
from engine.ruleset.shop_model import Reviewed


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check came to. Findings stand in file order, those of `reviewed` are left out."""

    ruleset: RuleSet
    findings: tuple[Finding, ...]
    results: tuple[CaseResult, ...]
    tests: int
    tests_seen_both_ways: int

    @property
    def errors(self) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if each.severity is Severity.ERROR)

    @property
    def warnings(self) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if each.severity is Severity.WARNING)

    @property
    def passed(self) -> bool:
        """Whether nothing is wrong; warnings do not count."""
        return not self.errors


def check_ruleset(
    ruleset: RuleSet, reckoners: Reckoners | None = None, *, folder: Path | None = None
) -> Checked:
    """Check a rule set that was loaded with its cases, and the languages in its `folder`."""
    if reckoners is None:
        from engine.reckoning.reckoners import RECKONERS

        reckoners = RECKONERS
    results = tuple(run_cases(ruleset))
    lacking = coverage(ruleset, results)
    about_parts = [
        *use_findings(ruleset, reckoners),
        *_coverage_findings(ruleset, lacking),
    ]
    logic = [_in_shop(ruleset, each) for each in logic_findings(ruleset)]
    dead = {name for each in logic if each.code == "never-holds" for name in each.names}
    found = [
        *logic,
        *_case_findings(ruleset, results),
        # A shop answers for its own parts; the supplied ones are looked after where they stand.
        *(
            each
            for each in about_parts
            if not of_supplied(ruleset, each.place.file) and dead.isdisjoint(each.names)
        ),
        *(shop_findings(ruleset.shop) if ruleset.shop else ()),
        *(language_findings(ruleset, folder) if folder is not None else ()),
    ]
    kept, in_vain = without_reviewed(found, ruleset.reviewed)
    kept += [_in_vain(review) for review in in_vain if not of_supplied(ruleset, review.place.file)]
    tests = len(tests_of(ruleset))
    return Checked(
        ruleset,
        tuple(sorted(kept, key=lambda finding: (finding.place, finding.code))),
        results,
        tests,
        tests - len(lacking.one_way),
    )


def _in_vain(review: Reviewed) -> Finding:
    return warning(
        "reviewed-in-vain",
        f"nothing is found any more of what `{review.finding}` was reviewed for here",
        review.place,
        "Take the entry out.",
    )


# --- worked cases ---------------------------------------------------------------------------------


def _in_shop(ruleset: RuleSet, finding: Finding) -> Finding:
    """A supplied question that a shop's changes leave nothing to ask about does no harm."""
    harmless = of_supplied(ruleset, finding.place.file) and not any(
        name in ruleset.rules for name in finding.names
    )
    return replace(finding, severity=Severity.WARNING) if harmless else finding


def of_supplied(ruleset: RuleSet, file: str) -> bool:
    """Whether a file belongs to the supplied set below a shop's changes."""
    return ruleset.shop is not None and file.startswith(f"{SUPPLIED}/")


def _case_findings(ruleset: RuleSet, results: Iterable[CaseResult]) -> Iterator[Finding]:
    for result in results:
        case = result.case
        if result.passed:
            continue
        if of_supplied(ruleset, case.file):
            found = _differing(case)
        else:
            found = error("case-failed", f"case `{case.id}` fails", case.place, None, (case.id,))
        yield replace(found, more=result.failures)


def _differing(case: CaseSpec) -> Finding:
    return warning(
        "case-differs",
        f"with the shop's changes the supplied case `{case.id}` comes out otherwise",
        case.place,
        "If that is meant, retire the case in retired.yaml and write one of the shop's own.",
        (case.id,),
    )


def _coverage_findings(ruleset: RuleSet, lacking: Coverage) -> Iterator[Finding]:
    for name in lacking.never_fired:
        yield error(
            "never-fired",
            f"no passing case fires `{name}`",
            ruleset.rules[name].place,
            "Add a worked case with it under `fires`.",
            (name,),
        )
    for name in lacking.never_near:
        yield error(
            "no-near-miss",
            f"no near miss of `{name}`",
            ruleset.rules[name].place,
            "Add a passing case with it under `quiet` in which a single test keeps it quiet.",
            (name,),
        )
    phrases = Phrases(ruleset)
    yield from (_seen_one_way(phrases, test) for test in lacking.one_way)


def _seen_one_way(phrases: Phrases, test: OneWay) -> Finding:
    words = phrases.test(test.leaf)
    if test.holds:
        message = f"in every worked case that settles it, it holds that {words}"
    elif test.fails:
        message = f"in no worked case it holds that {words}"
    else:
        message = f"no worked case settles whether {words}"
    return warning(
        "seen-one-way",
        f"`{test.rule}`: {message}",
        test.leaf.place,
        "Add a passing case in which it turns out the other way.",
        (test.rule, test.leaf.fact),
    )
