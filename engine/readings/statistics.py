"""Holds what a file reckoned from its readings against the readings as they were understood.

A difference shows that a reading is missing, or was taken for something else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction

from engine.errors import Problem
from engine.plaintext import quoted
from engine.readings.cells import plain_number
from engine.readings.laid import Claim, Laid, Observation

_RECKONED: dict[str, Callable[[list[Fraction]], Fraction]] = {
    "mean": lambda numbers: sum(numbers, Fraction(0)) / len(numbers),
    "lowest": min,
    "highest": max,
    "count": lambda numbers: Fraction(len(numbers)),
}
_NAMES = {"mean": "mean", "lowest": "lowest", "highest": "highest", "count": "number of readings"}


def differing_claims(
    laid: Laid, numbers: Mapping[int, list[Fraction]], mark: str
) -> Iterator[Problem]:
    """A problem for each statistic in the file that the readings do not bear out.

    `numbers` are the numbers read from each observation, by its id; `mark` is the decimal mark.
    """
    for claim in laid.claims:
        written = plain_number(claim.number, mark)
        found = [
            number
            for each in laid.observations
            if _is_meant(claim, each)
            for number in numbers.get(id(each), ())
        ]
        if written is None or not found:
            continue
        # The last place may be rounded or cut off.
        place = Fraction(1, 10 ** len(written.partition(".")[2]))
        reckoned = _RECKONED[claim.kind](found)
        if abs(reckoned - Fraction(written)) < place:
            continue
        of = f" of {quoted(claim.panel.text)}" if claim.panel else ""
        yield Problem(
            "statistics-differ",
            f"the {_NAMES[claim.kind]}{of} is given as {written}, but the readings as understood "
            f"make it {Decimal(reckoned.numerator) / reckoned.denominator:.6g}",
            claim.cell.place,
            "Look whether a reading is missing, or was taken for something else.",
        )


def _is_meant(claim: Claim, each: Observation) -> bool:
    if each.check is not None or each.block != claim.block:
        return False
    if claim.panel is None:
        return True
    return each.panel is not None and each.panel.text == claim.panel.text
