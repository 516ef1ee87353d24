"""What the columns under a heading hold, and how readings are laid out in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from engine.errors import Place, Problem, ReadingsError
from engine.plaintext import quoted
from engine.readings.cells import CellReader, Holds, is_unit
from engine.readings.panels import PanelMatcher
from engine.readings.table import Cell, Row
from engine.readings.words import Heading, WordFinder

DETAILS = ("time", "by", "instrument", "probe", "serial")
LABELS = ("panel", "spot", "number", "remark")
_ONCE = ("reading", "panel", "spot", "unit")


class Layout(StrEnum):
    """How the readings of a file are laid out."""

    LONG = "one reading a line"
    ROWS = "one panel a line, with its readings across"
    COLUMNS = "one panel a column"
    SINGLE = "one column of readings"
    STATISTICS = "statistics alone"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what it holds, and the unit its heading gives."""

    index: int
    cell: Cell
    heading: Heading
    role: str
    unit: str | None = None


@dataclass(slots=True)
class Table:
    """Columns by role, and those that hold readings.

    `open_from` is the first column of readings where no heading says how many there are.
    """

    layout: Layout
    columns: tuple[Column, ...] = ()
    values: tuple[Column, ...] = ()
    open_from: int | None = None
    block: int = 0
    assumed: list[str] = field(default_factory=list)
    doubtful: list[Problem] = field(default_factory=list)
    units: dict[int, Cell] = field(default_factory=dict)

    def of(self, role: str) -> Iterator[Column]:
        """The columns of one role, from left to right."""
        return (column for column in self.columns if column.role == role)

    @property
    def width(self) -> int | None:
        """How many columns have a heading; None where that is left open."""
        if self.open_from is not None:
            return None
        return max((column.index for column in self.columns), default=0) + 1


