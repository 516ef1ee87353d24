"""Tells a row of headings from everything else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from engine.readings.cells import CellReader, Holds, is_unit
from engine.readings.panels import PanelMatcher
from engine.readings.table import Row
from engine.readings.words import Heading, WordFinder

BRACKETS = "[](){}"
_LOOK_AHEAD = 60


class HeadingFinder:
    """Looks at rows of one file, each with those below it."""

    def __init__(
        self, rows: Sequence[Row], words: WordFinder, cells: CellReader, matcher: PanelMatcher
    ) -> None:
        self._rows = rows
        self._words = words
        self._cells = cells
        self._matcher = matcher

    def below(self, index: int) -> Iterator[Row]:
        """The rows after `index` down to the next empty one; a line of units is passed over."""
        found = False
        for row in self._rows[index + 1 : index + 1 + _LOOK_AHEAD]:
            if not row and found:
                return
            if row and not all(is_unit(cell.text.strip(BRACKETS)) for cell in row if cell.text):
                found = True
                yield row

    def rows_headed(self, index: int, row: Row, *, fresh: bool) -> list[Row] | None:
        """The rows below a row that names their columns; None where it does not.

        Names that are no panel's are only taken for headings where a table can begin (`fresh`).
        """
        filled = {at: cell.text for at, cell in enumerate(row) if cell.text}
        headings = {at: self._words.heading(text) for at, text in filled.items()}
        counting = [text for text in filled.values() if text.isdecimal()]
        if counting and counting != [str(n) for n in range(1, len(counting) + 1)]:
            return None
        for at, text in filled.items():
            number = self._cells.read(text).holds is not Holds.TEXT and text not in counting
            if number and not headings[at].roles:
                return None
        below = list(self.below(index))
        plain = {at: headings[at] for at, text in filled.items() if text not in counting}
        if not below:
            return None
        if counting:
            heads = len(counting) > 1 and self._heads_counted(list(plain.values()), below)
        else:
            heads = self._heads(plain, below, fresh)
        return below if heads else None

    def _heads_counted(self, plain: Sequence[Heading], below: Sequence[Row]) -> bool:
        """Whether 1, 2, 3 are headings: what stands before them is one, or names panels below."""
        labels = [row[0].text for row in below if row and row[0].text]
        texts = all(self._cells.read(label).holds is Holds.TEXT for label in labels[:1])
        if all(heading.roles for heading in plain) and texts:
            return bool(labels or plain)
        panels = any(self._matcher.match(label).panel for label in labels)
        return panels and not any(self._matcher.match(heading.name).panel for heading in plain)

    def _heads(self, headings: Mapping[int, Heading], below: Sequence[Row], fresh: bool) -> bool:
        known = {at: each for at, each in headings.items() if each.roles or each.number is not None}
        if len(known) > 1 or any(
            {"reading", "statistic"} & set(heading.roles) or heading.number is not None
            for heading in known.values()
        ):
            return True
        names = [at for at in headings if at not in known]
        if not names or not self._over_numbers(names, below):
            return False
        return fresh or all(self._matcher.match(headings[at].name).panel for at in names)

    def _over_numbers(self, indexes: Sequence[int], below: Sequence[Row]) -> bool:
        """Whether the next row has numbers, or nothing, under each of these cells but the first."""
        first = {at: self._cells.read(cell.text) for at, cell in enumerate(below[0])}
        held = [first[at].holds if at in first else Holds.NOTHING for at in indexes]
        under = [each for each in held if each in (Holds.READINGS, Holds.OUT_OF_RANGE)]
        others = held[1:] if indexes[0] == 0 and held[0] is Holds.TEXT else held
        return bool(under) and Holds.TEXT not in others

    def heads_numbers(self, index: int, row: Row) -> bool:
        """Whether two cells are a heading: the row below has a number under the second too."""
        below = next(self.below(index), ())
        second = [at for at, cell in enumerate(row) if cell.text][1]
        filled = [at for at, cell in enumerate(below) if cell.text]
        return (
            len(filled) > 1
            and second in filled
            and self._cells.read(below[second].text).holds is Holds.READINGS
            and not self._words.roles(below[filled[0]].text)
        )
