"""Text from files made harmless before it reaches a screen.

Rule texts, panel names and file names are data; an escape sequence or a direction mark in them
must not move the cursor, recolour the screen or make a line read other than it is.
"""

from __future__ import annotations

from engine.plaintext import forbidden_character


def neutral(text: str) -> str:
    """`text` on one line, with control and direction characters spelled out (`\\x1b`)."""
    return " ".join(_spelled(word) for word in text.split())


def neutral_lines(text: str) -> str:
    """As `neutral`, keeping line breaks and leading spaces."""
    return "\n".join(_spelled(line) for line in text.split("\n"))


def _spelled(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(_spell(char) if forbidden_character(char) else char for char in text)


def _spell(char: str) -> str:
    return char.encode("unicode_escape", "backslashreplace").decode("ascii")
