"""From the text to rows of cells, and which character stands between the cells.

Source: RFC 4180 for quotes; semicolons, tabs and bars between cells are what spreadsheets write
where the comma is the decimal mark (common practice).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from engine.errors import Place, Problem, ReadingsError
from engine.plaintext import quoted

MAX_CELLS = 200_000
MAX_CELL = 2_000
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
NAMES = {mark: name for name, mark in SEPARATORS.items()}

_SAYS_SEPARATOR = re.compile(r"[\"']?sep=([,;|\t])[\"']?[ ,;|\t]*\Z", re.IGNORECASE)
_QUOTED = re.compile(r'"[^"\n]*(?:""[^"\n]*)*"')
_IN_QUOTES = re.compile(r' *"([^"]*(?:""[^"]*)*)" *')
_ONE_NUMBER = re.compile(r"\s*[+-]?[0-9]+,[0-9]+\s*[^\W0-9]*\s*")
_SAMPLE = 2_000


@dataclass(frozen=True, slots=True)
class Cell:
    """The text of one cell, without space around it, and where it begins."""

    text: str
    place: Place


Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Separator:
    """What stands between cells (None where a line is one cell), and how that is known."""

    mark: str | None
    why: str

    @property
    def name(self) -> str:
        return NAMES[self.mark] if self.mark else "none"


def find_separator(
    text: str, name: str, told: str | None = None, *, decimal_comma: bool = False
) -> Separator:
    """What stands between the cells of `text`.

    `told` is a name from `SEPARATORS`; with `decimal_comma` a comma outside quotes is none. Raises
    ReadingsError where it can be one thing or another.
    """
    if told is not None:
        return Separator(SEPARATORS[told], "as told")
    first = _SAYS_SEPARATOR.match(text.split("\n", 1)[0])
    if first:
        return Separator(first[1], "the file says so in its first line")
    lines = [_QUOTED.sub("q", line) for line in text.split("\n", _SAMPLE)[:_SAMPLE]]
    lines = [line for line in lines if line.strip()]
    # A tab in front of a line indents it; one between cells has something before it.
    holding = {mark: sum(mark in line.strip(" ") for line in lines) for mark in NAMES}
    others = {mark: count for mark, count in holding.items() if mark != "," and count}
    best = max(others, key=lambda mark: (others[mark], _evenness(lines, mark)), default=None)
    commas = holding[","]
    if best is not None and (others[best] >= 2 or others[best] == len(lines)):
        rivals = [mark for mark in others if mark != best and others[mark] == others[best]]
        if any(_evenness(lines, mark) == _evenness(lines, best) for mark in rivals):
            raise _unclear_separator(name, [best, *rivals])
        if others[best] * 10 >= commas * 8:
            return Separator(best, f"{others[best]} of {len(lines)} lines hold one")
    if not commas:
        return Separator(None, "no line holds a separator")
    if decimal_comma:
        return Separator(None, "the comma is the decimal mark, as told")
    return _comma(lines, text, name)


def _evenness(lines: list[str], mark: str) -> int:
    """How many lines hold the commonest number of `mark`s."""
    counts = [line.count(mark) for line in lines if mark in line]
    return max(map(counts.count, set(counts)), default=0)


def _comma(lines: list[str], text: str, name: str) -> Separator:
    """Tells a comma between cells from a decimal comma, or refuses to."""
    holding = [line for line in lines if "," in line]
    if not all(_ONE_NUMBER.fullmatch(line) for line in holding):
        return Separator(",", f"{len(holding)} of {len(lines)} lines hold one")
    first = lines.index(holding[0])
    if first and any(char.isalpha() for char in lines[first - 1]):
        return Separator(None, "the heading is of one column, so the commas are decimal commas")
    line = next(n for n, line in enumerate(text.split("\n"), 1) if "," in line)
    raise ReadingsError(
        Problem(
            "unclear-comma",
            f"{quoted(holding[0].strip())} can be one reading with a decimal comma, or two cells",
            Place(name, line, 1),
            "Say `--decimal comma` for one reading a line, or `--separator comma` for two cells.",
        )
    )


def _unclear_separator(name: str, marks: list[str]) -> ReadingsError:
    names = " or ".join(NAMES[mark] for mark in marks)
    return ReadingsError(
        Problem(
            "unclear-separator",
            f"cells can be separated by {names}",
            Place(name, 1, 1),
            f"Say which, as in `--separator {NAMES[marks[0]]}`.",
        )
    )


def split_rows(text: str, name: str, mark: str | None) -> list[Row]:
    """The rows of `text`; a row of nothing but empty cells is `()`.

    Raises ReadingsError for quotes that do not close, and past `MAX_CELLS` cells.
    """
    return _Splitter(text, name, mark).rows()


class _Splitter:
    def __init__(self, text: str, name: str, mark: str | None) -> None:
        self._text = text
        self._name = name
        self._mark = mark
        self._bare = re.compile(rf"[^\n{re.escape(mark)}]*" if mark else r"[^\n]*")
        self._line = 1
        self._line_start = 0

    def rows(self) -> list[Row]:
        rows: list[Row] = []
        cells: list[Cell] = []
        at, count, end = 0, 0, len(self._text)
        if _SAYS_SEPARATOR.match(self._text.split("\n", 1)[0]):
            rows.append(())
            at = self._next_line(self._text.find("\n") + 1 or end)
        while at <= end:
            cell, at = self._cell(at)
            cells.append(cell)
            count += 1
            if len(cell.text) > MAX_CELL:
                message = (
                    f"a cell holds {len(cell.text):,} characters; at most {MAX_CELL:,} are read"
                )
                fix = "Check the separator, and that quotes close where they should."
                raise self._refuse("long-cell", message, cell.place, fix)
            if count > MAX_CELLS:
                message = f"the file has more than {MAX_CELLS:,} cells"
                raise self._refuse("too-many-cells", message, cell.place, "Split it.")
            if at < end and self._text[at] == self._mark:
                at += 1
                continue
            rows.append(tuple(cells) if any(each.text for each in cells) else ())
            cells = []
            if at >= end:
                break
            at = self._next_line(at + 1)
        return rows

    def _next_line(self, at: int) -> int:
        self._line += 1
        self._line_start = at
        return at

    def _cell(self, at: int) -> tuple[Cell, int]:
        found = _IN_QUOTES.match(self._text, at)
        if found:
            after = self._text[found.end() : found.end() + 1]
            if after in ("", "\n", self._mark):
                place = self._place(at)
                inside = found[1]
                breaks = inside.count("\n")
                if breaks:
                    self._line += breaks
                    self._line_start = found.start(1) + inside.rfind("\n") + 1
                return Cell(" ".join(inside.replace('""', '"').split()), place), found.end()
        bare = self._bare.match(self._text, at)
        assert bare is not None
        text = bare[0].strip()
        place = self._place(at + len(bare[0]) - len(bare[0].lstrip()))
        if text.startswith('"'):
            message = f"the quotes around {quoted(text)} do not close where the cell ends"
            raise self._refuse("open-quotes", message, place, "Close them, or take them out.")
        return Cell(text, place), bare.end()

    def _place(self, at: int) -> Place:
        return Place(self._name, self._line, at - self._line_start + 1)

    def _refuse(self, code: str, message: str, place: Place, fix: str) -> ReadingsError:
        return ReadingsError(Problem(code, message, place, fix))
