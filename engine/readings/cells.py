"""What one cell holds: readings, no reading, a word for a film past the range, or something else.

Also which of full stop and comma is the decimal mark; that is settled for the whole file.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from engine.errors import Place, Problem
from engine.plaintext import quoted
from engine.quantity import Dimension
from engine.quantity.numerals import tidy
from engine.quantity.units import find_unit
from engine.readings.table import Cell
from engine.ruleset.vocabulary import Vocabulary

POINT, COMMA = "point", "comma"
MARKS = {POINT: ".", COMMA: ","}

_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_NUMBERS = re.compile(rf"({_NUMBER}(?:\s*/\s*{_NUMBER})*)\s*(.*)")
_BOUND = re.compile(r"[<>≤≥]+\s*[0-9.,]")
# Scales are divided by halving: these are the fractions people write.
_HALVINGS = frozenset(2**power for power in range(1, 7))
_GROUPED = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:([.,])[0-9]{3})(?:\1[0-9]{3})*")


class Holds(StrEnum):
    """What a cell holds."""

    READINGS = "readings"
    NOTHING = "nothing"
    OUT_OF_RANGE = "out of range"
    FORMULA = "formula"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Content:
    """A cell looked at: the numbers as they stand in it, and the unit behind them."""

    holds: Holds
    numbers: tuple[str, ...] = ()
    unit: str = ""


class CellReader:
    """Tells what cells hold, by the words of one vocabulary."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._out_of_range = frozenset(map(_key, vocabulary.out_of_range))
        self._no_reading = frozenset(map(_key, vocabulary.no_reading))
        self._known: dict[str, Content] = {}

    def read(self, text: str) -> Content:
        """What a cell with this text holds."""
        content = self._known.get(text)
        if content is None:
            content = self._known[text] = self._read(text)
        return content

    def _read(self, text: str) -> Content:
        plain = tidy(text.lstrip("'"))
        key = _key(plain)
        if not key or key in self._no_reading:
            return Content(Holds.NOTHING)
        if key in self._out_of_range or _BOUND.match(plain):
            return Content(Holds.OUT_OF_RANGE)
        found = _NUMBERS.fullmatch(plain)
        if found and (not found[2] or is_unit(found[2])):
            numbers = tuple(part.strip() for part in found[1].split("/"))
            if _may_be_fraction(text, numbers):
                return Content(Holds.TEXT, numbers, found[2])
            return Content(Holds.READINGS, numbers, found[2])
        if plain[0] in "=@" or (plain[0] in "+-" and len(plain) > 1):
            return Content(Holds.FORMULA)
        if found and not any(char.isdigit() for char in found[2]):
            # A number with a unit nobody knows: the message about it is the quantity reader's.
            return Content(Holds.TEXT, (found[1],), found[2])
        return Content(Holds.TEXT)


def _may_be_fraction(text: str, numbers: Sequence[str]) -> bool:
    """Whether `1/4` or a sign for it stands there: a quarter, or two readings of one spot?"""
    if any(unicodedata.category(char) == "No" for char in text):
        return True
    if len(numbers) != 2 or not all(number.isdecimal() for number in numbers):
        return False
    upper, lower = map(int, numbers)
    return upper < lower and lower in _HALVINGS


def is_unit(text: str) -> bool:
    """Whether `text` is a unit in which a film is measured."""
    return bool(text) and find_unit(text, Dimension.LENGTH) is not None


def unit_name(text: str) -> str | None:
    """The standard spelling of a unit in which a film is measured; None where it is none."""
    found = find_unit(tidy(text), Dimension.LENGTH)
    return found.name if found else None


@dataclass(frozen=True, slots=True)
class Decimal:
    """The decimal mark of a file, how that is known, and what is wrong with it."""

    mark: str
    why: str
    problem: Problem | None = None
    seen: bool = True


def find_decimal(cells: Iterable[tuple[Cell, Sequence[str]]], told: str | None) -> Decimal:
    """The decimal mark by all cells with readings, each with the numbers in it.

    `told` is `point` or `comma`. Where nothing tells, the point is taken: a number without any
    mark reads the same, and a full stop with three digits behind it is a decimal point to every
    gauge known here (common practice). A comma in that place is refused.
    """
    first: dict[str, tuple[Place, str]] = {}
    unclear: tuple[Place, str] | None = None
    for cell, numbers in cells:
        for number in numbers:
            marks = _possible(number)
            if len(marks) == 1:
                first.setdefault(next(iter(marks)), (cell.place, number))
            elif len(marks) == 2 and unclear is None:
                unclear = (cell.place, number)
    if told is not None:
        return Decimal(MARKS[told], "as told", seen=bool(first or unclear))
    if len(first) == 2:
        (_, one), (place, other) = sorted(first.values())
        return Decimal(".", "", _mixed(place, one, other))
    if first:
        mark, (place, number) = next(iter(first.items()))
        return Decimal(mark, f"as in {quoted(number)}, line {place.line}")
    if unclear is None:
        return Decimal(".", "no reading has one", seen=False)
    place, number = unclear
    if "," in number:
        return Decimal(",", "", _ambiguous(place, number))
    return Decimal(".", f"{quoted(number)} is taken for {number.lstrip('+-')} with a decimal point")


def _possible(number: str) -> frozenset[str]:
    """The decimal marks that a number can have; none where it has no mark at all."""
    digits = number.partition("e")[0].partition("E")[0]
    marks = [char for char in digits if char in ".,"]
    if not marks:
        return frozenset()
    if len(set(marks)) == 2:
        return frozenset(marks[-1])
    grouped = _GROUPED.fullmatch(digits) is not None
    if len(marks) > 1:
        return frozenset(",." if grouped else "") - {marks[0]}
    return frozenset(",.") if grouped else frozenset(marks)


def plain_number(number: str, mark: str) -> str | None:
    """`number` with a full stop for its decimal mark and no others; None where it has no sense."""
    other = "," if mark == "." else "."
    whole, point, part = number.partition(mark)
    if other in whole:
        blocks = whole.lstrip("+-").split(other)
        if not 1 <= len(blocks[0]) <= 3 or any(len(block) != 3 for block in blocks[1:]):
            return None
    if mark in part or other in part:
        return None
    return f"{whole.replace(other, '')}{'.' if point else ''}{part}"


def _mixed(place: Place, one: str, other: str) -> Problem:
    return Problem(
        "mixed-decimals",
        f"{quoted(other)} has another decimal mark than {quoted(one)} has",
        place,
        "Write all readings in one way; a file cannot have both.",
    )


def _ambiguous(place: Place, number: str) -> Problem:
    return Problem(
        "unclear-comma",
        f"the comma in {quoted(number)} can be a decimal comma or group thousands",
        place,
        "Say `--decimal comma` or `--decimal point`.",
    )


def _key(text: str) -> str:
    return " ".join(text.casefold().split())
