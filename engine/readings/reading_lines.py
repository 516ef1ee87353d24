"""Takes the readings of one line, each with its panel, spot, unit and what else is told of it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from engine.errors import Place, Problem
from engine.plaintext import quoted
from engine.readings.above import Above
from engine.readings.cells import CellReader, Holds
from engine.readings.columns import DETAILS, LABELS, Column, Layout, Table, named
from engine.readings.laid import Laid, Observation, no_reading
from engine.readings.panels import Certainty, PanelMatcher
from engine.readings.table import Cell, Row
from engine.readings.words import CheckLabel, When, WordFinder


@dataclass(frozen=True, slots=True)
class Line:
    """A line with readings: the table it is in, its labels by role, the check or panel it is of."""

    table: Table
    row: Row
    labels: Mapping[str, Cell | None]
    check: CheckLabel | None
    panel: Cell | None
    block: int


class ReadingLines:
    """Reads lines of tables that hold readings; what it finds is kept in `laid`."""

    def __init__(
        self,
        words: WordFinder,
        cells: CellReader,
        matcher: PanelMatcher,
        laid: Laid,
        above: Above,
    ) -> None:
        self._words = words
        self._cells = cells
        self._matcher = matcher
        self._laid = laid
        self._above = above

    def values(self, table: Table, row: Row) -> Iterator[tuple[Column | None, Cell]]:
        """The cells in which a line has readings, each with its column if it has a heading."""
        if table.open_from is not None:
            for cell in row[table.open_from :]:
                yield None, cell
            return
        for column in table.values:
            if column.index < len(row):
                yield column, row[column.index]

    def first(self, table: Table, role: str, row: Row) -> Cell | None:
        """The cell of the first column of that role, if anything stands in it."""
        cells = (row[column.index] for column in table.of(role) if column.index < len(row))
        return next((cell for cell in cells if cell.text), None)

    def ought_to_be_there(
        self, values: list[tuple[Column | None, Cell]], labels: Mapping[str, Cell | None]
    ) -> bool:
        """Whether a line without any reading was meant to have one: a slip must not go unseen."""
        texts = [cell.text for _, cell in values if cell.text]
        held = [self._cells.read(text).holds for text in texts]
        if Holds.FORMULA in held or any(re.match(r"[+-]?[.,]?[0-9]", text) for text in texts):
            return True
        panel = labels["panel"]
        named = panel is not None and self._matcher.match(panel.text).panel is not None
        return named and Holds.TEXT in held

    def check(self, labels: Mapping[str, Cell | None]) -> CheckLabel | None:
        """What the labels of a line say of a gauge check."""
        for role in LABELS:
            label = labels[role]
            if label is None:
                continue
            sure = (Certainty.CERTAIN, Certainty.TOLD)
            if role == "panel" and self._matcher.match(label.text).certainty in sure:
                continue
            found = self._words.check(label.text)
            if found is not None:
                return self._with_remark(found, labels)
        return None

    def _with_remark(self, found: CheckLabel, labels: Mapping[str, Cell | None]) -> CheckLabel:
        """A check whose other cells say on what or when it was made."""
        texts = dict.fromkeys(cell.text for cell in labels.values() if cell is not None)
        whole = self._words.check(" ".join(texts)) if len(texts) > 1 else None
        return whole or found

    def take(self, cell: Cell, column: Column | None, line: Line) -> None:
        """Takes one cell where a reading should stand; what is none is a problem."""
        table, labels, check, panel = line.table, line.labels, line.check, line.panel
        content = self._cells.read(cell.text)
        if content.holds is Holds.NOTHING:
            return
        if content.holds in (Holds.TEXT, Holds.FORMULA):
            self._laid.problems.append(no_reading(cell, content))
            return
        if table.layout is Layout.COLUMNS and column is not None and check is None:
            check = self._words.check(column.cell.text, alone=True)
            if check is not None and self._matcher.match(column.heading.name).panel:
                check = None
            if check is not None:
                check = replace(check, when=check.when or When.BETWEEN)
            panel = named(column)
        spot = labels["spot"].text if labels["spot"] else None
        if spot is None and table.layout is Layout.ROWS and column is not None:
            by_heading = "spot" in column.heading.roles or column.heading.number is None
            spot = column.heading.name if by_heading else None
        self._laid.observations.append(
            Observation(
                cell,
                content,
                None if check else panel,
                spot,
                self._unit(table, column, line.row),
                check,
                self._details(table, line.row),
                line.block,
            )
        )

    def _unit(self, table: Table, column: Column | None, row: Row) -> tuple[str, Place] | None:
        own = self.first(table, "unit", row)
        if own is not None:
            return own.text, own.place
        if column is not None and column.index in table.units:
            cell = table.units[column.index]
            return cell.text, cell.place
        if column is not None and column.unit is not None:
            return column.unit, column.cell.place
        told = self._above.get("unit")
        if told is not None:
            return told.text, told.place
        # Above names of panels or spots a unit can only be that of what was read there.
        labels = (each for role in LABELS for each in table.of(role))
        return next(((each.unit, each.cell.place) for each in labels if each.unit), None)

    def _details(self, table: Table, row: Row) -> dict[str, str]:
        found: dict[str, str] = {}
        for role in DETAILS:
            cells = (row[each.index] for each in table.of(role) if each.index < len(row))
            texts = [
                cell.text
                for cell in cells
                if cell.text and self._cells.read(cell.text).holds is not Holds.FORMULA
            ]
            if texts:
                found[role] = " ".join(texts)
            elif (told := self._above.get(role)) is not None:
                found[role] = told.text
        return found

    def too_wide(self, table: Table, row: Row) -> None:
        """Refuses what stands past the last heading."""
        width = table.width
        extra = [] if width is None else [cell for cell in row[width:] if cell.text]
        if extra:
            self._laid.problems.append(
                Problem(
                    "more-cells-than-headings",
                    f"{quoted(extra[0].text)} stands under no heading",
                    extra[0].place,
                    "Put text and numbers that hold the separator in quotes, or use another "
                    "separator; a decimal comma cannot stand between commas.",
                )
            )
