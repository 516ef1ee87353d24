"""What was decided for a job, and its fixed JSON form `prepwright/decision/1`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from engine.facts import Told
from engine.quantity import canonical_unit, to_canonical
from engine.reasoning.evaluate import Known
from engine.records import dataclass
from engine.ruleset.model import FactSpec
from engine.ruleset.source import Source
from engine.words import within

FORMAT = "prepwright/decision/1"
_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Because:
    """A rule that led to an outcome, with its reason in words."""

    rule: str
    text: str
    source: Source


@dataclass(frozen=True, slots=True)
class InsteadOf:
    """A treatment that was not taken, and why."""

    treatment: str
    why: str


@dataclass(frozen=True, slots=True)
class ShownFact:
    """A known fact as it is shown; `told` where somebody told it."""

    spec: FactSpec
    value: Known
    text: str
    told: Told | None = None

    @property
    def in_words(self) -> str:
        """The text, but a choice in its own words instead of by its id."""
        words = (each.text for each in self.spec.choices if each.id == self.value)
        return within(next(words, self.text))


@dataclass(frozen=True, slots=True)
class Notice:
    """A hold or a caution. Provisional: it stands until the facts in `until` rule it out."""

    topic: str
    title: str
    text: str
    rule: str
    because: str
    source: Source
    release: str | None = None
    provisional: bool = False
    until: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StepDue:
    """A piece of work that is due, with the rule that asks for it."""

    step: str
    title: str
    text: str
    rule: str
    phase: int


@dataclass(frozen=True, slots=True)
class Refused:
    """A told value that was set aside, or a reckoning that failed, and why."""

    fact: str
    why: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question that can still change an outcome."""

    about: str
    panel: str | None
    fact: str
    ask: str
    how: tuple[str, ...]
    why: tuple[str, ...]
    parts: tuple[str, ...]
    unsure: bool

    @property
    def decides(self) -> bool:
        """Whether the answer bears on more than which steps are due."""
        return any(part != "step" for part in self.parts)


@dataclass(frozen=True, slots=True)
class Findings:
    """What holds for one subject, the car or a panel."""

    facts: Mapping[str, ShownFact]
    holds: tuple[Notice, ...]
    cautions: tuple[Notice, ...]
    steps: tuple[StepDue, ...]
    refused: tuple[Refused, ...]


@dataclass(frozen=True, slots=True)
class PanelDecision:
    """How far down one panel is taken. `treatment` is None while open; see `possible`."""

    name: str
    treatment: str | None
    title: str | None
    because: tuple[Because, ...]
    instead_of: tuple[InsteadOf, ...]
    possible: tuple[str, ...]
    gap: bool
    found: Findings


@dataclass(frozen=True, slots=True)
class Decision:
    """A whole job decided. `complete`: every panel has its treatment."""

    job: str
    complete: bool
    ruleset: str
    version: str
    digest: str
    engines: tuple[str, ...]
    panels: Mapping[str, PanelDecision]
    car: Findings
    questions: tuple[Asked, ...]
    standing_caution: str

    @property
    def open_questions(self) -> tuple[Asked, ...]:
        """Questions whose answer can change a treatment, a hold or a caution."""
        return tuple(question for question in self.questions if question.decides)

    @property
    def plan_questions(self) -> tuple[Asked, ...]:
        """Questions whose answer can change only which steps are due."""
        return tuple(question for question in self.questions if not question.decides)

    def as_json(self) -> dict[str, Any]:
        """The decision as plain data, keys in a fixed order."""
        return {
            "format": FORMAT,
            "job": self.job,
            "complete": self.complete,
            "ruleset": {"name": self.ruleset, "version": self.version, "digest": self.digest},
            "engines": list(self.engines),
            "panels": {name: _panel(panel) for name, panel in self.panels.items()},
            "car": _findings(self.car),
            "open_questions": [_asked(question) for question in self.open_questions],
            "plan_questions": [_asked(question) for question in self.plan_questions],
            "materials": [],
            "labour": {},
            "calendar": [],
            "standing_caution": self.standing_caution,
        }


def _panel(panel: PanelDecision) -> dict[str, Any]:
    return {
        "treatment": panel.treatment,
        "because": [
            {"rule": why.rule, "text": why.text, "source": source_json(why.source)}
            for why in panel.because
        ],
        "instead_of": [
            {"treatment": other.treatment, "why": other.why} for other in panel.instead_of
        ],
        "possible": list(panel.possible),
        **_findings(panel.found),
    }


def _findings(found: Findings) -> dict[str, Any]:
    return {
        "facts": {name: _fact(fact) for name, fact in found.facts.items()},
        "holds": [_notice(hold) for hold in found.holds],
        "cautions": [_notice(caution) for caution in found.cautions],
        "steps": [
            {"step": step.step, "title": step.title, "rule": step.rule} for step in found.steps
        ],
        "refused": [{"fact": refused.fact, "why": refused.why} for refused in found.refused],
    }


def _fact(fact: ShownFact) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "value": plain_value(fact.spec, fact.value),
        "unit": canonical_unit(fact.spec.quantity) or None if fact.spec.quantity else None,
        "text": fact.text,
    }
    if fact.told is not None:
        told = fact.told
        about = {"by": told.by, "at": told.at, "with": told.instrument}
        shown |= {key: value for key, value in about.items() if value is not None}
    return shown


def plain_value(spec: FactSpec, value: Known) -> Any:
    """A value in the canonical unit of its kind, as JSON data: numbers, text, lists."""
    if type(value) is str:
        return value
    if isinstance(value, Fraction):
        amount = to_canonical(value, spec.quantity) if spec.quantity else value
        number = round(float(amount), _DECIMALS)
        return int(number) if number.is_integer() and spec.quantity in _WHOLE else number
    if isinstance(value, frozenset):
        return [choice for choice in spec.choice_ids if choice in value]
    if isinstance(value, tuple):
        return [[plain_value(spec, reading) for reading in spot] for spot in value]
    return value


_WHOLE = ("count", "year")


def _notice(notice: Notice) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "topic": notice.topic,
        "title": notice.title,
        "text": notice.text,
        "rule": notice.rule,
        "because": notice.because,
        "source": source_json(notice.source),
    }
    if notice.release is not None:
        shown["release"] = notice.release
    shown["provisional"] = notice.provisional
    if notice.until:
        shown["until"] = list(notice.until)
    return shown


def _asked(question: Asked) -> dict[str, Any]:
    return {
        "about": question.panel if question.panel is not None else question.about,
        "fact": question.fact,
        "ask": question.ask,
        "how": list(question.how),
        "why": list(question.why),
        "bears_on": list(question.parts),
        "unsure": question.unsure,
    }


def source_json(source: Source) -> dict[str, str]:
    """A source as plain data, without the parts it lacks."""
    parts: Iterable[tuple[str, str | None]] = (
        ("kind", str(source.kind)),
        ("name", source.name),
        ("edition", source.edition),
        ("clause", source.clause),
        ("checked", source.checked),
    )
    return {key: value for key, value in parts if value is not None}
