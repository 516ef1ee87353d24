"""Placeholders in texts for people: `{film.typical}` stands for a value, `{panel}` for a name."""

from __future__ import annotations

import re
from collections.abc import Iterator

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


def placeholders(text: str) -> Iterator[str]:
    """The names in braces, in order."""
    for found in PLACEHOLDER.finditer(text):
        yield found[1].strip()


def stray_brace(text: str) -> bool:
    """Whether a brace stands outside every placeholder."""
    rest = PLACEHOLDER.sub("", text)
    return "{" in rest or "}" in rest
