"""The words by which files of gauge readings are understood, from `vocabulary.yaml`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from engine.ruleset.entries import Entry

Words = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words by what they stand for; a word may stand for several things.

    `columns` holds headings by the role of the column, `statistics` labels by what was reckoned,
    `checks` the words of gauge checks. `panels` says a panel's name in other words; two `opposites`
    never name the same panel.
    """

    columns: Words = field(default_factory=dict)
    statistics: Words = field(default_factory=dict)
    checks: Words = field(default_factory=dict)
    out_of_range: tuple[str, ...] = ()
    no_reading: tuple[str, ...] = ()
    panels: Words = field(default_factory=dict)
    opposites: tuple[tuple[str, ...], ...] = ()


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
