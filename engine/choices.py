"""Finds the choice that a word stands for, or says which words would be right."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from engine.errors import InputError, Place, Problem
from engine.plaintext import quoted, unmarked
from engine.ruleset.model import Choice, FactKind, FactSpec
from engine.words import say, sentence, spoken, typed_for

YES, NO = "yes", "no"

# `true` and `false` are how JSON, and YAML files kept by machines, spell yes and no.
_YES_NO = (Choice(YES, sentence("Yes"), ("true",)), Choice(NO, sentence("No"), ("false",)))
_TYPED = {"y": YES, "yep": YES, "yeah": YES, "n": NO, "nope": NO}

_BETWEEN = re.compile(r"\s*[,;+&/|\n]\s*")
_MAYBE, _SURELY = 0.6, 0.8
"""How alike a word is to a choice that is named, and to one that may be offered by itself."""

_AND = re.compile(r"\s+and\s+", re.IGNORECASE)


def choices_of(spec: FactSpec) -> tuple[Choice, ...]:
    """The choices of a yes-no, choice or set fact; `yes` and `no` always know `true`, `false`."""
    if spec.kind is not FactKind.YES_NO:
        return spec.choices
    named = {choice.id: choice for choice in spec.choices}
    return tuple(
        Choice(each.id, named[each.id].text, (*named[each.id].also, *each.also))
        if each.id in named
        else Choice(each.id, say(each.text), each.also)
        for each in _YES_NO
    )


def choice_words(spec: FactSpec) -> Mapping[str, str]:
    """Every word that may be typed for `spec`, with the choice it stands for; ids come first.

    Empty for facts that are not chosen from a list.
    """
    words = {choice.id: choice.id for choice in choices_of(spec)}
    for choice in choices_of(spec):
        for word in choice.also:
            words.setdefault(word, choice.id)
    if spec.kind is FactKind.YES_NO:
        for word, meant in _typed().items():
            words.setdefault(word, meant)
    return words


def _typed() -> dict[str, str]:
    """What may be typed for yes and no, in English and in the language spoken."""
    spoken = {unmarked(word): meant for meant in (YES, NO) for word in typed_for(meant)}
    return {**spoken, **_TYPED}


def find_choice(spec: FactSpec, word: str, place: Place | None, *, typed: bool) -> str:
    """The id of the choice that `word` stands for.

    Case, hyphens and doubled spaces do not count. `typed` lets the beginning of a word stand for
    the whole, and `y` and `n` for yes and no. Raises InputError with the words that would be right.
    """
    found = _matching(spec, word, typed=typed)
    if len(found) == 1:
        return found[0]
    if found:
        meant = say(" or ").join(_marked(spec, each) for each in found)
        raise InputError(
            Problem(
                "ambiguous-choice",
                say(
                    "{word} can mean {meant} for `{id}`",
                    word=quoted(word),
                    meant=meant,
                    id=called(spec, typed=typed),
                ),
                place,
                say("Write more of the word."),
            )
        )
    near = _nearest(spec, word, _MAYBE)
    raise InputError(
        Problem(
            "unknown-choice",
            say("{word} is not a value of `{id}`", word=quoted(word), id=called(spec, typed=typed)),
            place,
            " ".join(filter(None, (_did_you_mean(spec, near), _expected(spec, typed=typed)))),
        ),
        _nearest(spec, word, _SURELY),
    )


def split_members(spec: FactSpec, text: str, *, typed: bool) -> list[str]:
    """The members of a set written in one text: `chips, fading and peeling`.

    A word that itself holds a separator (`wear and tear`) is kept whole.
    """
    if _matching(spec, text, typed=False):
        return [text]
    members: list[str] = []
    for part in _BETWEEN.split(text.strip()):
        known = _matching(spec, part, typed=typed)
        members += [part] if known else _AND.split(part)
    return [member for member in members if member]


def listed(spec: FactSpec) -> str:
    """The choices of `spec` as a list for a message."""
    return ", ".join(f"`{_shown(choice)}`" for choice in choices_of(spec))


def called(spec: FactSpec, *, typed: bool) -> str:
    """What a message calls a fact: its id, as it stands in a job file.

    Where an answer is `typed`, and in another language than English, it is the title.
    """
    return spec.title if typed or spoken() is not None else spec.id


def _marked(spec: FactSpec, id: str) -> str:
    return next(f"`{_shown(choice)}`" for choice in choices_of(spec) if choice.id == id)


def _shown(choice: Choice) -> str:
    return choice.id if spoken() is None else choice.text


def _expected(spec: FactSpec, *, typed: bool) -> str:
    unknown = say("don't know") if typed else "unknown"
    return say("It takes {listed} or `{unknown}`.", listed=listed(spec), unknown=unknown)


def _matching(spec: FactSpec, word: str, *, typed: bool) -> list[str]:
    wanted = unmarked(word)
    if not wanted:
        return []
    choices = choices_of(spec)
    by_id = [choice.id for choice in choices if unmarked(choice.id) == wanted]
    if by_id:
        return by_id
    if typed and spec.kind is FactKind.YES_NO and wanted in _typed():
        return [_typed()[wanted]]
    by_word = [
        choice.id
        for choice in choices
        if wanted in {unmarked(other) for other in (choice.text, *choice.also)}
    ]
    if by_word or not typed or spec.kind is FactKind.YES_NO:
        return by_word
    return [
        choice.id
        for choice in choices
        if any(unmarked(other).startswith(wanted) for other in (choice.id, *choice.also))
    ]


def _nearest(spec: FactSpec, word: str, cutoff: float) -> tuple[str, ...]:
    by_word = _by_folded_word(choices_of(spec))
    wanted = unmarked(word)[:80]
    begun = [each for each in by_word if wanted and each.startswith(wanted)]
    near = begun[:3] or get_close_matches(wanted, sorted(by_word), n=3, cutoff=cutoff)
    return tuple(dict.fromkeys(by_word[each] for each in near))


def _did_you_mean(spec: FactSpec, ids: tuple[str, ...]) -> str | None:
    words = say(" or ").join(_marked(spec, each) for each in ids)
    return say("Did you mean {words}?", words=words) if ids else None


def _by_folded_word(choices: Iterable[Choice]) -> dict[str, str]:
    words: dict[str, str] = {}
    for choice in choices:
        for word in (choice.id, *choice.also):
            words.setdefault(unmarked(word), choice.id)
    return words
