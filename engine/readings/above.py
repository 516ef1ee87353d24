"""What the lines above readings tell of them: `Serial no; 12`, `Batch: bonnet`, `# unit: um`."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine.errors import Place
from engine.plaintext import quoted
from engine.readings.cells import CellReader, Holds
from engine.readings.columns import DETAILS
from engine.readings.laid import Laid
from engine.readings.table import Cell

ABOUT_FILE = (*DETAILS, "unit", "batch", "panel", "number", "remark")

_IN_FRONT = re.compile(r"([^:=0-9][^:=]*?)\s*[:=]\s*(\S.*)")
_NUMBER_IN_FRONT = re.compile(r"([^:=]+?)\s*[:=]\s*(\S.*)")
_COMMENT = re.compile(r"[#;/']+\s*")
_OF_BLOCK = ("panel", "batch", "time")


def in_front(cell: Cell, *, numbered: bool = False) -> tuple[Cell, Cell] | None:
    """A cell such as `Batch: bonnet` as two; None where nothing stands in front of a value.

    A name that begins with a number, as in `100 um foil: 101 um`, counts where `numbered`.
    """
    found = (_NUMBER_IN_FRONT if numbered else _IN_FRONT).fullmatch(cell.text)
    if found is None:
        return None
    place = cell.place
    after = Place(place.file, place.line, place.column + found.start(2))
    return Cell(found[1], place), Cell(found[2], after)


def told_pair(filled: Sequence[Cell]) -> tuple[Cell, Cell] | None:
    """What a line names and what it says of it, whether in one cell or in two."""
    first, *others = filled
    mark = _COMMENT.match(first.text)
    if mark is not None:
        place = first.place
        first = Cell(
            first.text[mark.end() :], Place(place.file, place.line, place.column + mark.end())
        )
    if len(others) == 1:
        return first, others[0]
    return None if others or not first.text else in_front(first)


class Above:
    """What was told of the readings that follow, by role."""

    def __init__(self, cells: CellReader, laid: Laid) -> None:
        self._cells = cells
        self._laid = laid
        self._told: dict[str, Cell] = {}
        self._unused: list[tuple[Place, str]] = []

    def get(self, role: str) -> Cell | None:
        """The cell that tells it."""
        return self._told.get(role)

    def tell(self, role: str, key: Cell, value: Cell) -> bool:
        """Takes what a line says; False where it says it with a formula."""
        if self._cells.read(value.text).holds is Holds.FORMULA:
            self._laid.left_out.append((value.place, f"{quoted(key.text)}: a formula"))
            return False
        if role == "time" and role in self._told:
            earlier = self._told[role]
            value = Cell(f"{earlier.text} {value.text}", earlier.place)
        self._told[role] = value
        self._laid.about[role] = value.text
        self._unused.append((value.place, f"said after the readings: {key.text}: {value.text}"))
        return True

    def tell_unit(self, unit: str, place: Place) -> None:
        """Takes the unit from a heading that stands over other headings."""
        self._told["unit"] = Cell(unit, place)

    def next_block(self) -> None:
        """Forgets what holds for the readings of one block alone."""
        for role in _OF_BLOCK:
            self._told.pop(role, None)

    def used(self) -> None:
        """Readings came that all this tells of."""
        self._unused.clear()

    def close(self) -> None:
        """What no readings followed is left out."""
        self._laid.left_out += self._unused
