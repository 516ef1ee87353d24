"""Turns what stands in a job file, or what a person types, into a told fact.

A value is taken only where it can mean one thing. Everything else is refused with what was found
and what would be right.
"""

from __future__ import annotations

from fractions import Fraction

from engine.choices import called, choice_words, choices_of
from engine.errors import InputError, Place, Problem, did_you_mean
from engine.facts import FactValue, Told
from engine.plaintext import folded, quoted, unmarked
from engine.quantity import Kind, show
from engine.ruleset.model import FactKind, FactSpec
from engine.value_reader import (
    MAX_READINGS_TEXT,
    UNKNOWN,
    ValueReader,
    Where,
    check_text,
    spell,
    takes,
)
from engine.words import say, separator, spoken, typed_for

__all__ = [
    "MAX_NAME",
    "UNKNOWN",
    "choice_words",
    "read_answer",
    "read_text",
    "read_value",
    "show_value",
]

MAX_NAME = 200
_MAX_PANEL_NAME = 80
_NOT_PANELS = ("car", "shop")

_DONT_KNOW = frozenset(
    (
        "unknown", "don't know", "dont know", "do not know", "i don't know", "i dont know",
        "i do not know", "dk", "idk", "?", "??", "not sure", "unsure", "i'm not sure",
        "im not sure", "no idea", "not known", "can't tell", "cant tell", "cannot tell",
    )
)  # fmt: skip

_PROVENANCE = ("value", "by", "at", "with", "written")


def read_value(
    spec: FactSpec, raw: object, place: Place | None = None, where: Where | None = None
) -> Told:
    """The told fact that `raw`, a value from a job file, stands for.

    `raw` is what `engine.document` reads: text, a whole number, a `WrittenNumber`, yes or no as a
    bool, a list, or a mapping with `value` and who told it (`by`), when (`at`) and measured with
    what (`with`). `where` gives places inside `raw`; without it every problem is at `place`.
    Raises InputError with everything that is wrong with the value.
    """
    look = where or (lambda *_: place)
    if isinstance(raw, dict):
        return _with_provenance(spec, raw, look)
    return ValueReader(spec, look, typed=False).read(raw)


def read_answer(spec: FactSpec, text: str) -> Told:
    """The told fact that `text`, typed in answer to a question, stands for.

    Besides what a job file may hold: `don't know` and its like, `y` and `n`, the beginning of a
    word. Raises InputError with one message.
    """
    reader = ValueReader(spec, lambda *_: None, typed=True)
    plain = folded(text.replace("’", "'")).rstrip(" .!")
    if plain in _DONT_KNOW or unmarked(plain) in map(unmarked, typed_for("unknown")):
        return Told(None, reader.text(text))
    return reader.read(text)


def show_value(spec: FactSpec, value: FactValue | None, unit: str | None = None) -> str:
    """`value` in words: `galvanised steel`, `chips, fading`, `4.9, 5.1, 5.0/5.2 mil`.

    Numbers are written in `unit`, or the canonical unit of their kind. What is not rounded reads
    back to the same value. Raises QuantityError where `unit` is no unit of the kind.
    """
    if value is None:
        return UNKNOWN
    if isinstance(value, Fraction):
        return show(value, spec.quantity or Kind.NUMBER, unit)
    if isinstance(value, frozenset):
        ordered = [choice.id for choice in choices_of(spec) if choice.id in value]
        chosen = ordered + sorted(value.difference(ordered))
        return ", ".join(_words(spec, each) for each in chosen)
    if isinstance(value, tuple):
        return _show_spots(value, spec.quantity or Kind.NUMBER, unit)
    return value if spec.kind is FactKind.TEXT else _words(spec, value)


