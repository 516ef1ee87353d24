"""Text that people or files hand in, kept from doing anything to a screen or a record.

Control characters can move the cursor, colour or rewrite what stands above; direction marks can
make a text read other than it is. Neither belongs in an answer, so both are refused, and both
are spelled out wherever a message repeats what was found.
"""

from __future__ import annotations

import re
import unicodedata

MAX_TEXT = 2_000
"""The longest free text that is kept, in characters."""

_SHOWN = 60
_MARKS = re.compile("[\u0300-\u036f]")
_JOINERS = "\u200c\u200d"
_UNSAFE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def forbidden_character(text: str, *, lines: bool = False) -> str | None:
    """The first character of `text` that is not taken, named as in `U+001B`; None where all are.

    `lines` lets line breaks and tabs pass.
    """
    if text.isprintable():
        # Every character that is not taken is one that does not print.
        return None
    for char in text:
        if char.isascii() and char.isprintable():
            continue
        if char in _JOINERS or (lines and char in "\n\t"):
            continue
        if unicodedata.category(char) in _UNSAFE:
            return f"U+{ord(char):04X}"
    return None


def printable(text: str, longest: int = _SHOWN) -> str:
    """`text` on one line, what would not show spelled out, cut to `longest` characters."""
    head = text[: longest + 1]
    shown = "".join(char if char.isprintable() else _spelled(char) for char in head)
    return shown if len(shown) <= longest and head == text else f"{shown[: longest - 3]}..."


def quoted(text: str) -> str:
    """`text` in backquotes for a message."""
    return f"`{printable(text)}`"


def folded(text: str) -> str:
    """`text` with case, hyphens, underscores and doubled spaces out of the way."""
    return re.sub(r"[\s_-]+", " ", text.casefold()).strip()


def unmarked(text: str) -> str:
    """`folded`, without the marks on letters, which people leave out where they type fast."""
    if not text.isascii():
        text = _MARKS.sub("", unicodedata.normalize("NFD", text))
    return folded(text)


def _spelled(char: str) -> str:
    return char.encode("unicode_escape", "backslashreplace").decode("ascii")
