"""What a customer reads of each panel, in plain words from `shared/report/customer.yaml`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cli.output.plan_words import counted
from cli.report.panels import Card
from engine.decision import Decision, Notice, PanelDecision
from engine.document import read_document
from engine.errors import InputError
from engine.ruleset.model import RuleSet
from engine.ruleset.schema import shape_problems
from engine.supplied import languages_folder, report_folder
from engine.words import language, say, sentence, within

_SETTLED = sentence("Nothing that is still to be found can change it.")
_UNUSUAL = sentence(
    "What was found here is not usual. The person in charge of the workshop looks at it."
)


@dataclass(frozen=True, slots=True)
class Words:
    title: str
    text: str
    short: str = ""


@dataclass(frozen=True, slots=True)
class CustomerWords:
    """Words by treatment and for a panel not decided, why by rule, what is checked by hold, what
    people are protected from by caution, what may still change, and on safety."""

    treatments: Mapping[str, Words]
    undecided: Words
    reasons: Mapping[str, str]
    holds: Mapping[str, str]
    cautions: Mapping[str, str]
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

    def short(self, ruleset: RuleSet, panel: PanelDecision) -> str:
        """What is done, as short as it stands on a drawing."""
        return self.of(ruleset, panel).short or panel.treatment or self.undecided.title

    def why(self, decision: Decision, panel: PanelDecision) -> tuple[str, ...]:
        """Why, a sentence for each rule that decided; what is missing where none did."""
        if panel.treatment is not None:
            said = (self.reasons.get(each.rule, each.text) for each in panel.because)
            return tuple(dict.fromkeys(said)) or (say(_SETTLED),)
        if panel.gap:
            return (say(_UNUSUAL),)
        asked = sum(1 for each in decision.questions if each.panel == panel.name)
        # What is asked of the whole vehicle is not counted panel by panel.
        return (
            (say("{asked} still to be looked at or measured here.", asked=counted(asked, "thing")),)
            if asked
            else ()
        )

    def hold(self, topic: str, title: str) -> str:
        """What is checked before work goes on."""
        return self.holds.get(topic, title)

    def caution(self, notice: Notice) -> str:
        """What people are protected from."""
        return self.cautions.get(notice.topic, within(notice.title))


@dataclass(frozen=True, slots=True)
class Reason:
    """Why, and the panels it is the reason for."""

    sentences: tuple[str, ...]
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """One kind of work, with the panels it is done to gathered by reason."""

    words: Words
    decided: bool
    reasons: tuple[Reason, ...]

    @property
    def panels(self) -> int:
        """How many panels it is done to."""
        return sum(len(reason.cards) for reason in self.reasons)


def work_on(
    words: CustomerWords, ruleset: RuleSet, decision: Decision, cards: Sequence[Card]
) -> tuple[Work, ...]:
    """Every panel by what is done to it: what is not decided first, then the deepest first."""
    depth = {treatment: at for at, treatment in enumerate(ruleset.treatments)}
    by_treatment: dict[str | None, list[Card]] = {}
    for card in cards:
        by_treatment.setdefault(card.decision.treatment, []).append(card)
    ordered = sorted(
        by_treatment.items(),
        key=lambda each: len(depth) if each[0] is None else depth[each[0]],
        reverse=True,
    )
    return tuple(
        Work(
            words.of(ruleset, found[0].decision),
            treatment is not None,
            tuple(_by_reason(words, decision, found)),
        )
        for treatment, found in ordered
    )


def _by_reason(words: CustomerWords, decision: Decision, cards: Iterable[Card]) -> Iterable[Reason]:
    together: dict[tuple[str, ...], list[Card]] = {}
    for card in cards:
        together.setdefault(words.why(decision, card.decision), []).append(card)
    return (Reason(sentences, tuple(found)) for sentences, found in together.items())


def _supplied() -> Path:
    own = languages_folder() / language() / "customer.yaml"
    return own if own.is_file() else report_folder() / "customer.yaml"


def customer_words(path: Path | None = None) -> CustomerWords:
    """The words in a file, or the supplied ones. Raises InputError with place and mistake."""
    document = read_document(path or _supplied())
    problems = [problem for _, problem in shape_problems(document, "customer-words")]
    if problems:
        raise InputError(problems)
    data = document.data
    return CustomerWords(
        {name: Words(**words) for name, words in data["treatments"].items()},
        Words(**data["undecided"]),
        data.get("reasons", {}),
        data.get("holds", {}),
        data.get("cautions", {}),
        tuple(data["may-change"]),
        data["safety"],
    )
