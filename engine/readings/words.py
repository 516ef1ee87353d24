"""Looks words up in the vocabulary: headings, statistics, and the labels of gauge checks."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from engine.plaintext import folded
from engine.quantity.numerals import tidy
from engine.readings.cells import is_unit
from engine.ruleset.vocabulary import Vocabulary, Words

_BRACKETED = re.compile(r"(.*?)\s*(?:\[([^][]*)\]|\(([^()]*)\)|\{([^{}]*)\})\s*")
_SLASHED = re.compile(r"(.+?)\s*(?:/|,|\bin\b)\s*([^\s/,]+)", re.IGNORECASE)
_SPACED = re.compile(r"(.+)\s+(\S+)")
_NUMBERED = re.compile(r"(.*?)[\s._#-]*([0-9]{1,4})\.?")
_SHIM = re.compile(r"[0-9]+(?:[.,][0-9]+)?\s*([^\s0-9,;()]+)")


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading looked at.

    `name` is it without the unit. `roles` are what it can stand for, likeliest first; () where it
    is a name. `number` is that of a numbered heading (`Reading 2`, `3`).
    """

    name: str
    roles: tuple[str, ...] = ()
    unit: str | None = None
    number: int | None = None


class When(StrEnum):
    """When a gauge check was made, against the readings."""

    BEFORE = "before"
    AFTER = "after"
    BETWEEN = "between"


@dataclass(frozen=True, slots=True)
class CheckLabel:
    """What the label of a gauge check says: on what it was made, and when, where it says so.

    `nominal` is the thickness of the shim as written.
    """

    text: str
    kind: str
    nominal: str | None
    when: When | None


class WordFinder:
    """Looks words up in one vocabulary."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._roles = _by_word(vocabulary.columns)
        self._statistics = _by_word(vocabulary.statistics)
        # A file says the same few words in thousands of lines.
        self._headings: dict[str, Heading] = {}
        self._labels: dict[tuple[str, bool], CheckLabel | None] = {}
        self._checks = {
            name: tuple(sorted((word_key(word) for word in words), key=len, reverse=True))
            for name, words in vocabulary.checks.items()
        }

    def heading(self, text: str) -> Heading:
        """What a heading stands for."""
        found = self._headings.get(text)
        if found is None:
            found = self._headings[text] = self._heading(text)
        return found

    def _heading(self, text: str) -> Heading:
        plain = tidy(text)
        name, unit = self._unit(plain)
        key = word_key(name)
        if not key and unit:
            return Heading(name, ("reading",), unit)
        if key in self._roles:
            return Heading(name, self._roles[key], unit)
        if key in self._statistics:
            return Heading(name, ("statistic",), unit)
        found = _NUMBERED.fullmatch(name)
        if found:
            before = self._roles.get(word_key(found[1]), ())
            single = len(found[1]) <= 1
            if single or {"reading", "spot", "number"} & set(before):
                roles = tuple(role for role in before if role in ("reading", "spot"))
                return Heading(name, roles, unit, int(found[2]))
        return Heading(name, (), unit)

    def roles(self, text: str) -> tuple[str, ...]:
        """The roles of a name in front of a value, as in `Serial no: 12`."""
        return self._roles.get(word_key(tidy(text)), ())

    def statistic(self, text: str) -> str | None:
        """Which statistic a label names: `mean`, `lowest`, `highest`, `count` or `other`."""
        heading = self.heading(text)
        key = word_key(heading.name)
        return self._statistics[key][0] if key in self._statistics else None

    def check(self, text: str, *, alone: bool = False) -> CheckLabel | None:
        """What the label of a gauge check says; None where it labels something else.

        With `alone` the general words for a check (`verification`) do not count.
        """
        key = (text, alone)
        if key not in self._labels:
            self._labels[key] = self._label(text, alone)
        return self._labels[key]

    def _label(self, text: str, alone: bool) -> CheckLabel | None:
        words = word_key(tidy(text))
        zero, shim = self._holds(words, "zero"), self._holds(words, "shim")
        general = None if alone else self._holds(words, "check")
        found = next(filter(_is_thickness, _SHIM.finditer(tidy(text))), None)
        nominal = found[0] if found else None
        rest = words.replace(word_key(nominal), " ") if nominal else words
        if not (zero or shim or (general and self._nothing_else(rest))):
            return None
        kind = "shim" if shim or nominal else "zero" if zero else "check"
        before, after = self._holds(words, "before"), self._holds(words, "after")
        when = When.BEFORE if before else When.AFTER
        return CheckLabel(text, kind, nominal, when if bool(before) != bool(after) else None)

    def _holds(self, words: str, kind: str) -> str | None:
        return next((each for each in self._checks.get(kind, ()) if _has(words, each)), None)

    def _nothing_else(self, words: str) -> bool:
        """Whether all of `words` are words of checks, so that no panel can be meant."""
        for known in self._checks.values():
            for each in known:
                words = " ".join(re.sub(rf"(?<!\w){re.escape(each)}(?!\w)", " ", words).split())
        return not re.sub(r"[0-9#.\s]", "", words)

    def _numbers(self, name: str) -> bool:
        """Whether a name numbers readings or spots: `R1`, `Spot 2`."""
        found = _NUMBERED.fullmatch(name)
        before = self._roles.get(word_key(found[1]), ()) if found and found[1] else ()
        return found is not None and (len(found[1]) == 1 or bool({"reading", "spot"} & set(before)))

    def _unit(self, text: str) -> tuple[str, str | None]:
        """A heading without the unit in it, and the unit."""
        if is_unit(text):
            return "", text
        found = _BRACKETED.fullmatch(text)
        if found:
            inside = next(filter(None, found.groups()[1:]), "").strip()
            return (found[1], inside) if is_unit(inside) else (found[1] or inside, None)
        for pattern in (_SLASHED, _SPACED):
            found = pattern.fullmatch(text)
            if found and is_unit(found[2]):
                key = word_key(found[1])
                if key in self._roles or key in self._statistics or self._numbers(found[1]):
                    return found[1], found[2]
        return text, None


def word_key(text: str) -> str:
    """`text` as words are compared: without case, hyphens, and a colon or full stop at its end."""
    return folded(text).rstrip(" :=").removesuffix(".")


def _is_thickness(found: re.Match[str]) -> bool:
    return is_unit(found[1])


def _has(words: str, part: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(part)}(?!\w)", words) is not None


def _by_word(words: Words) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for name, spellings in words.items():
        for word in spellings:
            key = word_key(word)
            if name not in found.get(key, ()):
                found[key] = (*found.get(key, ()), name)
    return found
