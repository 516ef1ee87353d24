"""What the chat needs of a terminal: a line with completion, a bottom line, plain output."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol, TextIO

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.filters import Condition, has_selection
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.history import InMemoryHistory
from prompt_toolkit.input import Input
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.output import Output
from prompt_toolkit.selection import SelectionState
from prompt_toolkit.shortcuts import CompleteStyle

from cli.chat.words import COMMANDS
from cli.output.safe import neutral_lines

_KEEPING = ("backspace", "delete", "tab", *(f"c-{letter}" for letter in "abefhkuwt"))
"""Keys that change what stands in the line; the arrow keys do so anyway."""


class Screen(Protocol):
    """Where the chat is held.

    `prefills`: a default stands in the line, to be sent, typed over or changed.
    """

    @property
    def prefills(self) -> bool: ...

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        """One line from the person. Raises EOFError or KeyboardInterrupt."""

    def say(self, text: str = "") -> None:
        """One line to the person."""


def writing(out: TextIO) -> Callable[[str], None]:
    """Writes lines of the chat, with what could do anything to a screen spelled out."""

    def write(text: str) -> None:
        out.write(neutral_lines(text) + "\n")
        out.flush()

    return write


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
        self._standing = False
        self._session: PromptSession[str] = PromptSession(
            history=InMemoryHistory(),
            completer=_Words(lambda: self._offered),
            complete_while_typing=False,
            complete_style=CompleteStyle.READLINE_LIKE if plain else CompleteStyle.COLUMN,
            bottom_toolbar=None if plain else self._toolbar,
            key_bindings=self._typing_over(),
            input=input,
            output=output,
        )

    def _toolbar(self) -> FormattedText:
        return FormattedText([("", self._bottom)])

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        self._offered, self._bottom = words, bottom
        return self._session.prompt(prompt, default=default, pre_run=self._select_default)

    def _select_default(self) -> None:
        """Mark what stands in the line, so that typing takes its place."""
        buffer = self._session.default_buffer
        self._standing = bool(buffer.text)
        if self._standing:
            buffer.selection_state = SelectionState(original_cursor_position=0)
            buffer.selection_state.enter_shift_mode()

    def _typing_over(self) -> KeyBindings:
        """Keys that keep the default and change it; any letter takes its place."""
        bindings = KeyBindings()
        standing = Condition(lambda: self._standing) & has_selection

        def keep(event: KeyPressEvent) -> None:
            self._standing = False
            event.current_buffer.exit_selection()
            event.key_processor.feed(event.key_sequence[0], first=True)

        def replace(event: KeyPressEvent) -> None:
            self._standing = False
            event.current_buffer.cut_selection()
            event.key_processor.feed(event.key_sequence[0], first=True)

        for key in _KEEPING:
            bindings.add(key, filter=standing)(keep)
        for key in (Keys.BracketedPaste, Keys.ControlD):
            bindings.add(key, filter=standing)(replace)
        return bindings

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
