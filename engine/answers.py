"""Turns what stands in a job file, or what a person types, into a told fact.

A value is taken only where it can mean one thing. Everything else is refused with what was found
and what would be right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from engine.choices import called, choice_words, choices_of, find_choice, listed, split_members
from engine.document import as_written
from engine.errors import InputError, Place, Problem, did_you_mean
from engine.facts import FactValue, Told
from engine.plaintext import MAX_TEXT, folded, forbidden_character, printable, quoted, unmarked
from engine.quantity import Kind, parse_quantity, show
from engine.quantity.units import KINDS
from engine.ruleset.model import FactKind, FactSpec
from engine.spots import SpotReader, spot_texts
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

UNKNOWN = "unknown"
"""How "don't know" is written in a job file."""

MAX_READINGS_TEXT = 20_000
MAX_ITEMS = 5_000
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

Where = Callable[..., Place | None]
"""Gives the place of a part of a value, named by its keys and indexes."""


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
    return _Reader(spec, look, typed=False).read(raw)


def read_answer(spec: FactSpec, text: str) -> Told:
    """The told fact that `text`, typed in answer to a question, stands for.

    Besides what a job file may hold: `don't know` and its like, `y` and `n`, the beginning of a
    word. Raises InputError with one message.
    """
    reader = _Reader(spec, lambda *_: None, typed=True)
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
        found = "nothing" if raw is None else _spell(raw)
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
    _check_text(raw, what, place, longest, lines=lines)
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


def _check_text(
    text: str, what: str, place: Place | None, longest: int, *, lines: bool = False
) -> None:
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
                    say("{key} says nothing about `{id}`", key=quoted(key), id=called(spec)),
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
                say("`{id}` is a mapping without `value`", id=called(spec)),
                where(),
                say(
                    "Write the value alone, or `{{value: ..., by: ...}}`. {takes}",
                    takes=_takes(spec),
                ),
            )
        )
    else:
        try:
            reader = _Reader(spec, lambda *path: where("value", *path), typed=False)
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


class _Reader:
    """Reads one value of one fact."""

    def __init__(self, spec: FactSpec, where: Where, *, typed: bool) -> None:
        self._spec = spec
        self._where = where
        self._typed = typed

    def read(self, raw: object) -> Told:
        if raw is None or raw == "":
            raise self._refuse(
                "empty", say("`{id}` has no value", id=called(self._spec)), self._or_unknown()
            )
        if isinstance(raw, dict):
            raise self._refuse(
                "unexpected-mapping",
                say("`{id}` cannot be a mapping", id=called(self._spec)),
                _takes(self._spec),
            )
        if isinstance(raw, str) and self._is_unknown(raw):
            return Told(None, self.text(raw), place=self._where())
        if isinstance(raw, list) and len(raw) > MAX_ITEMS:
            message = say(
                "`{id}` has {raw:,} items; at most {max_items:,} are read",
                id=called(self._spec),
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
                say("`{id}` takes one value, not a list", id=called(self._spec)),
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
        _check_text(text, f"`{self._spec.id}`", self._where(*path), longest, lines=free)
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
        problems: list[Problem] = []
        for text, path in texts:
            place = self._where(*path)
            if self._is_unknown(text):
                fix = say("Leave it out, or write it alone.")
                problem = Problem(
                    "unknown-among-others", say("`{text}` stands alone", text=text), place, fix
                )
                problems.append(problem)
                continue
            try:
                members.add(find_choice(self._spec, text, place, typed=self._typed))
            except InputError as error:
                problems += error.problems
        if problems:
            raise InputError(problems)
        return frozenset(members)

    def _checked(self, members: frozenset[str]) -> frozenset[str]:
        alone = self._spec.alone
        if not members:
            nothing = say("Write `{alone}` where there is none. ", alone=alone) if alone else ""
            raise self._refuse(
                "empty",
                say("`{id}` names nothing", id=called(self._spec)),
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
                "empty", say("`{id}` holds no reading", id=called(self._spec)), self._or_unknown()
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
                say("`{id}` takes text, not {spell}", id=called(self._spec), spell=_spell(raw)),
                say('Put it in quotes: "{spell}".', spell=_spell(raw)),
            )
        text = self.text(raw)
        return self._told(text, text)

    def _scalar(self, raw: object, *path: int) -> str:
        """A scalar as its text."""
        if isinstance(raw, str) and raw.strip():
            return self.text(raw, *path)
        if isinstance(raw, bool) and self._spec.kind in (FactKind.QUANTITY, FactKind.LIST):
            message = say(
                "`{spell}` is no number for `{id}`", spell=_spell(raw), id=called(self._spec)
            )
            raise self._refuse("wrong-type", message, self._takes(), *path)
        if isinstance(raw, bool | int | float | Fraction):
            return _spell(raw)
        if raw is None or isinstance(raw, str):
            message = say("`{id}` holds an item without a value", id=called(self._spec))
            raise self._refuse("empty", message, say("Write it, or take it out."), *path)
        what = say("a list") if isinstance(raw, list) else say("a mapping")
        message = say("{what} cannot stand here in `{id}`", what=what, id=called(self._spec))
        raise self._refuse("wrong-type", message, self._takes(), *path)

    def _is_unknown(self, text: str) -> bool:
        return folded(text) == UNKNOWN

    def _told(self, value: FactValue, written: str, unit: str | None = None) -> Told:
        return Told(value, written, place=self._where(), unit=unit or None)

    def _takes(self) -> str:
        return _takes(self._spec)

    def _or_unknown(self) -> str:
        unknown = say("don't know") if self._typed else UNKNOWN
        return say(
            "Write `{unknown}` where it is not known. {takes}", unknown=unknown, takes=self._takes()
        )

    def _refuse(self, code: str, message: str, fix: str, *path: int) -> InputError:
        return InputError(Problem(code, message, self._where(*path), fix))


def _takes(spec: FactSpec) -> str:
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


def _spell(raw: object) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, list | dict):
        return say("a list") if isinstance(raw, list) else say("a mapping")
    return printable(as_written(raw))


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
