"""Writes the cars of findings as worked cases, ready to be put right and kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import yaml

from engine.prove.result import ProofFinding
from engine.prove.witness import written
from engine.ruleset.model import RuleSet

_HEADER = """\
# Cars that `prepwright rules prove` found in {name} {version} ({digest}).
# Each case says what the rules do today. Change what is expected to what should be done, and put
# the case among the worked cases, so that it stays so.
"""


def told_of(ruleset: RuleSet, finding: ProofFinding) -> dict[str, dict[str, Any]]:
    """The facts of a finding's car as a worked case writes them, by sheet, without empty ones."""
    if finding.witness is None:
        return {}
    sheets = {
        name: {fact: written(ruleset.facts[fact], told) for fact, told in sheet.items()}
        for name, sheet in finding.witness.told().items()
    }
    return {name: sheet for name, sheet in sheets.items() if sheet}


def cases_yaml(ruleset: RuleSet, findings: list[ProofFinding]) -> str:
    """The findings that have a car, as the text of a file of worked cases."""
    head = _HEADER.format(name=ruleset.name, version=ruleset.version, digest=ruleset.digest)
    cases = list(_cases(ruleset, findings))
    if not cases:
        return head + "cases: []\n"
    return head + "cases:\n" + "".join(cases)


def _cases(ruleset: RuleSet, findings: list[ProofFinding]) -> Iterator[str]:
    taken = {case.id for case in ruleset.cases}
    for finding in findings:
        if finding.witness is None:
            continue
        title = _title(finding, taken)
        taken.add(title)
        case: dict[str, Any] = {"case": title, **told_of(ruleset, finding), **_expected(finding)}
        case["note"] = f"Found by proof ({finding.code}): {finding.message}."
        text = yaml.safe_dump([case], sort_keys=False, allow_unicode=True, width=96)
        yield text


def _title(finding: ProofFinding, taken: set[str]) -> str:
    base = f"{finding.code.replace('-', ' ')}: {', '.join(finding.names)}"
    title, number = base, 2
    while title in taken:
        title, number = f"{base} ({number})", number + 1
    return title


def _expected(finding: ProofFinding) -> dict[str, Any]:
    """What the rules say of the car now, so that the case passes until it is put right."""
    assert finding.witness is not None
    if finding.code == "dead-by-limit":
        return {"quiet": [finding.names[0]]}
    if finding.code == "never-matters":
        return {"fires": [finding.names[0]]}
    fires = [name for name in finding.names if name in finding.witness.fires]
    expected = {"treatment": finding.witness.treatment or "open"}
    return {**({"fires": fires} if fires else {}), "expect": expected}