def read_text(
    raw: object,
    what: str,
    place: Place | None = None,
    *,
    longest: int = MAX_NAME,
    lines: bool = False,
) -> str:
    """`raw` as it stands, once it is found to be text that is safe to keep.

    `lines` lets it hold line breaks. Raises InputError; `what` names the text in the message.
    """
    if not isinstance(raw, str):
        found = "nothing" if raw is None else spell(raw)
        fix = (
            say('Put it in quotes: "{found}".', found=found)
            if isinstance(raw, int | float)
            else say("Write text.")
        )
        raise InputError(
            Problem(
                "not-text",
                say("{what} must be text, not {found}", what=what, found=found),
                place,
                fix,
            )
        )
    if not raw.strip():
        raise InputError(
            Problem("empty", say("{what} is empty", what=what), place, say("Write it out."))
        )
    check_text(raw, what, place, longest, lines=lines)
    return raw


def read_panel_name(raw: object, place: Place | None = None) -> str:
    """A panel's name. Raises InputError; `car` and `shop` already name something else."""
    name = read_text(raw, say("the panel name"), place, longest=_MAX_PANEL_NAME)
    if folded(name) in _NOT_PANELS:
        raise InputError(
            Problem(
                "reserved-name",
                say("no panel can be called `{strip}`", strip=name.strip()),
                place,
                say(
                    "`{strip}` stands for the whole {folded} here; say which panel.",
                    strip=name.strip(),
                    folded=folded(name),
                ),
            )
        )
    return name


def _with_provenance(spec: FactSpec, raw: dict[str, object], where: Where) -> Told:
    problems: list[Problem] = []
    names: dict[str, str | None] = {}
    told: Told | None = None
    for key in raw if any(known in raw for known in _PROVENANCE) else ():
        if key not in _PROVENANCE:
            near = did_you_mean(key[:40], _PROVENANCE[:4])
            fix = say("A told value has `value`, `by`, `at` and `with`.")
            problems.append(
                Problem(
                    "unknown-key",
                    say(
                        "{key} says nothing about `{id}`",
                        key=quoted(key),
                        id=called(spec, typed=False),
                    ),
                    where(key),
                    f"{near} {fix}" if near else fix,
                )
            )
    for key in _PROVENANCE[1:]:
        if key in raw:
            as_typed = key == "written"
            longest = MAX_READINGS_TEXT if as_typed else MAX_NAME
            try:
                names[key] = read_text(
                    raw[key], f"`{key}`", where(key), longest=longest, lines=as_typed
                )
            except InputError as error:
                problems += error.problems
    if "value" not in raw:
        problems.append(
            Problem(
                "no-value",
                say("`{id}` is a mapping without `value`", id=called(spec, typed=False)),
                where(),
                say(
                    "Write the value alone, or `{{value: ..., by: ...}}`. {takes}",
                    takes=takes(spec),
                ),
            )
        )
    else:
        try:
            reader = ValueReader(spec, lambda *path: where("value", *path), typed=False)
            told = reader.read(raw["value"])
        except InputError as error:
            problems += error.problems
    if told is None or problems:
        raise InputError(problems)
    return Told(
        told.value,
        names.get("written") or told.written,
        by=names.get("by"),
        at=names.get("at"),
        instrument=names.get("with"),
        place=told.place,
        unit=told.unit,
    )


def _words(spec: FactSpec, choice: str) -> str:
    if spoken() is not None:
        for each in choices_of(spec):
            if each.id == choice:
                return each.text
    return choice.replace("-", " ")


def _show_spots(spots: tuple[tuple[Fraction, ...], ...], kind: Kind, unit: str | None) -> str:
    """The readings with their unit once, at the end, where all show the same one."""
    texts = [[show(reading, kind, unit) for reading in spot] for spot in spots]
    units = {text.partition(" ")[2] for spot in texts for text in spot}
    # `1/4 in` would read as a quarter, so whole numbers of one spot keep their units.
    fraction_like = any(len(spot) > 1 and not set(".,") & set("".join(spot)) for spot in texts)
    if len(units) != 1 or fraction_like:
        return separator().join("/".join(spot) for spot in texts)
    bare = separator().join("/".join(text.partition(" ")[0] for text in spot) for spot in texts)
    return f"{bare} {units.pop()}".strip()
