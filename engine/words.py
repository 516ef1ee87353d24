"""The program's own sentences, in the language of whoever reads them.

English sentences stand in the code and are looked up as they are, as gettext does it; what a
language lacks stays English. Which language is spoken belongs to the context, so that functions
far from any screen need not be handed it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, wraps
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

from engine.records import dataclass, field

ENGLISH = "en"
LANGUAGES = "languages"
"""The folder of a rule set that holds a folder for each language; its digest leaves it out."""

SENTENCES = "sentences.yaml"
MARK = f"[{ENGLISH}]"
"""Stands before an English text where one in another language was asked for."""


@dataclass(frozen=True, slots=True)
class Tongue:
    """A language as it is spoken: its sentences by the English ones, and how it writes numbers.

    `nouns` hold the form for one and the form for several, `answers` the words typed for `yes`,
    `no`, `unknown`, `every` and `rest`, `commands` those for commands of the chat. `note` is what
    readers are told of texts that nobody has checked.
    """

    id: str
    sentences: Mapping[str, str] = field(default_factory=dict)
    nouns: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    answers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    commands: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    comma: bool = False
    note: str | None = None


_spoken: ContextVar[Tongue | None] = ContextVar("spoken", default=None)


def spoken() -> Tongue | None:
    """The language spoken now; None for English."""
    return _spoken.get()


def language() -> str:
    """The short name of the language spoken now."""
    tongue = _spoken.get()
    return ENGLISH if tongue is None else tongue.id


def language_note() -> str | None:
    """What readers are told of texts in the language spoken that nobody has checked."""
    tongue = _spoken.get()
    return None if tongue is None else tongue.note


def speak(tongue: Tongue | None) -> None:
    """Speak a language from now on; None for English."""
    _spoken.set(tongue)


@contextmanager
def speaking(tongue: Tongue | None) -> Iterator[None]:
    """Speak a language within."""
    before = _spoken.set(tongue)
    try:
        yield
    finally:
        _spoken.reset(before)


class Speaks(Protocol):
    """What knows which language it speaks, such as a rule set."""

    @property
    def tongue(self) -> Tongue | None: ...


Rest = ParamSpec("Rest")
Given = TypeVar("Given")
Speaker = TypeVar("Speaker", bound=Speaks)


def in_its_tongue(
    function: Callable[Concatenate[Speaker, Rest], Given],
) -> Callable[Concatenate[Speaker, Rest], Given]:
    """A function that speaks the language of its first argument, whatever is spoken around it."""

    @wraps(function)
    def within(speaker: Speaker, /, *args: Rest.args, **named: Rest.kwargs) -> Given:
        with speaking(speaker.tongue):
            return function(speaker, *args, **named)

    return within


def say(sentence: str, /, **parts: object) -> str:
    """A sentence in the language spoken, with `{parts}` put in."""
    tongue = _spoken.get()
    if tongue is not None:
        sentence = tongue.sentences.get(sentence, sentence)
    return sentence.format(**parts) if parts else sentence


def sentence(text: str) -> str:
    """Marks a text that is said elsewhere by `say`, so that it is looked for in every language."""
    return text


def within(title: str) -> str:
    """A title as it stands inside a sentence: names and abbreviations in it keep their capitals."""
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """`1 panel`, `2 panels`: a number of things in the language spoken."""
    tongue = _spoken.get()
    forms = tongue.nouns.get(noun) if tongue is not None else None
    one, several = forms or (noun, plural or f"{noun}s")
    return f"{number} {one if number == 1 else several}"


def typed_for(meant: str) -> tuple[str, ...]:
    """The words of the language spoken that may be typed for `yes`, `no`, `unknown` and so on."""
    tongue = _spoken.get()
    return () if tongue is None else tongue.answers.get(meant, ())


def commands_for(name: str) -> tuple[str, ...]:
    """The words of the language spoken for a command of the chat; none in English."""
    tongue = _spoken.get()
    return () if tongue is None else tongue.commands.get(name, ())


def numeral(text: str) -> str:
    """A number written with a decimal point, as the language spoken writes it."""
    tongue = _spoken.get()
    return text.replace(".", ",") if tongue is not None and tongue.comma else text


def separator() -> str:
    """What stands between numbers in a row; a comma would run into those with decimals."""
    tongue = _spoken.get()
    return "; " if tongue is not None and tongue.comma else ", "


def tongues() -> list[str]:
    """The languages the program itself speaks, apart from English."""
    from engine.supplied import languages_folder

    return sorted(path.parent.name for path in languages_folder().glob(f"*/{SENTENCES}"))


@cache
def tongue(id: str) -> Tongue:
    """The program's own sentences in a language; an empty tongue where it has none.

    Raises RuleSetError where its file is not as it should be.
    """
    from engine.document import read_document
    from engine.errors import RuleSetError
    from engine.ruleset.schema import shape_problems
    from engine.supplied import languages_folder

    file = languages_folder() / id / SENTENCES
    if not file.is_file():
        return Tongue(id)
    document = read_document(file, f"languages/{id}/{SENTENCES}")
    found = [problem for _, problem in shape_problems(document, "sentences")]
    if found:
        raise RuleSetError(found)
    data: dict[str, Any] = document.data
    return Tongue(
        id,
        sentences=dict(data.get("sentences") or {}),
        nouns={noun: (forms[0], forms[1]) for noun, forms in (data.get("nouns") or {}).items()},
        answers=_listed(data, "answers"),
        commands=_listed(data, "commands"),
    )


def _listed(data: Mapping[str, Any], key: str) -> dict[str, tuple[str, ...]]:
    return {meant: tuple(words) for meant, words in (data.get(key) or {}).items()}
