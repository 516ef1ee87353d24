"""Every text of a rule set that people read, and where it stands in the files of a language.

A language is a folder `languages/ID` beside the rules, whose files mirror those of the rule set:
`languages/es/rules/20-film.yaml` holds the texts of `rules/20-film.yaml` by the names of its
rules, under the same keys. What each kind of file holds there:

    ruleset.yaml      title
    facts/*.yaml      FACT: title, ask, how, refuse-because, choices: {CHOICE: {text, also}}, words
    limits.yaml       LIMIT: note
    outcomes.yaml     treatment: {TREATMENT: title, text}, hold: {HOLD: title, release}
    rules/*.yaml      RULE: because, note
    cautions.yaml     standing, cautions: {CAUTION: title, text}
    steps/*.yaml      STEP: title, text, within: {otherwise}
    products.yaml     products: {PRODUCT: title, parts: {PART}, thinner: {name},
                                          drying: {recoat: {once-closed}}}, systems: {SYSTEM: title}
    gear.yaml         GEAR: title, text
    tables/*.yaml     TABLE: title, note
    vocabulary.yaml   columns, statistics, checks, panels, out-of-range, no-reading, opposites

`words`, `also` and all of the vocabulary add to the English words and may be left out; so may the
notes on facts, steps, products and systems, on the set and on labour, which are shown nowhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from engine.document import as_written
from engine.errors import Place
from engine.ruleset.entries import Entry, Files

ANY = "*"
"""In the keys of a field: every name that stands there."""

Keys = tuple[str, ...]


class Form(StrEnum):
    """How a text is written: one text, a list of lines, words that add, or a name of a part."""

    TEXT = "text"
    LINES = "lines"
    WORDS = "words"
    NAME = "name"


@dataclass(frozen=True, slots=True)
class Field:
    """One text of an entry, by its keys; one that is not `due` may be left untranslated."""

    keys: Keys
    form: Form = Form.TEXT
    due: bool = True


@dataclass(frozen=True, slots=True)
class Group:
    """Entries of one sort: the file they stand in, and under which keys here and in a language.

    `named_by` is the key that names the items of a list. A group that is not `named` is the file
    itself, whose one entry has the name of its kind.
    """

    what: str
    kind: str
    source: Keys
    target: Keys
    fields: tuple[Field, ...]
    named_by: str | None = None
    named: bool = True


def _text(*keys: str, due: bool = True) -> Field:
    return Field(keys, due=due)


def _words(*keys: str) -> Field:
    return Field(keys, Form.WORDS, due=False)


_TITLE, _TEXT, _NOTE, _NOTE_UNSHOWN = (
    _text("title"), _text("text"), _text("note"), _text("note", due=False),
)  # fmt: skip

GROUPS = (
    Group("rule set", "ruleset", (), (), (_TITLE, _NOTE_UNSHOWN), named=False),
    Group(
        "fact", "facts", (), (),
        (
            _TITLE, _text("ask"), Field(("how",), Form.LINES), _text("refuse-because"),
            _text("choices", ANY, "text"), _words("choices", ANY, "also"), _words("words"),
            _NOTE_UNSHOWN,
        ),
    ),
    Group("limit", "limits", (), (), (_NOTE,)),
    Group("treatment", "outcomes", ("treatment", "order"), ("treatment",), (_TITLE, _TEXT)),
    Group("hold", "outcomes", ("hold",), ("hold",), (_TITLE, _text("release"))),
    Group("rule", "rules", (), (), (_text("because"), _NOTE), named_by="rule"),
    Group("cautions", "cautions", (), (), (_text("standing"),), named=False),
    Group("caution", "cautions", ("cautions",), ("cautions",), (_TITLE, _TEXT)),
    Group(
        "step", "steps", ("steps",), (),
        (_TITLE, _TEXT, _text("within", "otherwise"), _NOTE_UNSHOWN),
    ),
    Group(
        "product", "products", ("products",), ("products",),
        (
            _TITLE, Field(("parts", ANY), Form.NAME), Field(("thinner", "name"), Form.NAME),
            _text("drying", "recoat", "once-closed"), _NOTE_UNSHOWN,
        ),
    ),
    Group("paint system", "products", ("systems",), ("systems",), (_TITLE, _NOTE_UNSHOWN)),
    Group("gear", "gear", ("gear",), (), (_TITLE, _TEXT)),
    Group("labour", "labour", (), (), (_NOTE_UNSHOWN,), named=False),
    Group("table", "tables", ("tables",), (), (_TITLE, _NOTE)),
    Group(
        "vocabulary", "vocabulary", (), (),
        (
            _words("columns", ANY), _words("statistics", ANY), _words("checks", ANY),
            _words("panels", ANY), _words("out-of-range"), _words("no-reading"),
            _words("opposites"),
        ),
        named=False,
    ),
)  # fmt: skip
"""All that can be translated."""


@dataclass(frozen=True, slots=True)
class Text:
    """One text of a rule set: whose it is, its keys in a language's files, and its English.

    `file` is relative to the rule set. `english` holds one text, or the lines or words of a list.
    `place` is where it stands. One that is not `own` belongs to the set below a shop's changes.
    """

    what: str
    id: str
    field: Field
    keys: Keys
    file: str
    path: Keys
    english: tuple[str, ...]
    place: Place
    own: bool = True

    @property
    def due(self) -> bool:
        """Whether a language lacks something where it is not translated."""
        return self.field.due and self.own

    @property
    def key(self) -> tuple[str, str, Keys]:
        """What names the text among all of a rule set."""
        return self.what, self.id, self.keys

    def __str__(self) -> str:
        return f"`{'.'.join(self.keys)}` of the {named(self.what, self.id)}"


def named(what: str, id: str) -> str:
    """`rule \\`film-over-limit\\``; a part that is alone of its kind goes without its name."""
    return what if what == id else f"{what} `{id}`"


def texts_of(files: Files) -> Iterator[Text]:
    """Every text in the files of a rule set or of a shop's changes, in the order of `GROUPS`."""
    for group in GROUPS:
        for document in files.documents.get(group.kind, ()):
            for entry in source_entries(document, group):
                yield from _texts(group, entry)


