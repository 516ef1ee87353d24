"""Walks through the rows of a file and sorts out what each is: heading, reading, check, statistic.

Nothing is reckoned here. Every reading leaves with the cell it stands in and the cell that names
its panel, and whatever is not taken is named.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.errors import Place, Problem
from engine.readings.above import ABOUT_FILE, Above, in_front, told_pair
from engine.readings.cells import CellReader, Holds, is_unit
from engine.readings.columns import (
    LABELS,
    Layout,
    Table,
    TableBuilder,
    place_of,
)
from engine.readings.headings import BRACKETS, HeadingFinder
from engine.readings.laid import Laid, Observation, lines, shown
from engine.readings.panels import PanelMatcher
from engine.readings.reading_lines import Line, ReadingLines
from engine.readings.statistic_lines import StatisticLines
from engine.readings.table import Cell, Row
from engine.readings.words import WordFinder


def lay_out(
    rows: Sequence[Row],
    matcher: PanelMatcher,
    words: WordFinder,
    cells: CellReader,
) -> Laid:
    """What the rows of a file are. Raises ReadingsError where columns cannot be told apart."""
    return _Walk(rows, matcher, words, cells).walk()


class _Walk:
    def __init__(
        self,
        rows: Sequence[Row],
        matcher: PanelMatcher,
        words: WordFinder,
        cells: CellReader,
    ) -> None:
        self._rows = rows
        self._matcher = matcher
        self._words = words
        self._cells = cells
        self._finder = HeadingFinder(rows, words, cells, matcher)
        self._builder = TableBuilder(words, cells, matcher)
        self._laid = Laid()
        self._table: Table | None = None
        self._above = Above(cells, self._laid)
        self._panel: Cell | None = None
        self._inherited: list[int] = []
        self._block = 0
        self._read_in_block = False
        self._gap = True
        self._unread: Table | None = None
        self._statistics = StatisticLines(words, cells, matcher, self._laid)
        self._readings = ReadingLines(words, cells, matcher, self._laid, self._above)

    def walk(self) -> Laid:
        for index, row in enumerate(self._rows):
            if not row:
                self._gap = True
                self._statistics.end()
            elif not (
                self._metadata(index, row)
                or self._check_line(row)
                or self._statistics.is_one(row, self._table, self._block)
                or self._units(row)
                or self._heading(index, row)
                or self._data(row)
            ):
                self._leave_out(row)
        self._above.close()
        if self._inherited:
            self._laid.doubtful.append(
                Problem(
                    "panel-above",
                    f"no panel stands in {lines(self._inherited)}; the one above is taken",
                    Place(self._file, self._inherited[0], 1),
                    "Write the panel in every line if that is wrong.",
                )
            )
        return self._laid

    @property
    def _file(self) -> str:
        return next(place_of(row).file for row in self._rows if row)

    # --- lines above the readings ---------------------------------------------------------------

    def _metadata(self, index: int, row: Row) -> bool:
        """A line that tells of the readings below: `Serial no; 12`, `Batch: bonnet`."""
        filled = [cell for cell in row if cell.text]
        pair = told_pair(filled)
        if pair is None:
            return False
        key, value = pair
        roles = [role for role in self._words.roles(key.text) if role in ABOUT_FILE]
        if not roles:
            return False
        unit = roles[0] == "unit" and is_unit(value.text)
        if len(filled) == 2 and not unit:
            heading = self._words.heading(value.text).roles
            if heading or self._finder.heads_numbers(index, row):
                return False
        self._begin_block()
        self._tell(roles[0], key, value)
        self._gap = True
        self._statistics.end()
        return True

    def _tell(self, role: str, key: Cell, value: Cell) -> None:
        if not self._above.tell(role, key, value):
            return
        if role in ("panel", "batch"):
            self._laid.batches[self._block] = self._above.get(role) or value
            self._panel = value if role == "panel" else None

    def _check_line(self, row: Row) -> bool:
        """A line that is a gauge check by itself: `Zero before: 0 um`."""
        filled = [cell for cell in row if cell.text]
        pair = in_front(filled[0], numbered=True) if len(filled) == 1 else None
        found = self._words.check(pair[0].text) if pair is not None else None
        if pair is None or found is None or self._matcher.match(pair[0].text).panel is not None:
            return False
        content = self._cells.read(pair[1].text)
        if content.holds is not Holds.READINGS:
            return False
        told = self._above.get("unit")
        unit = (told.text, told.place) if told else None
        self._laid.observations.append(
            Observation(pair[1], content, None, None, unit, found, {}, self._block)
        )
        return True

    def _begin_block(self) -> None:
        """What was told of earlier readings alone does not hold for the next ones."""
        if self._read_in_block:
            self._block += 1
            self._read_in_block = False
            self._panel = None
            self._above.next_block()

    # --- headings -------------------------------------------------------------------------------

    def _units(self, row: Row) -> bool:
        """A line of nothing but units, right below a heading."""
        table = self._table
        if table is None or self._read_in_block or table.units:
            return False
        filled = {index: cell for index, cell in enumerate(row) if cell.text}
        if not all(is_unit(cell.text.strip(BRACKETS)) for cell in filled.values()):
            return False
        table.units = {
            index: Cell(cell.text.strip(BRACKETS), cell.place) for index, cell in filled.items()
        }
        return True

    def _heading(self, index: int, row: Row) -> bool:
        if self._names_a_panel(row):
            return False
        below = self._finder.rows_headed(index, row, fresh=self._gap)
        if below is None:
            return False
        self._supersede()
        self._begin_block()
        if self._table is not None and self._above.get("panel") is None:
            self._panel = None
        self._table = self._builder.under(row, below)
        self._table.block = self._block
        self._laid.assumed += self._table.assumed
        self._laid.doubtful += self._table.doubtful
        self._unread = self._table
        self._gap = False
        return True

    def _names_a_panel(self, row: Row) -> bool:
        """Whether a line has a panel where its table has the panels: then it holds a slip at most,
        never headings. After an empty line, one of nothing but panels can be a heading."""
        table = self._table
        column = next(table.of("panel"), None) if table is not None else None
        if column is None or column.index >= len(row):
            return False
        filled = [cell.text for cell in row if cell.text]
        panels = [text for text in filled if self._matcher.match(text).panel is not None]
        can_head = self._gap and len(panels) == len(filled)
        return row[column.index].text in panels and not can_head

    def _supersede(self) -> None:
        """A heading right over another one, as merged cells are written, tells its unit at most."""
        upper = self._unread
        if upper is None:
            return
        self._unread = None
        for found, said in (
            (self._laid.assumed, upper.assumed),
            (self._laid.doubtful, upper.doubtful),
        ):
            del found[len(found) - len(said) :]
        units = {column.unit: column for column in upper.columns if column.unit is not None}
        if len(units) == 1:
            unit, column = units.popitem()
            assert unit is not None
            self._above.tell_unit(unit, column.cell.place)

    # --- readings -------------------------------------------------------------------------------

    def _data(self, row: Row) -> bool:
        row = self._name_apart(row)
        if self._table is None:
            self._table = self._builder.without_heading(row)
            if self._table is None:
                return False
            self._laid.assumed.append(f"no heading: {self._table.layout}")
        table = self._table
        values = list(self._readings.values(table, row))
        if table.layout is Layout.STATISTICS:
            self._laid.layouts[table.layout] = None
            self._statistics.leave_out(row)
            return True
        measured = [
            self._cells.read(cell.text).holds in (Holds.READINGS, Holds.OUT_OF_RANGE)
            for _, cell in values
        ]
        labels = {role: self._readings.first(table, role, row) for role in LABELS}
        if not any(measured) and not self._readings.ought_to_be_there(values, labels):
            return False
        if self._statistics.is_labelled(labels, values, table, self._block):
            self._statistics.leave_out(row)
            return True
        self._readings.too_wide(table, row)
        check = self._readings.check(labels)
        panel = None if check else self._panel_of(table, labels["panel"], row)
        line = Line(table, row, labels, check, panel, self._block)
        for column, cell in values:
            self._readings.take(cell, column, line)
        self._gap = False
        self._unread = None
        self._laid.layouts[table.layout] = None
        self._read_in_block = True
        self._above.used()
        return True

    def _name_apart(self, row: Row) -> Row:
        """`bonnet: 121` in the first cell of a line without headings is a name and a reading."""
        if self._table is not None and self._table.open_from is None:
            return row
        pair = in_front(row[0])
        if pair is None or self._cells.read(pair[1].text).holds is not Holds.READINGS:
            return row
        return row if self._matcher.match(pair[0].text).panel is None else (*pair, *row[1:])

    def _panel_of(self, table: Table, named: Cell | None, row: Row) -> Cell | None:
        if next(table.of("panel"), None) is None:
            return self._above.get("panel") or self._above.get("batch")
        if named is not None:
            self._panel = named
        elif self._panel is not None:
            self._inherited.append(place_of(row).line)
        return self._panel

    def _leave_out(self, row: Row) -> None:
        self._laid.left_out.append((place_of(row), shown(row)))
