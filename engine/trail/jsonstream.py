"""Reads a large JSON object member by member, and a long list in it item by item."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, TextIO

from engine.errors import TrailError
from engine.trail.canonical import strict_decoder

_CHUNK = 1 << 16
_OF_NUMBERS = "0123456789+-.eE"
_SPACE = " \t\n\r"


class JsonObject:
    """The members of the one JSON object in a file.

    `members` gives each key; before the next is asked for, its value is taken with `value`, or
    with `items` where it is a list. Raises TrailError where the file is not such an object.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._text = ""
        self._at = 0
        self._ended = False
        self._decoder = strict_decoder()

    def members(self) -> Iterator[str]:
        seen: set[str] = set()
        self._take("{")
        if self._peek() != "}":
            while True:
                key = self.value()
                if not isinstance(key, str) or key in seen:
                    raise TrailError("a key is no text, or stands twice")
                seen.add(key)
                self._take(":")
                yield key
                if self._peek() != ",":
                    break
                self._take(",")
        self._take("}")
        if self._peek():
            raise TrailError("something follows after its end")

    def items(self) -> Iterator[Any]:
        self._take("[")
        if self._peek() != "]":
            while True:
                yield self.value()
                if self._peek() != ",":
                    break
                self._take(",")
        self._take("]")

    def value(self) -> Any:
        """The value that comes next, as `engine.trail.canonical.parse` reads it."""
        self._peek()
        while True:
            try:
                found, end = self._decoder.raw_decode(self._text, self._at)
            except json.JSONDecodeError as error:
                if not self._more():
                    raise TrailError(f"it is not JSON, or not all of it: {error.msg}") from None
                continue
            except RecursionError:
                raise TrailError("it is nested too deeply") from None
            # A number cut at the end of what was read so far may go on: `1` of `1.5`.
            if self._text[end : end + 4].strip(_OF_NUMBERS) or not self._more():
                self._at = end
                return found

    def _peek(self) -> str:
        """The next character that is no space, or nothing at the end."""
        while True:
            while self._at < len(self._text):
                if self._text[self._at] not in _SPACE:
                    return self._text[self._at]
                self._at += 1
            if not self._more():
                return ""

    def _take(self, wanted: str) -> None:
        if self._peek() != wanted:
            raise TrailError(f"it is not JSON, or not all of it: `{wanted}` is missing")
        self._at += 1

    def _more(self) -> bool:
        if self._ended:
            return False
        # As much again as is waiting, so that a long value is not scanned over and over.
        waiting = len(self._text) - self._at
        try:
            piece = self._file.read(max(_CHUNK, waiting))
        except UnicodeDecodeError:
            raise TrailError("it holds bytes that are not UTF-8") from None
        self._ended = not piece
        self._text = self._text[self._at :] + piece
        self._at = 0
        return bool(piece)
