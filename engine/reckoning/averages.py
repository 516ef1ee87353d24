"""Mean, median and scatter of exact numbers.

A limit such as 12 mil must be met exactly by the mean of 11.9, 12.0 and 12.1 mil, which binary
floating point cannot promise; only a square root leaves the fractions.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, not_negative, number


def exact_all(name: str, values: Iterable[Number | None], how: str) -> tuple[Fraction, ...]:
    """Every value as an exact fraction, at least one; `name` is what one of them is called."""
    taken = tuple(
        number(f"{name} {place}", value, how) for place, value in enumerate(values, start=1)
    )
    return _at_least_one(name, taken, how)


def measured_all(name: str, values: Iterable[Number | None], how: str) -> tuple[Fraction, ...]:
    """As `exact_all`, refusing anything below zero."""
    taken = tuple(
        not_negative(f"{name} {place}", value, how) for place, value in enumerate(values, start=1)
    )
    return _at_least_one(name, taken, how)


def mean_of(values: Sequence[Fraction]) -> Fraction:
    """Arithmetic mean of at least one value."""
    whole, unit = in_whole(values)
    return Fraction(sum(whole), unit * len(whole))


def median_of(values: Iterable[Fraction]) -> Fraction:
    """Middle value, or the mean of the two middle values, of at least one value."""
    whole, unit = in_whole(tuple(values))
    return median_of_whole(whole) / unit


def median_of_whole(values: Sequence[int]) -> Fraction:
    """As `median_of`, of whole numbers."""
    ordered = sorted(values)
    middle, odd = divmod(len(ordered), 2)
    if odd:
        return Fraction(ordered[middle])
    return Fraction(ordered[middle - 1] + ordered[middle], 2)


def variance_of(values: Sequence[Fraction]) -> Fraction:
    """Sample variance with n - 1, of at least two values."""
    whole, unit = in_whole(values)
    n, total = len(whole), sum(whole)
    squares = sum((n * value - total) ** 2 for value in whole)
    return Fraction(squares, n * n * (n - 1) * unit * unit)


def sd_of(values: Sequence[Fraction]) -> float:
    """Sample standard deviation with n - 1, of at least two values."""
    return math.sqrt(variance_of(values))


def _at_least_one(name: str, taken: tuple[Fraction, ...], how: str) -> tuple[Fraction, ...]:
    if not taken:
        raise ReckoningError(f"No {name} was given; {how}")
    return taken


def in_whole(values: Sequence[Fraction]) -> tuple[list[int], int]:
    """The values as whole multiples of 1/unit: as exact as fractions, much quicker to work with."""
    unit = math.lcm(*(value.denominator for value in values))
    return [value.numerator * (unit // value.denominator) for value in values], unit
