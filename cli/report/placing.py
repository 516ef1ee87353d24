"""Finds where on a vehicle each panel of a job is drawn, by the words of its name.

A panel is drawn on a shape whose name its own name begins with, its words in any order. What fits
two shapes alike, or shares one with a panel that fits better, is drawn nowhere but listed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from cli.report.vehicles import GENERIC, Shape, Vehicle, supplied_vehicles, vehicle_named
from engine.ruleset.vocabulary import Vocabulary

_WORD = re.compile(r"[^\W_]+")

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """Which panels are drawn on which shapes, and which are not drawn."""

    vehicle: Vehicle
    drawn: Mapping[str, Shape]
    beside: tuple[str, ...]


def placed_on(vehicle: str | None, panels: Sequence[str], vocabulary: Vocabulary) -> Placed:
    """Place panels on the vehicle of that name, or on the supplied one that suits them best.

    Raises UsageError where there is none of that name, InputError for a faulty file.
    """
    if vehicle is not None:
        return place(panels, vehicle_named(vehicle), vocabulary)
    return best_vehicle(panels, supplied_vehicles(), vocabulary)


def best_vehicle(
    panels: Sequence[str], vehicles: Iterable[Vehicle], vocabulary: Vocabulary
) -> Placed:
    """The placing on the vehicle that takes the most panels, most of them by its own first names
    for them; on no vehicle in particular where that leaves several. Needs at least one vehicle."""
    placed = [place(panels, vehicle, vocabulary) for vehicle in vehicles]
    most = max(len(each.drawn) for each in placed)
    best = [each for each in placed if len(each.drawn) == most]
    none = next((each for each in best if each.vehicle.name == GENERIC), best[0])
    # A boot lid tells a saloon, though a vehicle without a name has a place for it too.
    suited = [(_by_first_name(each, vocabulary), each) for each in best if each is not none]
    closest = max((count for count, _ in suited), default=0)
    particular = [each for count, each in suited if count == closest]
    return particular[0] if most and len(particular) == 1 else none


def _by_first_name(placed: Placed, vocabulary: Vocabulary) -> int:
    """How many panels stand on a shape that is first called as they are."""
    names = _OneForm(vocabulary)
    found = 0
    for panel, shape in placed.drawn.items():
        wanted = names.words(shape.name)
        found += sorted(names.words(panel)[: len(wanted)]) == sorted(wanted)
    return found


def place(panels: Sequence[str], vehicle: Vehicle, vocabulary: Vocabulary) -> Placed:
    """Place the panels of a job on a vehicle."""
    names = _OneForm(vocabulary)
    taken: dict[str, list[tuple[int, str]]] = {}
    shapes = {shape.name: shape for shape in vehicle.shapes}
    for panel in panels:
        found = _fitting(names.words(panel), vehicle.shapes, names)
        if found is not None:
            shape, spare = found
            taken.setdefault(shape.name, []).append((spare, panel))
    drawn: dict[str, Shape] = {}
    for name, rivals in taken.items():
        least = min(spare for spare, _ in rivals)
        closest = [panel for spare, panel in rivals if spare == least]
        if len(closest) == 1:
            drawn[closest[0]] = shapes[name]
    in_order = {panel: drawn[panel] for panel in panels if panel in drawn}
    return Placed(vehicle, in_order, tuple(panel for panel in panels if panel not in drawn))


def _fitting(words: Words, shapes: Iterable[Shape], names: _OneForm) -> tuple[Shape, int] | None:
    """The one shape whose name takes up most of the words, and how many words it leaves over."""
    fits: list[tuple[int, Shape]] = []
    for shape in shapes:
        lengths = [
            len(wanted)
            for wanted in map(names.words, shape.names)
            if sorted(words[: len(wanted)]) == sorted(wanted)
        ]
        if lengths:
            fits.append((max(lengths), shape))
    if not fits:
        return None
    most = max(length for length, _ in fits)
    best = [shape for length, shape in fits if length == most]
    return (best[0], len(words) - most) if len(best) == 1 else None


class _OneForm:
    """Puts words that say the same into one form; a word that may say several things stays."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        meanings: dict[Words, set[Words]] = {}
        for plain, others in vocabulary.panels.items():
            for other in others:
                meanings.setdefault(_split(other), set()).add(_split(plain))
        self._forms = {
            other: next(iter(plain)) for other, plain in meanings.items() if len(plain) == 1
        }
        # Or the `boot` in `boot lid` would be put into its one form once more.
        self._forms |= {plain: plain for plain in map(_split, vocabulary.panels)}
        self._longest = max(map(len, self._forms), default=0)

    def words(self, name: str) -> Words:
        words, found, at = _split(name), list[str](), 0
        while at < len(words):
            for length in range(min(self._longest, len(words) - at), 0, -1):
                form = self._forms.get(words[at : at + length])
                if form is not None:
                    found += form
                    at += length
                    break
            else:
                found.append(words[at])
                at += 1
        return tuple(found)


def _split(text: str) -> Words:
    return tuple(_WORD.findall(text.casefold()))