class TableBuilder:
    """Makes tables from headings and the rows below them."""

    def __init__(self, words: WordFinder, cells: CellReader, matcher: PanelMatcher) -> None:
        self._words = words
        self._cells = cells
        self._matcher = matcher

    def under(self, row: Row, below: Sequence[Row]) -> Table:
        """The table under a heading; `below` are rows it may have, to look into.

        Raises ReadingsError where two columns claim to be the same.
        """
        columns = self._with_roles(row, below)
        assumed: list[str] = []
        layout, values, panel = self._laid_out(columns, below, assumed)
        if panel is None and layout in (Layout.LONG, Layout.ROWS):
            texts = [column for column in columns if column.role == "name" and column not in values]
            panel = self._panel_among(texts, below)
            if panel is not None:
                heading = quoted(panel.cell.text)
                assumed.append(f"the column {heading} names the panels, by what stands in it")

        def settled(column: Column) -> Column:
            role = column.role
            if column in values:
                role = "value"
            elif column is panel:
                role = "panel"
            elif role == "reading":
                assumed.append(f"the column {quoted(column.cell.text)} counts the readings")
                role = "number"
            return replace(column, role=role)

        table = Table(layout, tuple(map(settled, columns)), assumed=assumed)
        if panel is not None and self._is_panel(panel):
            table.doubtful.append(_named_like_a_panel(panel))
        table.values = tuple(table.of("value"))
        if layout is not Layout.STATISTICS:
            self._others(table, below)
        return table

    def _laid_out(
        self, columns: Sequence[Column], below: Sequence[Row], assumed: list[str]
    ) -> tuple[Layout, Sequence[Column], Column | None]:
        """The layout, the columns with readings, and the one that names panels if one says so."""
        by_role: dict[str, list[Column]] = {}
        for column in columns:
            by_role.setdefault(column.role, []).append(column)
        reading, numbered = by_role.get("reading", []), by_role.get("numbered", [])
        panel = next(iter(by_role.get("panel", [])), None)
        named = by_role.get("name", [])
        numeric = [column for column in named if self._numeric(column.index, below)]
        texts = [column for column in named if column not in numeric]
        if numbered and reading:
            raise _twice("reading", reading[0], numbered[0])
        if numbered:
            return Layout.ROWS, numbered, panel
        if reading and not (self._are_panels(numeric) and self._counts(reading[0].index, below)):
            return Layout.LONG, reading, panel
        if not numeric:
            return Layout.STATISTICS, (), panel
        by_rows = self._panel_among(texts, below) and not self._are_panels(numeric)
        turned = panel is not None and not self._panel_share(panel, below)
        if turned and self._are_panels(numeric):
            return Layout.COLUMNS, numeric, None
        if panel is not None or by_rows:
            assumed.append("the headings of the readings name spots")
            return Layout.ROWS, numeric, panel
        return Layout.COLUMNS, numeric, None

    def without_heading(self, row: Row) -> Table | None:
        """The table that a first row without a heading shows; None where it shows none.

        Raises ReadingsError where numbers stand side by side and nothing says what they are.
        """
        filled = [(index, cell) for index, cell in enumerate(row) if cell.text]
        held = [self._cells.read(cell.text).holds for _, cell in filled]
        measured = (Holds.READINGS, Holds.OUT_OF_RANGE)
        if held == [Holds.READINGS] or held == [Holds.OUT_OF_RANGE]:
            index, cell = filled[0]
            column = Column(index, cell, Heading(""), "reading")
            return Table(Layout.SINGLE, (column,), (column,))
        rest = held[1:]
        if held and held[0] is Holds.TEXT and any(each in measured for each in rest):
            index, cell = filled[0]
            if all(each in (*measured, Holds.NOTHING) for each in rest):
                column = Column(index, cell, Heading(""), "panel")
                return Table(Layout.ROWS, (column,), open_from=index + 1)
            if rest[:1] == [Holds.READINGS] and len(rest) == 2 and is_unit(filled[2][1].text):
                roles = zip(filled, ("panel", "value", "unit"), strict=True)
                columns = tuple(Column(at, each, Heading(""), role) for (at, each), role in roles)
                return Table(Layout.LONG, columns, tuple(columns[1:2]))
        if sum(each in measured for each in held) >= 2:
            raise ReadingsError(
                Problem(
                    "no-heading",
                    "several numbers stand side by side, and no heading says what they are",
                    filled[0][1].place,
                    "Put a line above that names the columns, as in `Panel;Spot;Reading`.",
                )
            )
        return None

    def _with_roles(self, row: Row, below: Sequence[Row]) -> list[Column]:
        headings = [self._words.heading(cell.text) for cell in row]
        taken: dict[str, int] = {}
        roles: dict[int, str] = {}
        for index, heading in enumerate(headings):
            if heading.number is not None:
                roles[index] = "numbered"
            elif len(heading.roles) == 1:
                roles[index] = heading.roles[0]
            elif not heading.roles:
                roles[index] = "name" if heading.name else self._blank(index, below)
            if roles.get(index) in _ONCE:
                taken.setdefault(roles[index], index)
        for index, heading in enumerate(headings):
            if index not in roles:
                free = (role for role in heading.roles if role not in taken)
                roles[index] = next(free, heading.roles[0])
                taken.setdefault(roles[index], index)
        columns = [
            Column(index, cell, headings[index], roles[index], headings[index].unit)
            for index, cell in enumerate(row)
        ]
        columns = self._measured_once(columns, below)
        for role in _ONCE:
            same = [column for column in columns if column.role == role]
            if len(same) > 1:
                raise _twice(role, *same[:2])
        return columns

    def _measured_once(self, columns: list[Column], below: Sequence[Row]) -> list[Column]:
        """Where one of several columns called readings has numbers, the others tell of them."""
        called = [column for column in columns if column.role == "reading"]
        numeric = [column for column in called if self._numeric(column.index, below)]
        if len(called) < 2 or len(numeric) != 1:
            return columns
        others = {column.index for column in called} - {numeric[0].index}
        return [replace(each, role="name") if each.index in others else each for each in columns]

    def _blank(self, index: int, below: Sequence[Row]) -> str:
        """A column without a heading: labels of its rows if it is the first, else nothing."""
        if index:
            return "blank"
        named = any(self._matcher.match(row[0].text).panel for row in below if row and row[0].text)
        return "panel" if named else "number"

    def _numeric(self, index: int, below: Sequence[Row]) -> bool:
        held = [self._cells.read(row[index].text).holds for row in below if index < len(row)]
        measured = sum(each in (Holds.READINGS, Holds.OUT_OF_RANGE) for each in held)
        return measured > sum(each is Holds.TEXT for each in held)

    def _counts(self, index: int, below: Sequence[Row]) -> bool:
        """Whether a column runs 1, 2, 3."""
        texts = [row[index].text for row in below if index < len(row)]
        numbers = [text for text in texts if text.isdecimal()]
        return len(numbers) > 1 and numbers == [str(n) for n in range(1, len(numbers) + 1)]

    def _is_panel(self, column: Column) -> bool:
        return self._matcher.match(column.heading.name).panel is not None

    def _are_panels(self, columns: Sequence[Column]) -> bool:
        return any(map(self._is_panel, columns))

    def _panel_among(self, columns: Sequence[Column], below: Sequence[Row]) -> Column | None:
        """The one column in which at least half of the names are panels of the job."""
        fitting = [column for column in columns if self._panel_share(column, below) >= 0.5]
        return fitting[0] if len(fitting) == 1 else None

    def _panel_share(self, column: Column, below: Sequence[Row]) -> float:
        names = {row[column.index].text for row in below if column.index < len(row)} - {""}
        known = sum(self._matcher.match(name).panel is not None for name in names)
        return known / (len(names) or 1)

    def _others(self, table: Table, below: Sequence[Row]) -> None:
        """Says which columns are of no use here; one with numbers in it has to be confirmed."""
        for column in table.columns:
            if column.role not in ("name", "blank"):
                continue
            if self._numeric(column.index, below):
                table.doubtful.append(
                    Problem(
                        "column-left-out",
                        f"the numbers in the column {quoted(column.cell.text)} are left out",
                        column.cell.place,
                        "If they are readings, give the column a heading that says so.",
                    )
                )
            elif self._is_panel(column):
                table.doubtful.append(_named_like_a_panel(column))
            elif column.cell.text:
                table.assumed.append(f"the column {quoted(column.cell.text)} says nothing of film")


def _named_like_a_panel(column: Column) -> Problem:
    return Problem(
        "heading-or-reading",
        f"the line of {quoted(column.cell.text)} is taken for headings, though it is a panel",
        column.cell.place,
        "If readings stand in it, correct what is no number there.",
    )


def _twice(role: str, one: Column, other: Column) -> ReadingsError:
    return ReadingsError(
        Problem(
            "two-columns",
            f"the columns {quoted(one.cell.text)} and {quoted(other.cell.text)} can both hold the "
            f"{role}",
            other.cell.place,
            "Take one of them out, or give it another heading.",
        )
    )


def place_of(row: Row) -> Place:
    """Where the first cell with anything in it begins."""
    return next(cell.place for cell in row if cell.text)


def named(column: Column) -> Cell:
    """The name in a heading, without its unit."""
    return Cell(column.heading.name, column.cell.place)
