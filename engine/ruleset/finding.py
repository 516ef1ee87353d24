"""What the checker has to say of a rule set that loads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol, TypeVar

from engine.errors import Place, Problem
from engine.ruleset.shop_model import Reviewed


class Severity(StrEnum):
    """An error fails the check; a warning is worth a look."""

    ERROR = "error"
    WARNING = "warning"


OF_PROOFS = frozenset(
    (
        "gap", "beat-each-other", "both-beat-all", "beaten-by-a-loser",
        "never-fires", "dead-by-limit", "never-matters",
    )
)  # fmt: skip
"""Findings of `rules prove`; they are reviewed in the same file."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found: where, what, and what would be right.

    `names` are the parts it is about, by which `reviewed.yaml` lets it stand; `more` holds
    further lines, such as what happened instead.
    """

    code: str
    severity: Severity
    message: str
    place: Place
    fix: str | None = None
    names: tuple[str, ...] = ()
    more: tuple[str, ...] = ()

    def __str__(self) -> str:
        mark = "" if self.severity is Severity.ERROR else "warning: "
        lines = [f"{self.place}: {mark}{self.message} [{self.code}]"]
        lines += [f"    {line}" for line in (*self.more, self.fix) if line]
        return "\n".join(lines)

    def as_json(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "severity": str(self.severity),
            "message": self.message,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "more": list(self.more),
            "fix": self.fix,
            "names": list(self.names),
        }


def error(
    code: str, message: str, place: Place, fix: str | None = None, names: Iterable[str] = ()
) -> Finding:
    return Finding(code, Severity.ERROR, message, place, fix, tuple(names))


def warning(
    code: str, message: str, place: Place, fix: str | None = None, names: Iterable[str] = ()
) -> Finding:
    return Finding(code, Severity.WARNING, message, place, fix, tuple(names))


def of_problem(problem: Problem) -> Finding:
    """A problem that kept the rule set from loading, as a finding."""
    place = problem.place or Place("", 1, 1)
    return Finding(problem.code, Severity.ERROR, problem.message, place, problem.fix)


class Reviewable(Protocol):
    """What a review can be about: a finding of a check or of a proof."""

    @property
    def code(self) -> str: ...

    @property
    def names(self) -> tuple[str, ...]: ...


Found = TypeVar("Found", bound=Reviewable)


def by_review(
    findings: Iterable[Found], reviews: Sequence[Reviewed]
) -> tuple[list[Found], list[tuple[Found, Reviewed]], list[Reviewed]]:
    """The findings that nobody let stand, those let stand, and the reviews nothing answers to."""
    left: list[Found] = []
    let_stand: list[tuple[Found, Reviewed]] = []
    answered: set[int] = set()
    for finding in findings:
        matching = [
            index
            for index, review in enumerate(reviews)
            if review.finding == finding.code
            and finding.names
            and set(finding.names) <= set(review.names)
        ]
        answered.update(matching)
        if matching:
            let_stand.append((finding, reviews[matching[0]]))
        else:
            left.append(finding)
    in_vain = [review for index, review in enumerate(reviews) if index not in answered]
    return left, let_stand, in_vain


def without_reviewed(
    findings: Iterable[Finding], reviewed: Iterable[Reviewed]
) -> tuple[list[Finding], list[Reviewed]]:
    """The findings of a check that nobody let stand, and the reviews nothing answers to."""
    reviews = [review for review in reviewed if review.finding not in OF_PROOFS]
    left, _, in_vain = by_review(findings, reviews)
    return left, in_vain
