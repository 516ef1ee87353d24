"""The texts of a rule set in another language, read from `languages/ID` beside its files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from engine.errors import Place
from engine.ruleset.entries import Entry, Files, read_language_files
from engine.ruleset.report import Report
from engine.ruleset.texts import GROUPS, Field, Group, Keys, target_entries, values_at, written
from engine.words import LANGUAGES

HEAD = "language.yaml"
FINGERPRINTS = "translated-from.json"
"""Which English text each text was translated from; written by `rules texts --accept`."""

Key = tuple[str, str, Keys]


@dataclass(frozen=True, slots=True)
class Said:
    """One text as a language gives it; more than one where it is a list of lines or words.

    `groups` are the words of each list, where there are lists in a list.
    """

    texts: tuple[str, ...]
    place: Place
    file: str
    field: Field
    groups: tuple[Keys, ...] = ()


@dataclass(frozen=True, slots=True)
class Language:
    """The texts of one language by what they are of; `file`s are relative to its folder.

    `checked`: a native speaker of the trade went over them. `note` tells readers about them.
    `comma`: decimals stand behind a comma. `fingerprints` are those noted with `--accept`.
    """

    id: str
    name: str
    checked: bool
    note: str | None
    comma: bool
    texts: Mapping[Key, Said]
    fingerprints: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def fresh(self, key: Key, english: tuple[str, ...]) -> tuple[str, ...] | None:
        """The text for `english`; None where there is none or it was made for another English."""
        said = self.texts.get(key)
        return None if said is None or self.stale(key, english) else said.texts

    def stale(self, key: Key, english: tuple[str, ...]) -> bool:
        """Whether the English was changed after a text was made for it, and the text was not."""
        said = self.texts.get(key)
        noted = self.fingerprints.get(key[0], {}).get(name_of(key))
        if said is None or noted is None:
            return False
        was_english, _, was_said = noted.partition(" ")
        return was_english != fingerprint(english) and was_said == fingerprint(said.texts)


def languages_in(folder: Path) -> list[str]:
    """The languages a rule set or a shop's changes come in, apart from English."""
    return sorted(path.parent.name for path in (folder / LANGUAGES).glob(f"*/{HEAD}"))


def language_of(folder: Path, id: str, report: Report, prefix: str = "") -> Language | None:
    """The texts of the language `id` beside the rule set in `folder`; None where its head is wrong.

    What is wrong is told to `report`; `prefix` goes before the names of files in places.
    """
    here = folder / LANGUAGES / id
    named = f"{prefix}{LANGUAGES}/{id}/"
    before = len(report)
    files = read_language_files(here, named, report)
    heads = files.documents.get("language", [])
    if not heads or len(report) > before:
        return None
    (head,) = heads
    if head.get("language") != id:
        report.add(
            "another-language",
            f"the folder is `{id}`, but this says `language: {head.get('language')}`",
            head.place("language"),
            f"Write `language: {id}`, or name the folder otherwise.",
        )
        return None
    return Language(
        id=id,
        name=head.get("name"),
        checked=head.get("checked") == "yes",
        note=head.get("note"),
        comma=head.get("decimal") == "comma",
        texts=_texts(files, named, report),
        fingerprints=_fingerprints(here / FINGERPRINTS, f"{named}{FINGERPRINTS}", report),
    )


def _texts(files: Files, prefix: str, report: Report) -> dict[Key, Said]:
    found: dict[Key, Said] = {}
    for group in GROUPS:
        for document in files.documents.get(group.kind, ()):
            for key, said in _in_file(document, group, prefix):
                first = found.setdefault(key, said)
                if first is not said:
                    report.add(
                        "duplicate-id",
                        f"there is already a text of the {group.what} `{key[1]}`",
                        said.place,
                        f"It stands at {first.place}; keep one of them.",
                    )
    return found


def _in_file(document: Entry, group: Group, prefix: str) -> Iterator[tuple[Key, Said]]:
    for entry in target_entries(document, group):
        for each in group.fields:
            for keys, value in values_at(entry.data, each):
                texts = written(value)
                if texts and not isinstance(value, Mapping):
                    file = document.document.file.removeprefix(prefix)
                    yield (
                        (group.what, entry.id, keys),
                        Said(texts, entry.place(*keys), file, each, _groups(value)),
                    )


def _groups(value: object) -> tuple[Keys, ...]:
    lists = value if isinstance(value, list) else ()
    return tuple(written(item) for item in lists if isinstance(item, list))


def fingerprint(texts: tuple[str, ...]) -> str:
    """A short hash that tells a changed text from the one before."""
    return hashlib.blake2b("\0".join(texts).encode("utf-8"), digest_size=5).hexdigest()


def name_of(key: Key) -> str:
    """How a text is named among the fingerprints of its kind."""
    _, id, keys = key
    return f"{id} {'.'.join(keys)}"


def _fingerprints(file: Path, named: str, report: Report) -> dict[str, dict[str, str]]:
    try:
        found = json.loads(file.read_text("utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        _wrong_fingerprints(named, str(error), report)
        return {}
    sound = isinstance(found, dict) and all(
        isinstance(names, dict) and all(isinstance(mark, str) for mark in names.values())
        for names in found.values()
    )
    if not sound:
        _wrong_fingerprints(named, "it is no mapping of names to marks", report)
        return {}
    return dict(found)


def _wrong_fingerprints(named: str, why: str, report: Report) -> None:
    report.add(
        "bad-fingerprints",
        f"the notes on which English was translated cannot be read: {why}",
        Place(named, 1, 1),
        "Remove the file and write it again with `prepwright rules texts --accept`.",
    )
