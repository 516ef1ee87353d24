"""What a reckoned fact is written out in: words and amounts in turn.

Amounts stay exact and in base units until somebody reads them, words English until they are said.
"""

from __future__ import annotations

from collections.abc import Callable

from engine.quantity import Kind
from engine.reckoning.inputs import Number
from engine.reckoning.reckoners.base import Given
from engine.records import dataclass
from engine.words import sentence


@dataclass(frozen=True, slots=True)
class Amounts:
    """Numbers of one kind, in its base unit, and the signs between them; a list without any."""

    values: tuple[Number, ...]
    kind: Kind
    signs: tuple[str, ...] = ()


PutIn = tuple[str | Amounts, ...]
"""A reckoning written out: words and amounts, to be read one after the other."""

Shown = Callable[[Given], PutIn]


def films(*values: Number, signs: tuple[str, ...] = ()) -> Amounts:
    """Films, in um."""
    return Amounts(values, Kind.THICKNESS, signs)


def one(value: Number, kind: Kind) -> Amounts:
    """A single amount, in the base unit of its kind."""
    return Amounts((value,), kind)


def counts(*values: Number) -> Amounts:
    """Numbers of things."""
    return Amounts(values, Kind.COUNT)


def at(words: str, *facts: tuple[str, Kind]) -> Shown:
    """Words, and the facts they name, with `and` between."""

    def shown(given: Given) -> PutIn:
        pieces: list[str | Amounts] = [words]
        for name, kind in facts:
            pieces += [sentence("and")] if len(pieces) > 1 else []
            pieces.append(one(given.values[name], kind))
        return tuple(pieces)

    return shown


def less(words: str, kind: Kind, first: str, second: str) -> Shown:
    """Words, and the first fact less the second."""

    def shown(given: Given) -> PutIn:
        return (words, Amounts((given.values[first], given.values[second]), kind, ("-",)))

    return shown
