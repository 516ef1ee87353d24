"""A page of Markdown, wrapped to be read as it stands too, and how its headings are linked to."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence

_WIDTH = 100
_CODE = re.compile(r"(`[^`]*`)")
_SPECIAL = re.compile(r"([\\*<\[])")
_NO_BREAK = re.compile(r"`[^`\n]*`|\[[^\]\n]*\]\([^)\n]*\)")
_SPACE = "\u00a0"


class Page:
    """One page: what is added to it, in order. `says` is its line in the index."""

    def __init__(self, file: str, title: str, says: str) -> None:
        self.file = file
        self.title = title
        self.says = says
        self._parts: list[str] = [f"# {title}"]

    def heading(self, text: str, level: int = 2) -> None:
        self._parts.append(f"{'#' * level} {text}")

    def paragraph(self, text: str) -> None:
        self._parts.append(_wrapped(text, ""))

    def items(self, items: Iterable[str | tuple[int, str]]) -> None:
        """A list; an item is a text, or how far in it stands and its text."""
        lines = []
        for item in items:
            depth, text = item if isinstance(item, tuple) else (0, item)
            lines.append(_wrapped(text, f"{'  ' * depth}- "))
        if lines:
            self._parts.append("\n".join(lines))

    def table(self, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        lines = [_row(head), f"|{'---|' * len(head)}", *(map(_row, rows))]
        self._parts.append("\n".join(lines))

    def code(self, text: str, language: str = "") -> None:
        self._parts.append(f"```{language}\n{text.rstrip()}\n```")

    def text(self) -> str:
        return "\n\n".join(self._parts) + "\n"


def plain(text: str) -> str:
    """Text from elsewhere with nothing in it taken for Markdown but code between backticks."""
    parts = _CODE.split(" ".join(text.split()))
    return "".join(
        part if part.startswith("`") and len(part) > 1 else _SPECIAL.sub(r"\\\1", part)
        for part in parts
    )


def code(text: str) -> str:
    return f"`{text}`"


def codes(names: Iterable[str]) -> str:
    return ", ".join(map(code, names))


def anchor(heading: str) -> str:
    """How a heading is linked to: lower-case, punctuation gone, hyphens for spaces."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def link(text: str, heading: str, file: str = "") -> str:
    """A link to a heading of this page, or of another one."""
    return f"[{text}]({file}#{anchor(heading)})"


def counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


def _wrapped(text: str, mark: str) -> str:
    # What is code or a link stays on one line, whatever its length.
    whole = _NO_BREAK.sub(lambda found: found[0].replace(" ", _SPACE), " ".join(text.split()))
    lines = textwrap.fill(
        whole,
        _WIDTH,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return lines.replace(_SPACE, " ")
