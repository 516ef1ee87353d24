"""YAML 1.2 core and JSON read with the place of every key and value kept.

Accepted is the plain part of YAML that people edit by hand: one document of mappings with text
keys, sequences and scalars, read by the YAML 1.2 core schema (so `no`, `on` and `12:30` stay
text). Refused, each with its place: anchors and aliases, tags, several documents, keys that are
not plain text, duplicate keys, nesting past `MAX_DEPTH`, files past `MAX_BYTES`, anything that is
not UTF-8, and what `engine.yamlstrict` names.

Source: YAML Ain't Markup Language, version 1.2.2, chapter 10.3 (core schema).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml

from engine.errors import DocumentError, Place, Problem
from engine.plaintext import quoted
from engine.records import dataclass
from engine.yamlstrict import Strictness, ended, old_line_break

MAX_BYTES = 10_000_000
MAX_DEPTH = 60

Path_ = tuple[str | int, ...]

_INT = re.compile(r"[-+]?[0-9]+\Z")
_OCTAL = re.compile(r"0o[0-7]+\Z")
_HEX = re.compile(r"0x[0-9a-fA-F]+\Z")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")
_NULL = frozenset(("", "~", "null", "Null", "NULL"))
_TRUE = frozenset(("true", "True", "TRUE"))
_FALSE = frozenset(("false", "False", "FALSE"))
_SPECIAL = re.compile(r"[-+]?\.(inf|Inf|INF)\Z|\.(nan|NaN|NAN)\Z")

_BaseLoader: type[Any] = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


class WrittenNumber(float):
    """A number that keeps how it was written, so that exact readers can start from the text."""

    __slots__ = ("written",)
    written: str

    def __new__(cls, written: str) -> WrittenNumber:
        number = super().__new__(cls, written)
        number.written = written
        return number

    def __reduce__(self) -> tuple[type[WrittenNumber], tuple[str]]:
        return (WrittenNumber, (self.written,))


class WrittenInt(int):
    """A whole number whose written form is not the usual one: `007`, `+5`, `0x1F`, `0o17`."""

    written: str

    def __new__(cls, written: str) -> WrittenInt:
        base = {"0o": 8, "0x": 16}.get(written[:2], 10)
        number = super().__new__(cls, written, base)
        number.written = written
        return number

    def __reduce__(self) -> tuple[type[WrittenInt], tuple[str]]:
        return (WrittenInt, (self.written,))


def as_written(value: object) -> str:
    """A scalar of a document as text, a number just as it was written."""
    return value.written if isinstance(value, WrittenNumber | WrittenInt) else str(value)


@dataclass(frozen=True, slots=True)
class Document:
    """The data of one file, and where each key and value of it stands.

    `data` is made of dict, list, str, int, `WrittenInt` (where `str` would not give back what was
    written), `WrittenNumber`, bool and None.
    """

    file: str
    data: Any
    values: dict[Path_, Place]
    keys: dict[Path_, Place]

    def place(self, *path: str | int) -> Place:
        """Where the value at `path` stands, or the nearest thing around it that has a place."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.values:
                return self.values[path[:end]]
        return Place(self.file, 1, 1)

    def key_place(self, *path: str | int) -> Place:
        """Where the key at `path` stands; for list items, where the item starts."""
        return self.keys.get(path) or self.place(*path)


def read_document(path: Path, shown_as: str | None = None) -> Document:
    """Read a YAML or JSON file.

    Raises `DocumentError` with file, line and column for anything that is not acceptable.
    """
    name = shown_as or str(path)
    top = Place(name, 1, 1)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise DocumentError(
                Problem("not-a-file", "this is a directory", top, "Name a YAML or JSON file.")
            )
        if size > MAX_BYTES:
            raise DocumentError(_too_large(top, size))
        with path.open("rb") as file:
            # A device has no size to check beforehand and may never end.
            raw = file.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise DocumentError(
            Problem("no-such-file", "there is no such file", top, "Check the name and the folder.")
        ) from error
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise DocumentError(
            Problem("unreadable-file", f"the file cannot be read: {reason}", top)
        ) from error
    return parse_document(raw, name)


