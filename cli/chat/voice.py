"""Saying things in the chat, wrapped to the window."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from cli.chat.screen import Screen
from cli.chat.turns import Settlement
from engine.errors import InputError, PrepwrightError
from engine.words import say

_QUOTED = re.compile(r"`[^`]*`")
_KEEP = "\x1f"
"""Stands for a blank at which no line is broken."""


class Voice:
    """Says lines, refusals and what was settled."""

    def __init__(self, screen: Screen, width: int) -> None:
        self._screen = screen
        self._width = max(width, 20)

    def _refuse(self, error: PrepwrightError) -> None:
        if not isinstance(error, InputError):
            self._say(_sentence(error.format_message()))
            return
        for problem in error.problems:
            self._say(_sentence(problem.message))
            if problem.fix:
                self._say(problem.fix, indent="  ")

    def _tell(self, settlements: Sequence[Settlement]) -> None:
        same: dict[tuple[str | None, str], list[str]] = {}
        for settlement in settlements:
            if settlement.treatment or settlement.was:
                key = (settlement.treatment, settlement.why)
                same.setdefault(key, []).append(settlement.panel)
        for (treatment, why), panels in same.items():
            named = ", ".join(panels)
            if treatment:
                self._say(f"=> {named}: {self._treated(treatment)}. {why}")
            else:
                self._say(say("=> {named}: open again.", named=named))

    def _treated(self, treatment: str) -> str:
        return treatment

    def _lines(self, lines: Sequence[str]) -> None:
        for line in lines:
            indent = line[: len(line) - len(line.lstrip())]
            self._say(line.strip(), indent=indent)

    def _say(self, text: str, indent: str = "", hang: int = 2) -> None:
        """Say prose in lines that fit, each after the first further in by `hang`."""
        if not text:
            self._screen.say("")
            return
        for line in textwrap.wrap(
            _QUOTED.sub(self._whole, text),
            self._width,
            initial_indent=indent,
            subsequent_indent=indent + " " * hang,
            break_on_hyphens=False,
        ):
            self._screen.say(line.replace(_KEEP, " "))

    def _whole(self, match: re.Match[str]) -> str:
        """What is to be typed is kept on one line, where it is short enough for one."""
        typed = match[0]
        return typed.replace(" ", _KEEP) if len(typed) <= self._width // 2 else typed


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")
