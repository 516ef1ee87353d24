"""A page of text: headings, paragraphs, items and tables, wrapped to a width.

Every text that comes in is neutralised here, so nothing printed through a page can reach the
terminal as anything but text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from io import StringIO

from cli.output.safe import neutral
from cli.output.style import Style

_TABLE_NEEDS = 60
_LONGEST = 20_000
_MOST_MARKS = 4
"""Characters a column may hold: accents take none, and a heap of them is no line."""

_TRAILING = re.compile(r"[ \t]+(\x1b\[0m)?$")

Dress = Callable[[str], str]


class Page:
    """Collects lines; `text()` gives the whole.

    A text that is longer than anybody writes is cut, with a note that it is, unless `whole`.
    """

    def __init__(self, style: Style, *, whole: bool = False) -> None:
        self.style = style
        self._whole = whole
        self._lines: list[str] = []

    @property
    def draws_tables(self) -> bool:
        """Whether there is room for a table and it is wanted; else it is written row by row."""
        return not self.style.plain and self.style.width >= _TABLE_NEEDS

    def text(self) -> str:
        return "\n".join(self._lines).strip("\n") + "\n"

    def taken(self) -> str:
        """What was collected since it was last taken, for writing a long text piece by piece."""
        text = "".join(f"{line}\n" for line in self._lines)
        self._lines.clear()
        return text

    def blank(self) -> None:
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def heading(self, text: str) -> None:
        """The start of a section."""
        self.blank()
        wrapped = wrap(self._harmless(text), self.style.width)
        self._lines += [self.style.strong(line) for line in wrapped]
        if not self.style.plain:
            self._lines.append(self.style.faint("─" * max(map(cells, wrapped))))

    def label(self, text: str, dress: Dress | None = None) -> None:
        """A short line that names what follows."""
        self._put(wrap(self._harmless(text), self.style.width), dress or self.style.strong)

    def paragraph(self, text: str, indent: int = 0, dress: Dress | None = None) -> None:
        room = self.style.width - indent
        self._put([" " * indent + line for line in wrap(self._harmless(text), room)], dress)

    def item(self, text: str, marker: str = "-", indent: int = 1) -> None:
        """An item of a list; further lines hang under its text."""
        lead = " " * indent + marker + " "
        lines = wrap(self._harmless(text), self.style.width - len(lead))
        self._put([(lead if not n else " " * len(lead)) + line for n, line in enumerate(lines)])

    def command(self, text: str) -> None:
        """A command to copy: on a line of its own, never broken."""
        self._lines.append("   " + self._harmless(text))

    def table(self, headers: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """A table where there is room for one, else one item a row."""
        if not self.draws_tables:
            for first, *rest in rows:
                self.item(f"{first}: " + " ".join(_sentence(cell) for cell in rest if cell))
            return
        self._lines += _drawn(
            headers, [[self._harmless(cell) for cell in row] for row in rows], self.style
        )

    def _harmless(self, text: str) -> str:
        if len(text) > _LONGEST and not self._whole:
            text = f"{text[:_LONGEST]}... (the first {_LONGEST:,} of {len(text):,} characters)"
        return neutral(text)

    def _put(self, lines: Sequence[str], dress: Dress | None = None) -> None:
        self._lines += [dress(line) for line in lines] if dress else lines


def _sentence(text: str) -> str:
    return text if not text or text[-1] in ".!?:" else f"{text}."


def cells(text: str) -> int:
    """How many columns of a terminal a text takes."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def wrap(text: str, width: int) -> list[str]:
    """`text` in lines of at most `width` columns; words longer than that are cut."""
    width = max(width, 8)
    lines: list[str] = []
    line = ""
    for word in text.split():
        for piece in _pieces(word, width):
            if not line:
                line = piece
            elif cells(line) + 1 + cells(piece) <= width:
                line = f"{line} {piece}"
            else:
                lines.append(line)
                line = piece
    return [*lines, line]


def _pieces(word: str, width: int) -> list[str]:
    if cells(word) <= width:
        return [word]
    if word.isascii():
        return [word[start : start + width] for start in range(0, len(word), width)]
    pieces: list[str] = []
    start = 0
    while start < len(word):
        fits, too_far = 1, min(len(word) - start, _MOST_MARKS * width) + 1
        while too_far - fits > 1:
            middle = (fits + too_far) // 2
            if cells(word[start : start + middle]) <= width:
                fits = middle
            else:
                too_far = middle
        pieces.append(word[start : start + fits])
        start += fits
    return pieces


def _drawn(headers: Sequence[str], rows: Sequence[Sequence[str]], style: Style) -> list[str]:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD, padding=(0, 1), pad_edge=False, show_edge=False)
    for header in headers:
        table.add_column(Text(header), overflow="fold", vertical="top")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    out = StringIO()
    console = Console(
        file=out,
        width=style.width,
        color_system="standard" if style.colour else None,
        force_terminal=style.colour,
        legacy_windows=False,
    )
    console.print(table)
    return [_TRAILING.sub(r"\1", line) for line in out.getvalue().rstrip("\n").split("\n")]