def source_entries(document: Entry, group: Group) -> Iterator[Entry]:
    """The entries of a group in one file of a rule set."""
    if group.named_by is None:
        yield from _entries(document, group, group.source)
        return
    for index, item in enumerate(document.document.data or ()):
        name = item.get(group.named_by) if isinstance(item, Mapping) else None
        if isinstance(name, str):
            yield Entry(name, document.document, (index,), item, document.broken)


def target_entries(document: Entry, group: Group) -> Iterator[Entry]:
    """The entries of a group in one file of a language."""
    yield from _entries(document, group, group.target)


def _entries(document: Entry, group: Group, keys: Keys) -> Iterator[Entry]:
    inner: Any = document.document.data
    for key in keys:
        inner = inner.get(key) if isinstance(inner, Mapping) else None
    if not isinstance(inner, Mapping):
        return
    if not group.named:
        yield Entry(group.what, document.document, keys, inner, document.broken)
        return
    for id, data in inner.items():
        held = data if isinstance(data, Mapping) else {}
        yield Entry(id, document.document, (*keys, id), held, document.broken)


def _texts(group: Group, entry: Entry) -> Iterator[Text]:
    above = (*group.target, entry.id) if group.named else group.target
    for field in group.fields:
        for keys, value in values_at(entry.data, field):
            if field.form is Form.NAME and field.keys[-1] == ANY:
                # What is translated there is the name itself.
                value = keys[-1]
            english = written(value)
            if english:
                # The name of a part is its key.
                inside = keys[:-1] if field.form is Form.NAME else keys
                yield Text(
                    group.what, entry.id, field, keys, entry.document.file, (*above, *keys),
                    english, entry.place(*inside),
                )  # fmt: skip


def values_at(data: Any, field: Field) -> Iterator[tuple[Keys, Any]]:
    """What stands in an entry under the keys of a field, each with its own keys."""
    found: list[tuple[Keys, Any]] = [((), data)]
    for key in field.keys:
        found = [
            ((*path, name), inner)
            for path, value in found
            for name, inner in _inside(value, key)
        ]  # fmt: skip
    yield from found


def _inside(value: Any, key: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        names = value if key == ANY else [key] if key in value else []
        yield from ((name, value[name]) for name in names)
    elif isinstance(value, str) and key == "text":
        # A choice may be written as its text alone.
        yield key, value


def written(value: Any) -> tuple[str, ...]:
    """A text, or the items of a list or of lists in a list, as text; nothing where it is empty."""
    if isinstance(value, list):
        return tuple(text for item in value for text in written(item))
    return () if value is None or value == "" else (as_written(value),)
