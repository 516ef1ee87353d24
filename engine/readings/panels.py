"""Finds the panel of a job that a name in a file means, and says how sure that is.

Names are compared word by word, after the vocabulary has put words that say the same (`hood`,
`LF`) into one form. Words the vocabulary holds apart (`left`, `right`) never meet.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from itertools import product

from engine.plaintext import folded
from engine.quantity.numerals import tidy
from engine.ruleset.vocabulary import Vocabulary

# How alike two words must be to be one word misspelt, and two names to be offered: matters of
# reading, not of the trade.
_MISSPELT = 0.8
_LIKELY = 0.6
_MARGIN = 0.15
_NEAR = 0.5
_MOST_WAYS = 16
_LONGEST = 80


class Certainty(StrEnum):
    """How sure a match is."""

    TOLD = "told"
    CERTAIN = "certain"
    LIKELY = "likely"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Match:
    """The panel that a name means; None where it is unknown.

    `score` runs from 0 to 1. `others` are panels that fit as well, or come near.
    """

    panel: str | None
    certainty: Certainty
    score: float
    others: tuple[str, ...] = ()


class PanelMatcher:
    """Matches names in files with the panels of one job."""

    def __init__(self, panels: Sequence[str], vocabulary: Vocabulary) -> None:
        self._panels = tuple(panels)
        self._names = _Names(vocabulary)
        self._readings = {panel: self._names.readings(panel) for panel in self._panels}
        self._exact: dict[str, list[str]] = {}
        for panel in self._panels:
            self._exact.setdefault(folded(tidy(panel)), []).append(panel)
        self._found: dict[str, Match] = {}

    def match(self, name: str) -> Match:
        """The panel that `name` means."""
        found = self._found.get(name)
        if found is None:
            found = self._found[name] = self._match(name[:_LONGEST])
        return found

    def _match(self, name: str) -> Match:
        exact = self._exact.get(folded(tidy(name)), [])
        if len(exact) == 1:
            return Match(exact[0], Certainty.CERTAIN, 1.0)
        wanted = self._names.readings(name)
        scored = sorted(
            ((self._score(wanted, self._readings[panel]), panel) for panel in self._panels),
            key=lambda each: (-each[0].rank, -each[0].score, self._panels.index(each[1])),
        )
        fitting = [(score, panel) for score, panel in scored if score.rank]
        near = tuple(panel for score, panel in scored if score.rank or score.score >= _NEAR)[:3]
        if not fitting:
            highest = max((score.score for score, _ in scored), default=0.0)
            return Match(None, Certainty.UNKNOWN, highest, near)
        best, panel = fitting[0]
        rivals = tuple(other for score, other in fitting[1:] if best.rivalled_by(score))
        if rivals:
            return Match(None, Certainty.UNKNOWN, best.score, (panel, *rivals))
        sure = best.rank == _SAME and len(wanted) == 1
        certainty = Certainty.CERTAIN if sure else Certainty.LIKELY
        return Match(panel, certainty, best.score, tuple(p for p in near if p != panel))

    def _score(self, wanted: Iterable[tuple[str, ...]], had: Iterable[tuple[str, ...]]) -> _Score:
        scores = (self._names.score(one, other) for one, other in product(wanted, had))
        return max(scores, key=lambda score: (score.rank, score.score), default=_Score(0, 0.0))


_SAME, _PANEL_AND_MORE, _PART_OF_PANEL, _ALIKE = 4, 3, 2, 1


@dataclass(frozen=True, slots=True)
class _Score:
    """How a name fits a panel: all words the same, the panel's and more, some of the panel's,
    much alike, or (0) not at all."""

    rank: int
    score: float

    def rivalled_by(self, other: _Score) -> bool:
        """Whether a panel that fits so much leaves open which is meant."""
        if other.rank != self.rank:
            return False
        if self.rank == _PART_OF_PANEL:
            return True
        return self.score - other.score < (_MARGIN if self.rank == _ALIKE else 0.001)


class _Names:
    """Takes names apart into words, with other words for the same put into one."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._meanings: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
        for plain, others in vocabulary.panels.items():
            meaning = _words(plain)
            for other in (plain, *others):
                meanings = self._meanings.setdefault(_words(other), [])
                if meaning not in meanings:
                    meanings.append(meaning)
        self._longest = max(map(len, self._meanings), default=1)
        self._known = {word for each in self._meanings for word in each}
        self._known |= {word for each in self._meanings.values() for way in each for word in way}
        self._apart = {
            frozenset((one, other))
            for words in vocabulary.opposites
            for one in map(_joined, words)
            for other in map(_joined, words)
            if one != other
        }

    def readings(self, name: str) -> tuple[tuple[str, ...], ...]:
        """Every way to read a name, as words in one form."""
        words = _words(name)
        parts: list[list[tuple[str, ...]]] = []
        at = 0
        while at < len(words):
            for length in range(min(self._longest, len(words) - at), 0, -1):
                meanings = self._meanings.get(words[at : at + length])
                if meanings:
                    parts.append(meanings)
                    at += length
                    break
            else:
                parts.append([(words[at],)])
                at += 1
        ways: list[tuple[str, ...]] = [()]
        for part in parts:
            ways = [way + meaning for way in ways for meaning in part][:_MOST_WAYS]
        return tuple(dict.fromkeys(way for way in ways if way))

    def score(self, one: tuple[str, ...], other: tuple[str, ...]) -> _Score:
        mine, theirs = set(one) - set(other), set(other) - set(one)
        if any(frozenset((a, b)) in self._apart for a in mine for b in theirs):
            return _Score(0, 0.0)
        left = list(other)
        alike = 0.0
        same = 0
        for word in one:
            best = max(left, key=lambda each: self._likeness(word, each), default=None)
            likeness = self._likeness(word, best) if best is not None else 0.0
            if best is not None and likeness:
                left.remove(best)
                alike += likeness
                same += likeness == 1.0
        score = 2 * alike / (len(one) + len(other))
        if same == len(one) == len(other):
            return _Score(_SAME, 1.0)
        if same and same in (len(one), len(other)):
            whole = _PANEL_AND_MORE if same == len(other) else _PART_OF_PANEL
            return _Score(whole, round(score, 3))
        return _Score(_ALIKE if score >= _LIKELY else 0, round(score, 3))

    def _likeness(self, one: str, other: str) -> float:
        if one == other:
            return 1.0
        apart = one in self._known and other in self._known
        if apart or min(len(one), len(other)) < 3 or not (one.isalpha() and other.isalpha()):
            return 0.0
        if frozenset((one, other)) in self._apart:
            return 0.0
        ratio = SequenceMatcher(None, one, other).ratio()
        return ratio if ratio >= _MISSPELT else 0.0


def _words(name: str) -> tuple[str, ...]:
    """The words of a name: single letters with a stroke or full stops between them make one."""
    text = re.sub(r"(?<!\w)(\w)[./](\w)(?!\w)\.?", r"\1\2", tidy(name).casefold())
    found = re.findall(r"[^\W\d_]+|\d+", text)
    return tuple(word[:-1] if len(word) > 3 and word.endswith("s") else word for word in found)


def _joined(text: str) -> str:
    return " ".join(_words(text))
