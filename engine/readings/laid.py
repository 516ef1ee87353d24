"""What the rows of a file turned out to be, before any name or number is looked into."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from engine.errors import Place, Problem, ReadingsError
from engine.plaintext import quoted
from engine.readings.cells import Content, Holds
from engine.readings.columns import Layout
from engine.readings.table import Cell, Row
from engine.readings.words import CheckLabel

_SEVERAL = re.compile(r"[0-9.,]+(?:[\s,;]+[0-9.,]+)+")


@dataclass(frozen=True, slots=True)
class Observation:
    """One cell with readings or a word for a film past the range, and all that stands around it.

    `panel` is the cell that names its panel. `across` is set where it is one of several in a line.
    `unit` is what its column, heading or a line above says, with the cell that says it.
    """

    cell: Cell
    content: Content
    panel: Cell | None
    spot: str | None
    unit: tuple[str, Place] | None
    check: CheckLabel | None
    details: Mapping[str, str]
    block: int


@dataclass(frozen=True, slots=True)
class Claim:
    """A statistic that the file itself gives: of a panel, or of all of one block."""

    kind: str
    cell: Cell
    number: str
    panel: Cell | None
    block: int


@dataclass(slots=True)
class Laid:
    """All that was found in a file, in its order."""

    layouts: dict[Layout, None] = field(default_factory=dict)
    observations: list[Observation] = field(default_factory=list)
    claims: list[Claim] = field(default_factory=list)
    about: dict[str, str] = field(default_factory=dict)
    batches: dict[int, Cell] = field(default_factory=dict)
    left_out: list[tuple[Place, str]] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    doubtful: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def no_readings(laid: Laid, name: str) -> ReadingsError:
    """Why nothing was found in a file."""
    message = "no reading was found"
    fix = (
        "A file of readings has a heading such as `Panel;Spot;Reading [um]`, or one panel a column."
    )
    if laid.claims or Layout.STATISTICS in laid.layouts:
        message = "the file holds only statistics, not the readings they were reckoned from"
        fix = "Export the single readings."
    return ReadingsError(Problem("no-readings", message, Place(name, 1, 1), fix))


def no_reading(cell: Cell, content: Content) -> Problem:
    """Why a cell where a reading should stand is none."""
    if content.holds is Holds.FORMULA:
        message, fix = "is a formula, and no formula is worked out here", "Write its result."
    elif len(content.numbers) == 2:
        message = "can be a fraction, or two readings of one spot"
        fix = "Write decimals, as in `0.25`, or `1.0/4.0` for two readings."
    elif _SEVERAL.fullmatch(cell.text):
        message = "holds several numbers"
        fix = (
            "Write `121/124` for readings of one spot, or give each reading a cell of its own; no "
            "space stands inside a number."
        )
    elif content.unit:
        message = f"has an unknown unit, {quoted(content.unit)}"
        fix = "Write `mil`, `um` or `mm`, or leave the unit to the heading."
    else:
        message, fix = "is no reading", "Write a number, or empty the cell."
    return Problem("not-a-reading", f"{quoted(cell.text)} {message}", cell.place, fix)


def shown(row: Row) -> str:
    """A row as it is repeated to a person."""
    return ", ".join(cell.text for cell in row if cell.text)[:120]


def lines(numbers: Sequence[int]) -> str:
    """Line numbers in words."""
    listed = ", ".join(map(str, numbers[:6])) + (" and more" if len(numbers) > 6 else "")
    return f"line {listed}" if len(numbers) == 1 else f"lines {listed}"
