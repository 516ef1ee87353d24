"""Paint systems: the coats put on for one kind of topcoat, and the panels they go on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from engine.errors import Place
from engine.records import dataclass

Choices = tuple[tuple[str, tuple[str, ...]], ...]
"""Facts, each with the choices that are meant."""

COAT_FACTS = ("substrate", "part", "carbon.weave")
"""The facts of a panel that may say whether a coat of a paint system goes on it."""


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat or coat group of a paint system, with the dry film it leaves.

    It goes on where each fact in `on` has one of its choices, and not where all the facts of one
    of `off` have.
    """

    product: str
    film: Fraction
    written: str
    on: Choices = ()
    off: tuple[Choices, ...] = ()

    @property
    def asks(self) -> tuple[str, ...]:
        """The facts that say whether it goes on."""
        return tuple(dict.fromkeys(fact for each in (self.on, *self.off) for fact, _ in each))

    def goes_on(self, choice: Callable[[str], object]) -> bool:
        """Whether it goes on a panel; `choice` gives what a fact of the panel is, None if n/a."""
        return _all_hold(self.on, choice) and not any(_all_hold(each, choice) for each in self.off)


def _all_hold(wanted: Choices, choice: Callable[[str], object]) -> bool:
    return all(choice(fact) in choices for fact, choices in wanted)


@dataclass(frozen=True, slots=True)
class PaintSystem:
    """The coats put on for one kind of topcoat, by how far down the panel was taken."""

    id: str
    title: str
    coats: Mapping[str, tuple[Coat, ...]]
    place: Place

    def coats_on(self, way: str, choice: Callable[[str], object]) -> tuple[Coat, ...]:
        """The coats of one way that go on a panel, see `Coat.goes_on`."""
        return tuple(coat for coat in self.coats.get(way, ()) if coat.goes_on(choice))