def parse_document(raw: bytes | str, name: str) -> Document:
    """Parse the bytes or the text of a YAML or JSON document; see `read_document`."""
    top = Place(name, 1, 1)
    if len(raw) > MAX_BYTES:
        raise DocumentError(_too_large(top, len(raw)))
    text = _decode(raw, name) if isinstance(raw, bytes) else raw
    text = ended(text.removeprefix("\ufeff"))
    old = old_line_break(text)
    if old is not None:
        raise DocumentError(_forbidden(text[old], _place_of_offset(name, text, old)))
    return _Reader(name).read(text)


def _too_large(place: Place, size: int) -> Problem:
    return Problem(
        "file-too-large",
        f"the file has {size:,} bytes; at most {MAX_BYTES:,} are read",
        place,
        "Split it, or check that it is the file you meant.",
    )


def _decode(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before) - (before.rfind(b"\n") + 1) + 1
        raise DocumentError(
            Problem(
                "not-utf-8",
                f"byte 0x{raw[error.start]:02x} is not UTF-8 text",
                Place(name, line, column),
                "Save the file as UTF-8.",
            )
        ) from error


class _Reader:
    def __init__(self, name: str) -> None:
        self._name = name
        self._values: dict[Path_, Place] = {}
        self._keys: dict[Path_, Place] = {}
        self._problems: list[Problem] = []

    def read(self, text: str) -> Document:
        # Events, not nodes: depth and aliases are refused before anything is built from them.
        try:
            loader = _BaseLoader(text)
            try:
                data = self._document(self._events(loader, Strictness(text, self._add)))
            finally:
                loader.dispose()
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            raise DocumentError(
                Problem("not-yaml", _plain(error), self._place(mark), _yaml_fix(error))
            ) from error
        except yaml.reader.ReaderError as error:
            place = _place_of_offset(self._name, text, error.position)
            raise DocumentError(_forbidden(error.character, place)) from error
        if self._problems:
            raise DocumentError(self._problems)
        return Document(self._name, data, self._values, self._keys)

    def _events(self, loader: Any, strictness: Strictness) -> Iterator[Any]:
        while loader.check_event():
            event = loader.get_event()
            strictness.see(event)
            yield event

    def _document(self, events: Iterator[Any]) -> Any:
        next(events)  # stream start
        event = next(events)
        if isinstance(event, yaml.StreamEndEvent):
            self._values[()] = Place(self._name, 1, 1)
            return None
        data = self._value(events, next(events), ())
        next(events)  # document end
        after = next(events)
        if not isinstance(after, yaml.StreamEndEvent):
            self._refuse(
                "several-documents",
                "a second document starts here",
                after.start_mark,
                "Keep one document in a file; remove the `---`.",
            )
        return data

    def _value(self, events: Iterator[Any], event: Any, path: Path_) -> Any:
        place = self._place(event.start_mark)
        self._values[path] = place
        if isinstance(event, yaml.AliasEvent):
            self._refuse(
                "alias",
                f"`*{event.anchor}` repeats another part of the file",
                event.start_mark,
                "Anchors and aliases are not read here; write the value out.",
            )
            return None
        if event.anchor is not None:
            self._refuse(
                "anchor",
                f"`&{event.anchor}` names a part of the file",
                event.start_mark,
                "Anchors and aliases are not read here; remove the `&` name.",
            )
        if event.tag is not None:
            self._refuse(
                "tag",
                f"the tag `{event.tag}` is not read here",
                event.start_mark,
                "Remove the tag.",
            )
        if len(path) > MAX_DEPTH:
            raise DocumentError(
                Problem(
                    "too-deep",
                    f"more than {MAX_DEPTH} levels inside each other",
                    place,
                    "Flatten this part of the file.",
                )
            )
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event)
        if isinstance(event, yaml.SequenceStartEvent):
            items: list[Any] = []
            event = next(events)
            while not isinstance(event, yaml.SequenceEndEvent):
                items.append(self._value(events, event, (*path, len(items))))
                event = next(events)
            return items
        return self._mapping(events, path)

    def _mapping(self, events: Iterator[Any], path: Path_) -> dict[str, Any]:
        found: dict[str, Any] = {}
        event = next(events)
        while not isinstance(event, yaml.MappingEndEvent):
            if not isinstance(event, yaml.ScalarEvent) or not (event.value or event.style):
                raise DocumentError(
                    Problem(
                        "key-not-text",
                        "a key must be plain text",
                        self._place(event.start_mark),
                        "Put text before the colon; quote it if it starts with `{`, `[` or `*`.",
                    )
                )
            if event.anchor is not None or event.tag is not None:
                self._refuse(
                    "anchor", "anchors and tags are not read here", event.start_mark, "Remove it."
                )
            key, key_place = str(event.value), self._place(event.start_mark)
            inner = (*path, key)
            if key == "<<" and not event.style:
                self._refuse(
                    "merge-key", "merge keys are not read here", event.start_mark, "Write it out."
                )
            if key in found:
                first = self._keys[inner]
                self._refuse(
                    "duplicate-key",
                    f"the key {quoted(key)} stands twice in the same mapping",
                    event.start_mark,
                    f"It first stands at line {first.line}; keep one of them.",
                )
                self._value(events, next(events), (*path, f"{key} (again)"))
            else:
                self._keys[inner] = key_place
                found[key] = self._value(events, next(events), inner)
            event = next(events)
        return found

    def _scalar(self, event: Any) -> Any:
        text = str(event.value)
        if event.style:
            return text
        if text in _NULL:
            return None
        if text in _TRUE or text in _FALSE:
            return text in _TRUE
        if len(text) > 300:
            return text
        if _INT.match(text) or _OCTAL.match(text) or _HEX.match(text):
            number = WrittenInt(text)
            return int(number) if str(int(number)) == text else number
        if _FLOAT.match(text) and math.isfinite(float(text)):
            return WrittenNumber(text)
        if _FLOAT.match(text) or _SPECIAL.match(text):
            self._refuse(
                "not-a-number",
                f"`{text}` is not a number that can be worked with",
                event.start_mark,
                "Write an ordinary number.",
            )
        return text

    def _place(self, mark: Any) -> Place:
        if mark is None:
            return Place(self._name, 1, 1)
        return Place(self._name, mark.line + 1, mark.column + 1)

    def _refuse(self, code: str, message: str, mark: Any, fix: str) -> None:
        self._add(code, message, mark.line + 1, mark.column + 1, fix)

    def _add(self, code: str, message: str, line: int, column: int, fix: str) -> None:
        self._problems.append(Problem(code, message, Place(self._name, line, column), fix))
        if len(self._problems) >= 100:
            raise DocumentError(self._problems)


def _forbidden(character: object, place: Place) -> Problem:
    point = character if isinstance(character, int) else ord(str(character)[:1] or "\0")
    return Problem(
        "forbidden-character",
        f"the character U+{point:04X} is not allowed in YAML as it is read here",
        place,
        "Remove it.",
    )


def _place_of_offset(name: str, text: str, offset: int) -> Place:
    before = text[:offset]
    return Place(name, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)


def _plain(error: yaml.MarkedYAMLError) -> str:
    what = (error.problem or "the text cannot be read").strip()
    context = f" {error.context}" if error.context else ""
    return f"not readable as YAML: {what}{context}"


def _yaml_fix(error: yaml.MarkedYAMLError) -> str:
    problem = error.problem or ""
    if ("cannot start any token" in problem and "\\t" in problem) or "tab" in problem:
        return "Indent with spaces, not tabs."
    if "mapping values are not allowed" in problem:
        return "Quote a text that contains `: `, or check the indentation of this line."
    if "did not find expected" in problem:
        return "Check the indentation, and that quotes and brackets are closed."
    return "Check the line above as well: quotes, brackets, indentation."
