"""What a reckoner is, and what it is given when it runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from engine.records import dataclass
from engine.ruleset.coats import PaintSystem
from engine.ruleset.model import RuleSet, Table

Reckoned = Fraction | str


class StillOpen(Exception):
    """What a reckoner asked for is not known yet and may become known."""


@dataclass(frozen=True, slots=True)
class Given:
    """The exact values of the facts a reckoner reads, and the rule set it reads limits from.

    Facts that are not needed but taken where they are known (`Reckoner.also`) stand in `values`
    only where they are; `open` and `unsure` name those nobody told yet, and those of which the
    answer was "don't know". `panels` holds the values of each other panel that compares.
    """

    values: Mapping[str, Any]
    ruleset: RuleSet
    open: frozenset[str] = frozenset()
    unsure: frozenset[str] = frozenset()
    panels: Sequence[Mapping[str, Any]] = ()

    def limit(self, name: str) -> Fraction:
        return self.ruleset.limits[name].amount

    def table(self, name: str) -> Table:
        return self.ruleset.tables[name]

    def system(self) -> PaintSystem:
        return self.ruleset.systems[self.values["car.topcoat"]]

    def settled(self, fact: str) -> Any | None:
        """A value that is taken where there is one; None where the fact does not apply.

        Raises StillOpen where it may yet become known, "don't know" included.
        """
        if fact in self.unsure:
            raise StillOpen(fact)
        return self.known(fact)

    def known(self, fact: str) -> Any | None:
        """As `settled`, with "don't know" as good as nothing."""
        if fact in self.open:
            raise StillOpen(fact)
        return self.values.get(fact)


@dataclass(frozen=True, slots=True)
class Reckoner:
    """A calculation with everything it takes from the facts and the rule set.

    `reads` are ids of facts that are all needed; `also` of facts taken where they are known, which
    a rule set need not have. `panels` are facts read of every other panel, left out where one of
    them does not apply or where a fact in `alike` differs from this panel's own; those in `alike`
    stand in `reads` too. `limits` and `tables` are ids; `systems`: reads paint systems.

    `compute` gives None where the fact does not apply, such as a test that needs more spots.
    """

    reads: tuple[str, ...]
    compute: Callable[[Given], Reckoned | None]
    limits: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    systems: bool = False
    also: tuple[str, ...] = ()
    panels: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()

    @property
    def takes(self) -> tuple[str, ...]:
        """Every fact it may read, of its own subject or of other panels."""
        return (*self.reads, *self.also, *self.panels)
