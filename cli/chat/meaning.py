"""Free words taken for what they may mean: `clear is flaking on the edge` for `peeling`.

The words are those the rule set gives each choice. What is found here is a guess, to be confirmed
before it is taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cli.chat.bulk import Part
from engine.answers import read_answer
from engine.choices import choices_of
from engine.errors import InputError
from engine.ruleset.model import FactKind, FactSpec

_CHOSEN = (FactKind.CHOICE, FactKind.SET, FactKind.YES_NO)
_DENYING = frozenset(
    ("no", "not", "never", "without", "none", "isnt", "arent", "doesnt", "dont", "nothing")
)
_ENDINGS = ("ing", "ies", "es", "ed", "s", "e", "y")
_SHORTEST_STEM = 3
_LONGEST = 400


@dataclass(frozen=True, slots=True)
class Proposal:
    """An answer in the rule set's own words, and what of the person's words it was taken from."""

    text: str
    meant: str


def proposal(spec: FactSpec, parts: Sequence[Part]) -> Proposal | None:
    """What an answer that cannot be read as it stands may mean; None where nothing is found."""
    texts: list[str] = []
    said: list[str] = []
    for part in parts:
        value = part.value
        if not _reads(spec, value):
            found = meant(spec, value)
            if not found or (spec.kind is not FactKind.SET and len(found) > 1):
                return None
            value = ", ".join(found)
            titles = {choice.id: choice.text for choice in choices_of(spec)}
            said += [f"{name} ({titles[name]})" if titles[name] else name for name in found]
        texts.append(f"{', '.join(part.panels)}: {value}" if part.panels else value)
    return Proposal("; ".join(texts), ", ".join(dict.fromkeys(said))) if said else None


def meant(spec: FactSpec, text: str) -> tuple[str, ...]:
    """The choices of a fact that a text mentions by any of their words, in order.

    Endings do not count. None are found in a text that denies something, since what it denies
    cannot be told by words alone.
    """
    if spec.kind not in _CHOSEN:
        return ()
    words = _stems(text[:_LONGEST])
    if not words or _DENYING & set(re.findall(r"[a-z]+", text.casefold().replace("'", ""))):
        return ()
    found: dict[str, set[tuple[str, ...]]] = {}
    for choice in choices_of(spec):
        for phrase in (choice.id, *choice.also):
            stems = _stems(phrase)
            if stems and _in_order(stems, words):
                found.setdefault(choice.id, set()).add(stems)
    phrases = {stems for several in found.values() for stems in several}
    return tuple(
        name
        for name, several in found.items()
        if any(not any(_within(stems, longer) for longer in phrases) for stems in several)
    )


def _reads(spec: FactSpec, text: str) -> bool:
    try:
        read_answer(spec, text)
    except InputError:
        return False
    return True


def _within(stems: tuple[str, ...], longer: tuple[str, ...]) -> bool:
    """Whether a phrase is only a piece of a longer one that was said."""
    return len(stems) < len(longer) and _in_order(stems, longer)


def _in_order(wanted: tuple[str, ...], words: tuple[str, ...]) -> bool:
    rest = iter(words)
    return all(word in rest for word in wanted)


def _stems(text: str) -> tuple[str, ...]:
    return tuple(_stem(word) for word in re.findall(r"[^\W_]+", text.casefold().replace("'", "")))


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SHORTEST_STEM:
            return word[: -len(ending)]
    return word
