"""What proofs about a rule set came to, as text and as JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from cli.output.page import Page
from cli.output.style import Style
from engine.prove import Proof, ProofFinding
from engine.prove.cases import told_of

FORMAT = "prepwright/proof/1"


def proof_text(proof: Proof, style: Style, cases_file: Path | None) -> str:
    """Findings first, each with its car, then what is proved and what is not."""
    ruleset = proof.ruleset
    page = Page(style)
    page.heading(f"Proofs about {ruleset.name} {ruleset.version}")
    for finding in proof.findings:
        _finding(page, proof, finding)
    if proof.proved:
        page.blank()
        page.label("Proved")
        for text in proof.proved:
            page.item(text)
    if proof.let_stand:
        page.blank()
        page.label("Looked at and let stand")
        for finding, review in proof.let_stand:
            page.item(f"{finding.message} [{finding.code}]: {review.why} ({review.place})")
    page.blank()
    page.label("Not proved")
    for text in proof.not_proved:
        page.item(text)
    if cases_file is not None:
        cars = sum(finding.witness is not None for finding in proof.findings)
        page.blank()
        page.paragraph(f"{_count(cars, 'worked case')} stand in {cases_file}.")
    page.blank()
    page.paragraph(_verdict(proof))
    return page.text()


def _finding(page: Page, proof: Proof, finding: ProofFinding) -> None:
    page.blank()
    mark = "" if finding.wrong else "note: "
    page.paragraph(f"{mark}{finding.message} [{finding.code}]", dress=page.style.warning)
    for place in finding.places:
        page.item(str(place))
    if finding.witness is not None:
        page.paragraph(f"A car that shows it ({finding.witness_says}):", indent=1)
        for sheet, facts in told_of(proof.ruleset, finding).items():
            listed = "; ".join(f"{fact}: {_shown(value)}" for fact, value in facts.items())
            page.item(f"{sheet}: {listed}", indent=3)
        if finding.witness.treatment is not None:
            page.item(f"treatment: {finding.witness.treatment}", indent=3)
    if finding.fix:
        page.paragraph(finding.fix, indent=1)


def _shown(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_shown(item) for item in value)}]"
    return str(value)


def _verdict(proof: Proof) -> str:
    wrong = sum(finding.wrong for finding in proof.findings)
    notes = len(proof.findings) - wrong
    found = _count(wrong, "problem") if wrong else "no problem found"
    return f"{found}, {_count(notes, 'note')}." if notes else f"{found}."


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def proof_json(proof: Proof) -> dict[str, Any]:
    ruleset = proof.ruleset
    return {
        "format": FORMAT,
        "ok": proof.clean,
        "ruleset": {"name": ruleset.name, "version": ruleset.version, "digest": ruleset.digest},
        "findings": [finding.as_json(told_of(ruleset, finding)) for finding in proof.findings],
        "let_stand": [
            {
                "code": finding.code,
                "message": finding.message,
                "names": list(finding.names),
                "why": review.why,
                "place": str(review.place),
            }
            for finding, review in proof.let_stand
        ],
        "proved": proof.proved,
        "not_proved": proof.not_proved,
    }
