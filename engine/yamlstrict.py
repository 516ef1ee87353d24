"""What the YAML parser lets pass although YAML 1.2 forbids it, or reads as YAML 1.1 did.

The parser is libyaml's, which is lenient in places; a text it would read one way and a strict
reader another way, or not at all, is refused here, so that a file means the same everywhere.

Source: YAML Ain't Markup Language, version 1.2.2, chapters 5.4 (line breaks), 6.1 (indentation),
6.6 (comments), 6.8 (directives), 7.3.3 (plain scalars) and 8.1 (block scalars).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import yaml

Refuse = Callable[[str, str, int, int, str], None]
"""Takes a problem: code, message, line and column (from 1), and what would be right."""

_COMMENT = re.compile(r"#[^\r\n]*")
_QUESTION = re.compile(r"\?(?=\S)")
_HEADER = re.compile(r"[|>](?:[1-9][-+]?|[-+][1-9]?)?(?:[ \t]+#.*|[ \t]*)")
_LINES = re.compile(r"\r\n|\r|\n")
_NEXT_COMMENT = re.compile(r"( *)#")
# Line breaks to YAML 1.1, ordinary characters to YAML 1.2: the same file would mean two things.
_OLD_BREAKS = re.compile("[\x85\u2028\u2029]")
_BLANKS_AT_END = re.compile(r"(?:\A|[\r\n])[ \t]+\Z")


def old_line_break(text: str) -> int | None:
    """Where the first character stands that only YAML 1.1 takes for a line break."""
    found = _OLD_BREAKS.search(text)
    return found.start() if found else None


def ended(text: str) -> str:
    """`text` with a last line of nothing but blanks ended, as the standard reads it."""
    return f"{text}\n" if _BLANKS_AT_END.search(text) else text


class Strictness:
    """Looks at the parser's events, and at the text between them, one after the other."""

    def __init__(self, text: str, refuse: Refuse) -> None:
        self._text = text
        self._refuse = refuse
        self._at = 0
        self._indents: list[int] = []
        self._flows: list[Any] = []
        self._empty_block: Any = None

    def see(self, event: Any) -> None:
        """Refuses what is wrong with `event` or between it and the one before."""
        start, end = event.start_mark, event.end_mark
        self._between(self._at, start)
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, yaml.SequenceStartEvent | yaml.MappingStartEvent):
            if event.flow_style:
                self._flows.append(event)
            else:
                self._indents.append(start.column)
        elif isinstance(event, yaml.SequenceEndEvent | yaml.MappingEndEvent):
            if self._flows:
                opened = self._flows.pop().start_mark
                if not self._flows:
                    self._indented(opened, end, comments=True)
            else:
                self._indents.pop()
        elif isinstance(event, yaml.DocumentStartEvent):
            self._comments(start.index, end.index, start)
            self._version(event)
        # A pair without braces begins at its `?`, which belongs to what is looked at next.
        asked = self._flows and self._text.startswith("?", start.index)
        self._at = start.index if asked and end.index == start.index + 1 else end.index

    def _between(self, begin: int, mark: Any) -> None:
        end = mark.index
        if self._empty_block is not None and end > begin:
            self._after_empty_block(begin)
        if "#" in self._text[begin:end]:
            self._comments(begin, end, mark)
        if self._flows:
            bare = _COMMENT.sub("", self._text[begin:end])
            # The character after the last `?` of the stretch is the first of what follows it.
            if _QUESTION.search(bare + self._text[end : end + 1]):
                self._add(
                    "question-mark",
                    "inside brackets a text that starts with `?` is read in two ways",
                    mark,
                    "Quote it, or put a space after the `?` of an explicit key.",
                )

    def _comments(self, begin: int, end: int, mark: Any) -> None:
        for found in _COMMENT.finditer(self._text, begin, end):
            at = found.start()
            if at and self._text[at - 1] not in " \t\r\n":
                line, column = self._position(at, mark)
                self._refuse(
                    "comment-without-space",
                    "a `#` right after something else starts no comment",
                    line,
                    column,
                    "Put a space before the `#`.",
                )

    def _position(self, at: int, mark: Any) -> tuple[int, int]:
        """Line and column of a place at or before `mark`."""
        head = self._text[at : mark.index]
        line = mark.line + 1 - len(_LINES.findall(head))
        before = max(self._text.rfind("\n", 0, at), self._text.rfind("\r", 0, at))
        return line, at - before

    def _scalar(self, event: Any) -> None:
        start, end = event.start_mark, event.end_mark
        style = event.style or ""
        if style in ("'", '"'):
            self._indented(start, end, comments=False)
        elif style in ("|", ">"):
            self._block(event)
        elif event.value == "-":
            self._add(
                "lone-dash", "a `-` by itself is no text here", start, "Quote it, or take it out."
            )

    def _block(self, event: Any) -> None:
        start, end = event.start_mark, event.end_mark
        source = self._text[start.index : end.index]
        header, *body = _LINES.split(source[source.find(event.style) :])
        if not _HEADER.fullmatch(header):
            self._add(
                "comment-without-space",
                f"something stands right after the `{event.style}`",
                start,
                "Put a space before the `#`.",
            )
        if not any(line.strip(" ") for line in body):
            self._empty_block = event

    def _after_empty_block(self, begin: int) -> None:
        event, self._empty_block = self._empty_block, None
        found = _NEXT_COMMENT.match(self._text, begin)
        if found and len(found[1]) > self._indent():
            self._add(
                "unclear-block",
                f"the text after `{event.style}` is empty, and the indented `#` line below it may "
                "have been meant as its text",
                event.start_mark,
                "Indent the text no less than the blank lines above it, or take the comment out.",
            )

    def _indented(self, start: Any, end: Any, *, comments: bool) -> None:
        """Refuses a line that goes on with what an outer line began, but is not indented more."""
        if end.line == start.line:
            return
        indent = self._indent()
        lines = _LINES.split(self._text[start.index : end.index])
        for number, line in enumerate(lines[1:], start.line + 2):
            bare = line.lstrip(" ")
            spaces = len(line) - len(bare)
            bare = bare.lstrip("\t")
            if spaces > indent or not bare.strip() or (comments and bare.startswith("#")):
                continue
            self._refuse(
                "bad-indentation",
                "this line belongs to the one it goes on from, but is not indented more",
                number,
                len(line) - len(bare) + 1,
                "Put it further to the right, with spaces.",
            )
            return

    def _version(self, event: Any) -> None:
        if event.version not in (None, (1, 2)):
            shown = ".".join(str(part) for part in event.version)
            self._add(
                "yaml-version",
                f"the file says it is YAML {shown}",
                event.start_mark,
                "YAML 1.2 is read here; take the `%YAML` line out.",
            )

    def _indent(self) -> int:
        return self._indents[-1] if self._indents else -1

    def _add(self, code: str, message: str, mark: Any, fix: str) -> None:
        self._refuse(code, message, mark.line + 1, mark.column + 1, fix)
