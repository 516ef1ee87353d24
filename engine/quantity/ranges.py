"""Reads the two ends of a range, as rule sets write what is plausible."""

from __future__ import annotations

import re
from fractions import Fraction

from engine.errors import Place, Problem, QuantityError
from engine.plaintext import printable
from engine.quantity.numerals import Numeral, take_numeral, tidy
from engine.quantity.reading import MAX_LENGTH, parse_quantity
from engine.quantity.showing import show_exact
from engine.quantity.units import Kind

_BETWEEN = re.compile(r"\s*(?<!\.)\.\.(?!\.)\s*|\s+to\s+", re.I | re.A)


def parse_range(
    text: str, kind: Kind, *, place: Place | None = None, signed: bool = False
) -> tuple[Fraction, Fraction]:
    """Reads `0..2500 um`, `0 um..10 mm` or `-20 to 60 degC` as two amounts in the base unit.

    A lower end without a unit takes that of the upper end; the ends may be equal, and below zero
    where the kind may be or the range is `signed`. Raises QuantityError.
    """

    def refuse(message: str, fix: str) -> QuantityError:
        return QuantityError(Problem("bad-range", f"`{printable(text)}` {message}", place, fix))

    if not isinstance(text, str):
        raise QuantityError(
            Problem("wrong-type", f"a range is text, not {type(text).__name__}", place)
        )
    ends = _BETWEEN.split(tidy(text)) if len(text) <= 2 * MAX_LENGTH else []
    if len(ends) != 2 or not all(ends):
        raise refuse("is no range", "Write the two ends as in `0..10 mm`, lower end first.")
    lower, upper = ends
    high = parse_quantity(upper, kind, place=place, signed=signed)
    bare = take_numeral(lower, inch_words=False)
    if isinstance(bare, Numeral) and not bare.rest.strip() and high.unit:
        lower = f"{lower} {high.unit}"
    low = parse_quantity(lower, kind, place=place, signed=signed)
    if low.currency != high.currency:
        raise refuse("mixes two currencies", "Use one currency for both ends.")
    if low.amount > high.amount:
        first, last = (show_exact(end.amount, kind, end.unit) for end in (high, low))
        raise refuse("has its lower end above its upper end", f"Write `{first}..{last}`.")
    return low.amount, high.amount
