"""The answer of a reckoning: what came out, by which formula, from what, and who says so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from cli.output.page import Page
from cli.output.style import Style
from engine.quantity import Kind, canonical_unit, show, to_canonical

FORMAT = "prepwright/reckoning/1"
_DECIMALS = 6
_LITRE, _MILLILITRE = "L", "ml"


@dataclass(frozen=True, slots=True)
class Result:
    """One thing that came out: a measure, or a word where `value` is None."""

    what: str
    text: str
    value: float | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Used:
    """A number of the rule set that the reckoning read because nobody gave another."""

    name: str
    text: str
    source: str
    note: str | None = None


@dataclass(slots=True)
class Answer:
    """What a reckoning says. `source` is the formula's; `notes` are what to bear in mind."""

    title: str
    formula: str
    source: str
    results: list[Result] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def measure(
        self, what: str, amount: Fraction | float, kind: Kind, unit: str | None = None
    ) -> None:
        """A result in the base unit of `kind`, shown in `unit`."""
        exact = Fraction(amount)
        if kind is Kind.VOLUME and unit in (None, _LITRE) and 0 < abs(exact) < 1:
            # Cups are read in millilitres; hundredths of a litre lose a small hardener.
            unit = _MILLILITRE
        self.results.append(
            Result(
                what,
                show(exact, kind, unit or None),
                round(float(to_canonical(exact, kind)), _DECIMALS),
                canonical_unit(kind) or None,
            )
        )

    def number(self, what: str, amount: Fraction | float, unit: str = "") -> None:
        """A result of no kind of its own, such as a ratio or a rate, with its unit in words."""
        text = show(Fraction(amount), Kind.NUMBER, digits=_places(float(amount)))
        self.results.append(
            Result(what, f"{text} {unit}".strip(), round(float(amount), _DECIMALS), unit or None)
        )

    def word(self, what: str, text: str) -> None:
        """A result in words."""
        self.results.append(Result(what, text))

    def note(self, *texts: str | None) -> None:
        self.notes += [text for text in texts if text]


def _places(value: float) -> int:
    """Decimals that keep about four digits of a number of any size."""
    size = abs(value)
    return 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 1 else 4


def answer_json(answer: Answer, name: str, given: dict[str, Any], used: Iterable[Used]) -> Any:
    """The answer as plain data (`prepwright/reckoning/1`); amounts in canonical units."""
    return {
        "format": FORMAT,
        "reckoning": name,
        "given": given,
        "results": [
            {"what": each.what, "value": each.value, "unit": each.unit, "text": each.text}
            for each in answer.results
        ],
        "formula": answer.formula,
        "source": answer.source,
        "from_rules": [
            {"name": each.name, "text": each.text, "source": each.source, "note": each.note}
            for each in used
        ],
        "notes": answer.notes,
    }


def answer_text(answer: Answer, used: Iterable[Used], style: Style) -> str:
    """The answer for a person."""
    page = Page(style)
    page.heading(answer.title)
    for each in answer.results:
        page.item(f"{each.what}: {each.text}")
    page.blank()
    page.paragraph(f"Formula: {answer.formula}")
    page.paragraph(f"Source: {answer.source}.")
    from_rules = list(used)
    if from_rules:
        page.blank()
        page.label("Taken from the rule set, since nothing else was given")
        for one in from_rules:
            page.item(f"{one.name}: {one.text} [{one.source}]")
            if one.note:
                page.paragraph(one.note, indent=3, dress=style.faint)
    if answer.notes:
        page.blank()
        page.label("Bear in mind")
        for note in answer.notes:
            page.item(note)
    return page.text()
