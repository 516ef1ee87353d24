"""Text made harmless before it reaches a page, whatever it came from.

Every value a template prints goes through `printed`; autoescape then takes care of what HTML would
act on. Only markup that a template made itself passes as it is.
"""

from __future__ import annotations

from markupsafe import Markup

from cli.output.safe import neutral
from engine.plaintext import MAX_TEXT
from engine.words import say

_DECIMALS = 2
_LONGEST_LABEL = 26
_LONGEST_RUNNING = 60


def printed(value: object) -> object:
    """A value as it may stand on a page: one line, spelled out where it would act, not endless."""
    if isinstance(value, Markup):
        return value
    if isinstance(value, float):
        return f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    text = str(value)
    left_out = len(text) - MAX_TEXT
    if left_out <= 0:
        return neutral(text)
    return say(
        "{text} […{left_out} more characters]", text=neutral(text[:MAX_TEXT]), left_out=left_out
    )


def in_style(value: object) -> Markup:
    """A value as a string of a style sheet, where nothing but letters and digits stands for itself.

    A style element is not read as HTML, so that what autoescape writes would be shown as it is; an
    escape by number means the same everywhere (CSS Syntax Level 3, 4.3.7).
    """
    text = shorten(str(printed(value)), _LONGEST_RUNNING)
    return Markup(
        "".join(
            char if char.isascii() and char.isalnum() else f"\\{ord(char):06x}" for char in text
        )
    )


def shorten(text: str, longest: int = _LONGEST_LABEL) -> str:
    """A text cut to fit where it is drawn."""
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
