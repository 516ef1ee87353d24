"""Lines of a file that hold what was reckoned from readings, such as a mean: never readings."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from engine.errors import Problem
from engine.plaintext import quoted
from engine.readings.cells import CellReader, Holds, is_unit
from engine.readings.columns import Column, Layout, Table, named, place_of
from engine.readings.laid import Claim, Laid, shown
from engine.readings.panels import PanelMatcher
from engine.readings.table import Cell, Row
from engine.readings.words import WordFinder

_STATISTIC = re.compile(r"([^\d:=]*?[^\d:=\s])\s*[:=]?\s*([+-]?[0-9.,]+\s*[^\s0-9]*)")


class StatisticLines:
    """Knows lines of statistics, and keeps what they claim so that it can be compared."""

    def __init__(
        self, words: WordFinder, cells: CellReader, matcher: PanelMatcher, laid: Laid
    ) -> None:
        self._words = words
        self._cells = cells
        self._matcher = matcher
        self._laid = laid
        self._below: Cell | None = None

    def end(self) -> None:
        """Numbers that follow stand below no word for statistics any more."""
        self._below = None

    def is_one(self, row: Row, table: Table | None, block: int) -> bool:
        """Whether a line is of what was reckoned from readings; if so, it is left out."""
        filled = [(index, cell) for index, cell in enumerate(row) if cell.text]
        (_, label), *others = filled
        if self._below and all(map(self._measured, row)):
            self._reckoned_below(self._below, row)
            return True
        kind = self._words.statistic(label.text)
        if kind is not None and all(self._measured(cell) for _, cell in others):
            self._below = None if others else label
            for index, cell in others:
                self._claim(kind, cell, _panel_above(table, index), block)
            self.leave_out(row)
            return True
        found = _STATISTIC.fullmatch(label.text) if len(filled) == 1 else None
        kind = self._words.statistic(found[1]) if found else None
        if found is None or kind is None:
            return False
        self._claim(kind, Cell(found[2], label.place), None, block)
        self.leave_out(row)
        return True

    def _reckoned_below(self, label: Cell, row: Row) -> None:
        """Numbers below a word for statistics that stands alone are likely to be those."""
        self.leave_out(row)
        message = f"the numbers below {quoted(label.text)} are left out as statistics"
        if any(doubt.message == message for doubt in self._laid.doubtful):
            return
        fix = "If they are readings, put an empty line or a heading above them."
        problem = Problem("numbers-left-out", message, place_of(row), fix)
        self._laid.doubtful.append(problem)

    def _claim(self, kind: str, cell: Cell, panel: Cell | None, block: int) -> None:
        content = self._cells.read(cell.text)
        if kind != "other" and content.holds is Holds.READINGS and len(content.numbers) == 1:
            claim = Claim(kind, cell, content.numbers[0], panel, block)
            self._laid.claims.append(claim)

    def leave_out(self, row: Row) -> None:
        """Notes a line of statistics as left out."""
        self._laid.left_out.append((place_of(row), f"statistics: {shown(row)}"))

    def _measured(self, cell: Cell) -> bool:
        held = self._cells.read(cell.text).holds
        return held in (Holds.READINGS, Holds.NOTHING, Holds.OUT_OF_RANGE) or is_unit(cell.text)

    def is_labelled(
        self,
        labels: Mapping[str, Cell | None],
        values: Sequence[tuple[Column | None, Cell]],
        table: Table,
        block: int,
    ) -> bool:
        """Whether the labels of a line of a table call it one; what it claims is kept."""
        for role in ("spot", "number", "remark", "panel"):
            label = labels[role]
            kind = self._words.statistic(label.text) if label else None
            if label is None or kind is None or self._matcher.match(label.text).panel:
                continue
            panel = labels["panel"] if role != "panel" else None
            for column, cell in values:
                by_column = table.layout is Layout.COLUMNS
                whose = named(column) if by_column and column else panel
                self._claim(kind, cell, whose, block)
            return True
        return False


def _panel_above(table: Table | None, index: int) -> Cell | None:
    if table is None or table.layout is not Layout.COLUMNS:
        return None
    return next((named(each) for each in table.values if each.index == index), None)
