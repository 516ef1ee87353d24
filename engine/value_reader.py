"""Reads one value of one fact, from a job file or as a person types it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from engine.choices import called, find_choice, listed, split_members
from engine.document import as_written
from engine.errors import InputError, Place, Problem
from engine.facts import FactValue, Told
from engine.plaintext import MAX_TEXT, folded, forbidden_character, printable, quoted
from engine.quantity import Kind, parse_quantity
from engine.quantity.units import KINDS
from engine.ruleset.model import FactKind, FactSpec
from engine.spots import SpotReader, spot_texts
from engine.words import say

UNKNOWN = "unknown"
"""How "don't know" is written in a job file."""

MAX_READINGS_TEXT = 20_000
MAX_ITEMS = 5_000

Where = Callable[..., Place | None]
"""Gives the place of a part of a value, named by its keys and indexes."""


class ValueReader:
    """Reads one value of one fact.

    `typed` says that a person typed it in answer to a question; then messages call the fact by its
    title, not by its key in a job file. `where` gives the places of what is wrong.
    """

    def __init__(self, spec: FactSpec, where: Where, *, typed: bool) -> None:
        self._spec = spec
        self._where = where
        self._typed = typed
        self._called = called(spec, typed=typed)

    def read(self, raw: object) -> Told:
        if raw is None or (isinstance(raw, str) and not raw.strip()):
            raise self._refuse(
                "empty", say("`{id}` has no value", id=self._called), self._or_unknown()
            )
        if isinstance(raw, dict):
            raise self._refuse(
                "unexpected-mapping",
                say("`{id}` cannot be a mapping", id=self._called),
                takes(self._spec),
            )
        if isinstance(raw, str) and self._is_unknown(raw):
            return Told(None, self.text(raw), place=self._where())
        if isinstance(raw, list) and len(raw) > MAX_ITEMS:
            message = say(
                "`{id}` has {raw:,} items; at most {max_items:,} are read",
                id=self._called,
                raw=len(raw),
                max_items=MAX_ITEMS,
            )
            raise self._refuse("too-long", message, self._takes())
        kind = self._spec.kind
        if kind is FactKind.SET:
            return self._set(raw)
        if kind is FactKind.LIST:
            return self._list(raw)
        if isinstance(raw, list):
            raise self._refuse(
                "unexpected-list",
                say("`{id}` takes one value, not a list", id=self._called),
                self._takes(),
            )
        if kind is FactKind.QUANTITY:
            return self._quantity(raw)
        if kind is FactKind.TEXT:
            return self._free_text(raw)
        text = self._scalar(raw)
        return self._told(find_choice(self._spec, text, self._where(), typed=self._typed), text)

    def text(self, raw: str, *path: int) -> str:
        """`raw` without the space around it, once it is found safe to keep."""
        kind = self._spec.kind
        free = kind in (FactKind.TEXT, FactKind.LIST, FactKind.SET)
        longest = MAX_READINGS_TEXT if kind is FactKind.LIST else MAX_TEXT
        text = raw.strip()
        check_text(text, f"`{self._called}`", self._where(*path), longest, lines=free)
        return text

    def _set(self, raw: object) -> Told:
        if not isinstance(raw, list):
            text = self._scalar(raw)
            members = split_members(self._spec, text, typed=self._typed)
            found = self._members((member, ()) for member in members)
            return self._told(self._checked(found), text)
        texts = [self._scalar(item, index) for index, item in enumerate(raw)]
        found = self._members((text, (index,)) for index, text in enumerate(texts))
        return self._told(self._checked(found), ", ".join(texts))

    def _members(self, texts: Iterable[tuple[str, tuple[int, ...]]]) -> frozenset[str]:
        members: set[str] = set()
        likely: list[str | None] = []
        problems: list[Problem] = []
        for text, path in texts:
            place = self._where(*path)
            if self._is_unknown(text):
                fix = say("Leave it out, or write it alone.")
                problem = Problem(
                    "unknown-among-others", say("`{text}` stands alone", text=text), place, fix
                )
                problems.append(problem)
                likely.append(None)
                continue
            try:
                found = find_choice(self._spec, text, place, typed=self._typed)
                members.add(found)
                likely.append(found)
            except InputError as error:
                problems += error.problems
                likely.append(error.likely[0] if len(error.likely) == 1 else None)
        if problems:
            meant = [each for each in dict.fromkeys(likely) if each is not None]
            raise InputError(problems, () if None in likely else (", ".join(meant),))
        return frozenset(members)

    def _checked(self, members: frozenset[str]) -> frozenset[str]:
        alone = self._spec.alone
        if not members:
            nothing = say("Write `{alone}` where there is none. ", alone=alone) if alone else ""
            raise self._refuse(
                "empty",
                say("`{id}` names nothing", id=self._called),
                f"{nothing}{self._or_unknown()}",
            )
        if alone in members and len(members) > 1:
            others = ", ".join(f"`{each}`" for each in sorted(members - {alone}))
            raise self._refuse(
                "alone-among-others",
                say("`{alone}` cannot stand with others: {others}", alone=alone, others=others),
                say("Keep `{alone}` alone, or take it out.", alone=alone),
            )
        return members

    def _list(self, raw: object) -> Told:
        kind = self._spec.quantity or Kind.NUMBER
        reader = SpotReader(kind, self._spec.plausible)
        if not isinstance(raw, list):
            text = self._scalar(raw)
            for spot in spot_texts(text, kind, self._where()):
                reader.spot(spot, [self._where()] * len(spot))
            spots, unit = reader.result()
            return self._told(spots, text, unit)
        if not raw:
            raise self._refuse(
                "empty", say("`{id}` holds no reading", id=self._called), self._or_unknown()
            )
        written: list[str] = []
        for index, item in enumerate(raw):
            try:
                written.append(self._spot(reader, item, index, kind))
            except InputError as error:
                reader.refuse(error)
        spots, unit = reader.result()
        return self._told(spots, ", ".join(written), unit)

    def _spot(self, reader: SpotReader, item: object, index: int, kind: Kind) -> str:
        """Takes one item of a list of readings; returns it as it was written."""
        if isinstance(item, list):
            if not item:
                fix = say("Write its readings, or take the empty brackets out.")
                raise self._refuse(
                    "empty", say("spot {index} holds no reading", index=index + 1), fix, index
                )
            texts = [self._scalar(each, index, inner) for inner, each in enumerate(item)]
            reader.spot(texts, [self._where(index, inner) for inner in range(len(texts))])
            return "/".join(texts)
        text = self._scalar(item, index)
        # Only a slash makes a spot of one item: `4,9 mil` standing by itself is one reading.
        spots = spot_texts(text, kind, self._where(index)) if "/" in text else [[text]]
        if len(spots) > 1:
            fix = say("Give each spot an item of its own.")
            message = say("{text} holds {spots} spots", text=quoted(text), spots=len(spots))
            raise self._refuse("several-values", message, fix, index)
        reader.spot(spots[0], [self._where(index)] * len(spots[0]))
        return text

    def _quantity(self, raw: object) -> Told:
        text = self._scalar(raw)
        quantity = parse_quantity(
            text,
            self._spec.quantity or Kind.NUMBER,
            place=self._where(),
            plausible=self._spec.plausible,
        )
        return self._told(quantity.amount, text, quantity.unit)

    def _free_text(self, raw: object) -> Told:
        if not isinstance(raw, str):
            raise self._refuse(
                "not-text",
                say("`{id}` takes text, not {spell}", id=self._called, spell=spell(raw)),
                say('Put it in quotes: "{spell}".', spell=spell(raw)),
            )
        text = self.text(raw)
        return self._told(text, text)

    def _scalar(self, raw: object, *path: int) -> str:
        """A scalar as its text."""
        if isinstance(raw, str) and raw.strip():
            return self.text(raw, *path)
        if isinstance(raw, bool) and self._spec.kind in (FactKind.QUANTITY, FactKind.LIST):
            message = say("`{spell}` is no number for `{id}`", spell=spell(raw), id=self._called)
            raise self._refuse("wrong-type", message, self._takes(), *path)
        if isinstance(raw, bool | int | float | Fraction):
            return spell(raw)
        if raw is None or isinstance(raw, str):
            message = say("`{id}` holds an item without a value", id=self._called)
            raise self._refuse("empty", message, say("Write it, or take it out."), *path)
        what = say("a list") if isinstance(raw, list) else say("a mapping")
        message = say("{what} cannot stand here in `{id}`", what=what, id=self._called)
        raise self._refuse("wrong-type", message, self._takes(), *path)

    def _is_unknown(self, text: str) -> bool:
        return folded(text) == UNKNOWN

    def _told(self, value: FactValue, written: str, unit: str | None = None) -> Told:
        return Told(value, written, place=self._where(), unit=unit or None)

    def _takes(self) -> str:
        return takes(self._spec)

    def _or_unknown(self) -> str:
        unknown = say("don't know") if self._typed else UNKNOWN
        return say(
            "Write `{unknown}` where it is not known. {takes}", unknown=unknown, takes=self._takes()
        )

    def _refuse(self, code: str, message: str, fix: str, *path: int) -> InputError:
        return InputError(Problem(code, message, self._where(*path), fix))


def takes(spec: FactSpec) -> str:
    """What a fact takes, in a sentence."""
    if spec.kind in (FactKind.YES_NO, FactKind.CHOICE):
        return say("It takes one of {listed}.", listed=listed(spec))
    if spec.kind is FactKind.SET:
        return say("It takes one or more of {listed}.", listed=listed(spec))
    if spec.kind is FactKind.TEXT:
        return say("It takes text.")
    kind = KINDS[spec.quantity or Kind.NUMBER]
    if spec.kind is FactKind.LIST:
        return say(
            "It takes a list of readings; each is {noun}, as in {example}.",
            noun=say(kind.noun),
            example=kind.example,
        )
    return say("It takes {noun}, as in {example}.", noun=say(kind.noun), example=kind.example)


def spell(raw: object) -> str:
    """A value as it was written, for a message."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, list | dict):
        return say("a list") if isinstance(raw, list) else say("a mapping")
    return printable(as_written(raw))


def check_text(
    text: str, what: str, place: Place | None, longest: int, *, lines: bool = False
) -> None:
    """Raise InputError where `text` is too long or holds what is not safe to keep."""
    bad = forbidden_character(text, lines=lines)
    if bad:
        raise InputError(
            Problem(
                "control-character",
                say("{what} holds the character {bad}", what=what, bad=bad),
                place,
                say("Remove it."),
            )
        )
    if len(text) > longest:
        raise InputError(
            Problem(
                "too-long",
                say(
                    "{what} is {text:,} characters long; at most {longest:,} are taken",
                    what=what,
                    text=len(text),
                    longest=longest,
                ),
                place,
                say("Shorten it."),
            )
        )
