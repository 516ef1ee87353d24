"""Free words taken for what they may mean: `clear is flaking on the edge` for `peeling`.

The words are those the rule set gives each choice; a slip of typing, or a number without its unit,
counts where it can stand for one thing only. What is found here is a guess, to be confirmed
before it is taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from cli.chat.bulk import Part
from engine.answers import read_answer
from engine.choices import choices_of
from engine.errors import InputError
from engine.records import dataclass
from engine.ruleset.model import FactKind, FactSpec
from engine.words import spoken

_CHOSEN = (FactKind.CHOICE, FactKind.SET, FactKind.YES_NO)
DENYING = frozenset(("no", "not", "never", "without", "none", "nothing"))
_SHORTENED = (("won't", "will not"), ("can't", "can not"), ("n't", " not"))
_ENDINGS = ("ing", "ies", "es", "ed", "s", "e", "y")
_STAYING_DOUBLE = "aeiouls"
"""Letters that end a stem doubled of themselves; others are doubled by an ending: `chipped`."""

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
        refused = _refused(spec, value)
        if refused:
            near = tuple(refused.likely[0].split(", ")) if len(refused.likely) == 1 else ()
            # Every word of a list of slips counts; a mention may be of some of them only.
            found = (spec.kind is FactKind.SET and near) or meant(spec, value) or near
            if not found or (spec.kind is not FactKind.SET and len(found) > 1):
                return None
            value = ", ".join(found)
            said += _named(spec, found)
        texts.append(f"{', '.join(part.panels)}: {value}" if part.panels else value)
    return Proposal("; ".join(texts), ", ".join(dict.fromkeys(said))) if said else None


def meant(spec: FactSpec, text: str) -> tuple[str, ...]:
    """The choices of a fact that a text mentions by any of their words, in order.

    Endings do not count, nor whether two words are written as one. Where a text denies something,
    only words that deny are found in it: `does not cover`. What else it denies cannot be told.
    """
    return tuple(_mentioned(spec, text))


def beyond(spec: FactSpec, text: str) -> str:
    """A text without the words by which it mentions choices of a fact."""
    spoken = {
        stem for several in _mentioned(spec, text).values() for stems in several for stem in stems
    }
    return " ".join(word for word in _split(text) if _stem(word) not in spoken)


def _mentioned(spec: FactSpec, text: str) -> dict[str, set[tuple[str, ...]]]:
    """The choices mentioned, each with the phrases it is mentioned by, as stems."""
    words = _split(text[:_LONGEST])
    if spec.kind not in _CHOSEN or not words:
        return {}
    denying = bool(DENYING.intersection(words))
    said = _said(words)
    found: dict[str, set[tuple[str, ...]]] = {}
    for choice in choices_of(spec):
        for phrase in (choice.id, *choice.also):
            parts = _split(phrase)
            if denying and not DENYING.intersection(parts):
                continue
            stems = tuple(map(_stem, parts))
            if stems and _in_order(stems, said):
                found.setdefault(choice.id, set()).add(stems)
    phrases = {stems for several in found.values() for stems in several}
    return {
        name: several
        for name, several in found.items()
        if any(not any(_within(stems, longer) for longer in phrases) for stems in several)
    }


def words_of(text: str) -> tuple[str, ...]:
    """The words of a text in order; `isn't` is two."""
    return tuple(_split(text[:_LONGEST]))


def stems_of(words: Iterable[str]) -> tuple[str, ...]:
    """Words without their endings."""
    return tuple(map(_stem, words))


def _refused(spec: FactSpec, text: str) -> InputError | None:
    try:
        read_answer(spec, text)
    except InputError as error:
        return error
    return None


def _named(spec: FactSpec, found: Iterable[str]) -> Iterator[str]:
    titles = {choice.id: choice.text for choice in choices_of(spec)}
    for name in found:
        title = titles.get(name)
        # In another language than English the text is what is typed; the id is English.
        yield title if title and spoken() else f"{name} ({title})" if title else name


def _within(stems: tuple[str, ...], longer: tuple[str, ...]) -> bool:
    """Whether a phrase is only a piece of a longer one that was said."""
    return len(stems) < len(longer) and _in_order(stems, longer)


def _in_order(wanted: tuple[str, ...], words: tuple[str, ...]) -> bool:
    rest = iter(words)
    return all(word in rest for word in wanted)


def _said(words: Sequence[str]) -> tuple[str, ...]:
    """The stems of words in order, and of each two together: `fish eyes` for `fisheyes`."""
    found: list[str] = []
    for place, word in enumerate(words):
        found.append(_stem(word))
        if place + 1 < len(words):
            found.append(_stem(word + words[place + 1]))
    return tuple(found)


def _split(text: str) -> list[str]:
    """The words of a text; `doesn't` is two."""
    whole = text.casefold().replace("\u2019", "'")
    for short, long in _SHORTENED:
        whole = whole.replace(short, long)
    return re.findall(r"[^\W_]+", whole.replace("'", ""))


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SHORTEST_STEM:
            stem = word[: -len(ending)]
            doubled = stem[-1] == stem[-2] and stem[-1] not in _STAYING_DOUBLE
            return stem[:-1] if doubled and len(stem) > _SHORTEST_STEM else stem
    return word
