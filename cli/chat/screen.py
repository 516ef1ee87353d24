"""What the chat needs of a terminal: a line with completion, a bottom line, plain output."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.history import InMemoryHistory
from prompt_toolkit.input import Input
from prompt_toolkit.output import Output
from prompt_toolkit.shortcuts import CompleteStyle

from cli.chat.words import COMMANDS


class Screen(Protocol):
    """Where the chat is held. `prefills`: a default stands in the line, to be changed or sent."""

    @property
    def prefills(self) -> bool: ...

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        """One line from the person. Raises EOFError or KeyboardInterrupt."""

    def say(self, text: str = "") -> None:
        """One line to the person."""


class _Words(Completer):
    """Completes the word being typed from what may be answered, and commands at the start."""

    def __init__(self, words: Callable[[], Sequence[str]]) -> None:
        self._words = words

    def get_completions(
        self, document: Document, complete_event: CompleteEvent
    ) -> Iterable[Completion]:
        before = document.text_before_cursor
        start = max(before.rfind(mark) for mark in ",;:") + 1
        typed = before[start:].lstrip().lower()
        if not typed and not complete_event.completion_requested:
            return
        offered = [*self._words(), *(COMMANDS if start == 0 else ())]
        for word in dict.fromkeys(offered):
            if word.lower().startswith(typed):
                yield Completion(word, start_position=-len(typed))


class Terminal:
    """The chat on a terminal through prompt_toolkit. `plain` leaves colour and bottom line out."""

    prefills = True

    def __init__(
        self,
        say: Callable[[str], None],
        *,
        plain: bool,
        input: Input | None = None,
        output: Output | None = None,
    ) -> None:
        self._say = say
        self._plain = plain
        self._offered: Sequence[str] = ()
        self._bottom = ""
        self._session: PromptSession[str] = PromptSession(
            history=InMemoryHistory(),
            completer=_Words(lambda: self._offered),
            complete_while_typing=False,
            complete_style=CompleteStyle.READLINE_LIKE if plain else CompleteStyle.COLUMN,
            bottom_toolbar=None if plain else self._toolbar,
            input=input,
            output=output,
        )

    def _toolbar(self) -> FormattedText:
        return FormattedText([("", self._bottom)])

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        self._offered, self._bottom = words, bottom
        return self._session.prompt(prompt, default=default)

    def say(self, text: str = "") -> None:
        self._say(text)


class Piped:
    """The chat over a pipe or a file: lines in, lines out, no terminal control."""

    prefills = False

    def __init__(self, read: Callable[[], str], say: Callable[[str], None]) -> None:
        self._read = read
        self._say = say

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        line = self._read()
        if not line:
            raise EOFError
        answer = line.rstrip("\r\n")
        self._say(f"{prompt}{answer}")
        return answer

    def say(self, text: str = "") -> None:
        self._say(text)
