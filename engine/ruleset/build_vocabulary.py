"""Builds the vocabulary of a rule set."""

from __future__ import annotations

from collections.abc import Sequence

from engine.ruleset.entries import Entry
from engine.ruleset.vocabulary import Vocabulary


def build_vocabulary(entries: Sequence[Entry]) -> Vocabulary:
    """The words of every file together; what a shop adds comes after the supplied words."""
    return Vocabulary(
        columns=_together(entries, "columns"),
        statistics=_together(entries, "statistics"),
        checks=_together(entries, "checks"),
        out_of_range=_listed(entries, "out-of-range"),
        no_reading=_listed(entries, "no-reading"),
        panels=_together(entries, "panels"),
        opposites=tuple(
            tuple(map(str, words)) for entry in entries for words in entry.get("opposites") or ()
        ),
    )


def _together(entries: Sequence[Entry], key: str) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for entry in entries:
        for name, words in (entry.get(key) or {}).items():
            found.setdefault(name, {}).update(dict.fromkeys(map(str, words or ())))
    return {name: tuple(words) for name, words in found.items()}


def _listed(entries: Sequence[Entry], key: str) -> tuple[str, ...]:
    words = (str(word) for entry in entries for word in entry.get(key) or ())
    return tuple(dict.fromkeys(words))
