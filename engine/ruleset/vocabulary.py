"""The words by which files of gauge readings are understood, from `vocabulary.yaml`."""

from __future__ import annotations

from collections.abc import Mapping

from engine.records import dataclass, field

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
