"""Saying things in the chat, wrapped to the window."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from cli.chat.screen import Screen
from cli.chat.turns import Settlement
from engine.errors import InputError, PrepwrightError


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
                self._say(f"=> {named}: {treatment}. {why}")
            else:
                self._say(f"=> {named}: open again.")

    def _lines(self, lines: Sequence[str]) -> None:
        for line in lines:
            indent = line[: len(line) - len(line.lstrip())]
            self._say(line.strip(), indent=indent)

    def _say(self, text: str, indent: str = "") -> None:
        if not text:
            self._screen.say("")
            return
        for line in textwrap.wrap(
            text,
            self._width,
            initial_indent=indent,
            subsequent_indent=indent + "  ",
            break_on_hyphens=False,
        ):
            self._screen.say(line)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")
