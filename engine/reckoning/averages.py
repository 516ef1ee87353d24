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
    return sum(values, Fraction(0)) / len(values)


def median_of(values: Iterable[Fraction]) -> Fraction:
    """Middle value, or the mean of the two middle values, of at least one value."""
    ordered = sorted(values)
    middle, odd = divmod(len(ordered), 2)
    return ordered[middle] if odd else (ordered[middle - 1] + ordered[middle]) / 2


def variance_of(values: Sequence[Fraction]) -> Fraction:
    """Sample variance with n - 1, of at least two values."""
    centre = mean_of(values)
    return sum(((value - centre) ** 2 for value in values), Fraction(0)) / (len(values) - 1)


def sd_of(values: Sequence[Fraction]) -> float:
    """Sample standard deviation with n - 1, of at least two values."""
    return math.sqrt(variance_of(values))


def _at_least_one(name: str, taken: tuple[Fraction, ...], how: str) -> tuple[Fraction, ...]:
    if not taken:
        raise ReckoningError(f"No {name} was given; {how}")
    return taken
