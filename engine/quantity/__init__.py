"""Numbers with units: read what people write, keep it exact, print what they read.

Every amount is a `Fraction` in the base unit of its dimension; no float is ever involved, so a
value at a limit compares equal to it whatever units the two were written in.
"""

from engine.quantity.ranges import parse_range
from engine.quantity.reading import Quantity, parse_quantity
from engine.quantity.showing import (
    canonical_unit,
    from_unit,
    show,
    show_against,
    show_exact,
    to_canonical,
    to_unit,
)
from engine.quantity.units import Amount, Dimension, Kind, unit_words

__all__ = [
    "Amount",
    "Dimension",
    "Kind",
    "Quantity",
    "canonical_unit",
    "from_unit",
    "parse_quantity",
    "parse_range",
    "show",
    "show_against",
    "show_exact",
    "to_canonical",
    "to_unit",
    "unit_words",
]
