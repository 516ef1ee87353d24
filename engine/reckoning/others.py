"""Panels beside one another: what all of them are compared with, put in order once.

A comparison of every panel with all others would else grow with the square of the panels.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, overload

from engine.reckoning.averages import in_whole, median_of

Values = Mapping[str, Any]


class Kin:
    """The values of panels of one kind, by fact id."""

    def __init__(self) -> None:
        self.members: list[Values] = []
        self._ordered: dict[str, tuple[list[int], int]] = {}

    def median_without(self, fact: str, place: int) -> Fraction:
        """The median of a number over all but the member at `place`, of at least two."""
        if fact not in self._ordered:
            whole, unit = in_whole([member[fact] for member in self.members])
            self._ordered[fact] = sorted(whole), unit
        ordered, unit = self._ordered[fact]
        own: Fraction = self.members[place][fact]
        left_out = bisect_left(ordered, own.numerator * (unit // own.denominator))

        def left(index: int) -> int:
            return ordered[index if index < left_out else index + 1]

        middle, odd = divmod(len(ordered) - 1, 2)
        if odd:
            return Fraction(left(middle), unit)
        return Fraction(left(middle - 1) + left(middle), 2 * unit)


class Others(Sequence[Values]):
    """The members of a kin without the one at `place`."""

    def __init__(self, kin: Kin, place: int) -> None:
        self.kin = kin
        self.place = place

    def __len__(self) -> int:
        return len(self.kin.members) - 1

    @overload
    def __getitem__(self, index: int) -> Values: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Values]: ...
    def __getitem__(self, index: int | slice) -> Values | Sequence[Values]:
        return tuple(self)[index]

    def __iter__(self) -> Iterator[Values]:
        members = self.kin.members
        yield from members[: self.place]
        yield from members[self.place + 1 :]


def median_among(panels: Sequence[Values], fact: str) -> Fraction:
    """The median of a number over panels, at least one of them."""
    if isinstance(panels, Others):
        return panels.kin.median_without(fact, panels.place)
    return median_of(panel[fact] for panel in panels)


__all__ = ["Kin", "Others", "Values", "median_among"]
