"""What passes in a turn of the chat: the question put, the answer taken, what it settled."""

from __future__ import annotations

from engine.facts import JobFacts
from engine.records import dataclass
from engine.ruleset.model import FactSpec


@dataclass(frozen=True, slots=True)
class Prompt:
    """One thing to ask: a fact of the car or shop, or one fact of several panels.

    `spec` is None for the very first question, which panels there are.
    """

    spec: FactSpec | None
    panels: tuple[str, ...]
    text: str
    how: tuple[str, ...]
    rules: tuple[str, ...]
    together: bool


@dataclass(frozen=True, slots=True)
class Turn:
    """An accepted answer: the job before it, what was asked, and the text given."""

    before: JobFacts
    prompt: Prompt
    text: str


@dataclass(frozen=True, slots=True)
class Settlement:
    """A treatment that an answer settled or changed."""

    panel: str
    treatment: str | None
    was: str | None
    why: str


def split_names(text: str) -> list[str]:
    """Names with commas, semicolons or line breaks between them."""
    return [
        name.strip()
        for name in text.replace(";", ",").replace("\n", ",").split(",")
        if name.strip()
    ]
