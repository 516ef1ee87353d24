"""Times written in parts: `1 h 30 min`, `1h30`, `2 days 4 hours`."""

from __future__ import annotations

import re
from fractions import Fraction

from engine.quantity.numerals import Numeral, take_numeral
from engine.quantity.units import Dimension, Unit, find_unit

_PART = re.compile(r"([a-z]+)\.?[\s,]*(?:and\s+)?(.*)", re.I | re.A)


def sum_of_parts(numeral: Numeral, rest: str) -> Fraction | None:
    """The hours in `numeral` of the unit `rest` starts with, and all parts that follow.

    Each part must have a smaller unit than the one before; a last number without a unit after
    hours is minutes. None where the text is no such sum.
    """
    total = Fraction(0)
    last: Unit | None = None
    while len(numeral.readings) == 1 and numeral.readings[0] >= 0:
        found = _PART.fullmatch(rest)
        if found:
            unit = find_unit(found[1], Dimension.TIME)
        else:
            after_hours = not rest and last is not None and last.name == "h"
            unit = find_unit("min", Dimension.TIME) if after_hours else None
        if unit is None or (last is not None and unit.factor >= last.factor):
            return None
        total += numeral.readings[0] * unit.factor
        tail = found[2] if found else ""
        if not tail:
            return total
        following = take_numeral(tail, inch_words=False) if tail[0] in "0123456789" else None
        if not isinstance(following, Numeral):
            return None
        numeral, rest, last = following, following.rest.strip(), unit
    return None
