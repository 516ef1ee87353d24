"""What a rule set's names stand for while it is being linked, and who may read what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from engine.errors import Place
from engine.plaintext import quoted
from engine.quantity import Kind
from engine.records import dataclass
from engine.ruleset.model import About, Choice, FactKind, FactSpec, Limit, Treatment
from engine.ruleset.report import Report, near
from engine.ruleset.templates import placeholders, stray_brace

if TYPE_CHECKING:
    from engine.ruleset.entries import Entry

TREATMENT = "treatment"
PANEL_NAME = "panel"
RESERVED = frozenset({TREATMENT, PANEL_NAME, "all", "any", "not"})

_LENGTHS = frozenset({Kind.THICKNESS, Kind.DEPTH})
_PLAIN = frozenset({Kind.COUNT, Kind.NUMBER, Kind.YEAR})


def comparable(first: Kind, second: Kind) -> bool:
    """Whether amounts of the two kinds are in the same base unit and mean the same sort of thing.

    A count or a year may be held against a plain number, but not a count against a year.
    """
    if first is second or {first, second} <= _LENGTHS:
        return True
    return Kind.NUMBER in (first, second) and {first, second} <= _PLAIN


@dataclass(frozen=True, slots=True)
class Names:
    """The facts and limits by id; None stands for one that is there but could not be built."""

    facts: Mapping[str, FactSpec | None]
    limits: Mapping[str, Limit | None]


def treatment_fact(treatments: Iterable[Treatment], place: Place) -> FactSpec:
    """The settled treatment of a panel, as the fact that later rules read."""
    return FactSpec(
        id=TREATMENT,
        about=About.PANEL,
        kind=FactKind.CHOICE,
        place=place,
        title="Treatment",
        choices=tuple(Choice(treatment.id, treatment.title) for treatment in treatments),
    )


def may_read(reader: About, fact: About) -> bool:
    """A panel's rules and facts read everything; those of car and shop read no panel."""
    return reader is About.PANEL or fact is not About.PANEL


def check_template(
    text: str, entry: Entry, keys: tuple[str | int, ...], reader: About | None, names: Names,
    report: Report,
) -> None:  # fmt: skip
    """Report placeholders that name nothing, or something `reader` cannot read.

    `reader` is None for texts that are shown for car and panel alike.
    """
    place = entry.place(*keys)
    if stray_brace(text):
        report.add(
            "stray-brace",
            "a brace stands alone in this text",
            place,
            "Placeholders are written as `{film.typical}`; leave other braces out.",
        )
    for name in placeholders(text):
        if name == PANEL_NAME and reader is not None:
            if reader is not About.PANEL:
                report.add(
                    "reads-panel-fact",
                    f"`{{{name}}}` stands for a panel, and this is about the {reader}",
                    place,
                    "Leave it out.",
                )
        elif name in names.facts:
            spec = names.facts[name]
            if spec and reader and not may_read(reader, spec.about):
                report.add(
                    "reads-panel-fact",
                    f"`{{{name}}}` is a fact about a panel, and this is about the {reader}",
                    place,
                    "Leave it out, or name a fact of the car.",
                )
        elif name not in names.limits:
            known = (*names.facts, *names.limits, PANEL_NAME)
            report.add(
                "unknown-placeholder",
                f"{quoted(f'{{{name}}}')} names neither a fact nor a limit",
                place,
                near(name, known),
            )
