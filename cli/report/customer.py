"""What a customer reads of each panel, in plain words from `shared/report/customer.yaml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from engine.decision import PanelDecision
from engine.document import read_document
from engine.errors import InputError
from engine.ruleset.model import RuleSet
from engine.ruleset.schema import shape_problems
from engine.supplied import report_folder


@dataclass(frozen=True, slots=True)
class Words:
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class CustomerWords:
    """Words by treatment and for a panel not decided, on what may still change, and on safety."""

    treatments: Mapping[str, Words]
    undecided: Words
    may_change: tuple[str, ...]
    safety: str

    def of(self, ruleset: RuleSet, panel: PanelDecision) -> Words:
        """The words for a panel; those of the rule set where there are none of our own."""
        if panel.treatment is None:
            return self.undecided
        if panel.treatment in self.treatments:
            return self.treatments[panel.treatment]
        treatment = ruleset.treatments[panel.treatment]
        return Words(treatment.title, treatment.text)


def customer_words(path: Path | None = None) -> CustomerWords:
    """The words in a file, or the supplied ones. Raises InputError with place and mistake."""
    document = read_document(path or report_folder() / "customer.yaml")
    problems = [problem for _, problem in shape_problems(document, "customer-words")]
    if problems:
        raise InputError(problems)
    data = document.data
    return CustomerWords(
        {name: Words(**words) for name, words in data["treatments"].items()},
        Words(**data["undecided"]),
        tuple(data["may-change"]),
        data["safety"],
    )
