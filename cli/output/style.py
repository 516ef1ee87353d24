"""How wide, how colourful and how plain the output is."""

from __future__ import annotations

import os
import shutil
import sys

from engine.records import dataclass

_WIDEST_READABLE = 100
_NARROWEST = 20
_FALLBACK = 80


@dataclass(frozen=True, slots=True)
class Style:
    """`plain` is linear text for screen readers: no tables, no rules, no colour."""

    width: int = _FALLBACK
    colour: bool = False
    plain: bool = False

    def strong(self, text: str) -> str:
        return self._dressed(text, "1")

    def warning(self, text: str) -> str:
        return self._dressed(text, "1;33")

    def faint(self, text: str) -> str:
        return self._dressed(text, "2")

    def _dressed(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour and text else text


def style_for_stdout(*, plain: bool = False, width: int | None = None) -> Style:
    """The style that suits standard output.

    Colour needs a terminal, and neither NO_COLOR nor TERM=dumb. Without `width` the terminal's
    is taken, up to what still reads well.
    """
    terminal = sys.stdout.isatty()
    colour = (
        terminal
        and not plain
        and not os.environ.get("NO_COLOR")
        and os.environ.get("TERM") != "dumb"
    )
    if width is None:
        found = shutil.get_terminal_size((_FALLBACK, 24)).columns
        width = max(_NARROWEST, min(found, _WIDEST_READABLE))
    return Style(width=width, colour=colour, plain=plain or not _draws_lines())


def _draws_lines() -> bool:
    """Whether standard output can show the lines of a table."""
    try:
        "─".encode(sys.stdout.encoding or "ascii")
    except (LookupError, UnicodeEncodeError):
        return False
    return True
