"""Taking the inputs of a calculation: exact, checked, and with a message that helps.

A float is read as the decimal it prints (0.1 is one tenth), so every rational formula in this
package returns an exact `Fraction`, whatever mixture of int, float and Fraction went in.
"""

from __future__ import annotations

import math
from fractions import Fraction

from engine.errors import ReckoningError

Number = int | float | Fraction

# No measured quantity lies outside these, and inside them no formula here overflows a float.
_LARGEST = 10**15


def number(name: str, value: Number | None, how: str) -> Fraction:
    """`value` as an exact fraction.

    `name` is what the input is called, `how` says how to get it ("read it from the data sheet").
    Raises ReckoningError when it is missing, not a number, not finite or beyond 10^15.
    """
    if type(value) is Fraction:
        return _measured(name, value, how)
    if value is None:
        raise ReckoningError(f"{name} is missing; {how}")
    if isinstance(value, bool) or not isinstance(value, (int, float, Fraction)):
        raise ReckoningError(f"{name} is not a number: {value!r}; {how}")
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ReckoningError(f"{name} is not a finite number; {how}")
        value = Fraction(repr(value))
    return _measured(name, Fraction(value), how)


def _measured(name: str, exact: Fraction, how: str) -> Fraction:
    # Whole numbers compare many times faster than fractions, and every reading comes through here.
    if abs(exact.numerator) > _LARGEST * exact.denominator:
        raise ReckoningError(f"{name} is too large to be a measured quantity; {how}")
    return exact


def positive(name: str, value: Number | None, how: str) -> Fraction:
    """As `number`, and more than zero."""
    exact = number(name, value, how)
    if exact.numerator <= 0:
        raise ReckoningError(f"{name} must be more than 0, not {show(exact)}; {how}")
    if exact.denominator > _LARGEST * exact.numerator:
        raise ReckoningError(f"{name} is too small to be a measured quantity; {how}")
    return exact


def not_negative(name: str, value: Number | None, how: str) -> Fraction:
    """As `number`, and zero or more."""
    exact = number(name, value, how)
    if exact.numerator < 0:
        raise ReckoningError(f"{name} must be 0 or more, not {show(exact)}; {how}")
    return exact


def percent(name: str, value: Number | None, how: str) -> Fraction:
    """As `number`, from 0 to 100 with both ends in."""
    return between(name, value, Fraction(0), Fraction(100), how)


def positive_percent(name: str, value: Number | None, how: str) -> Fraction:
    """As `percent`, and more than zero."""
    positive(name, value, how)
    return percent(name, value, how)


def between(name: str, value: Number | None, low: Number, high: Number, how: str) -> Fraction:
    """As `number`, from `low` to `high` with both ends in."""
    exact = number(name, value, how)
    if not low <= exact <= high:
        raise ReckoningError(
            f"{name} must be from {show(low)} to {show(high)}, not {show(exact)}; {how}"
        )
    return exact


def whole(name: str, value: int | None, how: str) -> int:
    """A count of one or more."""
    exact = positive(name, value, how)
    if exact.denominator != 1:
        raise ReckoningError(f"{name} must be a whole number, not {show(exact)}; {how}")
    return int(exact)


def show(value: Number) -> str:
    """A number as a message prints it: at most six significant digits."""
    return f"{float(value):.6g}"
