"""Reads the files of a rule set into entries: one fact, limit, rule or step each, with its place.

Nothing is built here. An entry knows which of its parts broke the schema, so that the builders
check everything else and never stumble over those.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from engine.document import MAX_BYTES, Document, Path_, as_written, parse_document
from engine.errors import DocumentError, Place
from engine.ruleset.report import Report, listed, near
from engine.ruleset.schema import shape_problems
from engine.words import LANGUAGES


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of file: where it stands and which schema it follows."""

    schema: str
    pattern: str
    required: bool = True

    @property
    def kind(self) -> str:
        """What the file holds: `rules` for a shop's rules as well as for supplied ones."""
        return self.schema.removeprefix("shop-").removeprefix("language-")

    @property
    def folder(self) -> str | None:
        return self.pattern.split("/")[0] if "/" in self.pattern else None


PARTS = (
    Part("ruleset", "ruleset.yaml"),
    Part("facts", "facts/*.yaml"),
    Part("limits", "limits.yaml"),
    Part("outcomes", "outcomes.yaml"),
    Part("rules", "rules/*.yaml"),
    Part("cautions", "cautions.yaml"),
    Part("steps", "steps/*.yaml", required=False),
    Part("products", "products.yaml", required=False),
    Part("gear", "gear.yaml", required=False),
    Part("labour", "labour.yaml", required=False),
    Part("tables", "tables/*.yaml", required=False),
    Part("cases", "cases/*.yaml", required=False),
    Part("reviewed", "reviewed.yaml", required=False),
    Part("vocabulary", "vocabulary.yaml", required=False),
)

SHOP_PARTS = (
    Part("shop", "shop.yaml"),
    *(
        Part(f"shop-{name}", pattern, required=False)
        for name, pattern in (
            ("limits", "limits.yaml"),
            ("rules", "rules/*.yaml"),
            ("retired", "retired.yaml"),
            ("replaced", "replaced.yaml"),
            ("facts", "facts/*.yaml"),
            ("outcomes", "outcomes.yaml"),
            ("cautions", "cautions.yaml"),
            ("steps", "steps/*.yaml"),
            ("products", "products.yaml"),
            ("gear", "gear.yaml"),
            ("labour", "labour.yaml"),
            ("tables", "tables/*.yaml"),
        )
    ),
    Part("cases", "cases/*.yaml", required=False),
    Part("reviewed", "reviewed.yaml", required=False),
    Part("vocabulary", "vocabulary.yaml", required=False),
)
"""The files of a shop's changes to a supplied set; those that hold only comments count as none."""

LANGUAGE_PARTS = (
    Part("language", "language.yaml"),
    *(
        Part(f"language-{part.schema}", part.pattern, required=False)
        for part in PARTS
        if part.schema not in ("cases", "reviewed")
    ),
)
"""The files of one language, which mirror those of the rule set they stand beside."""

SUPPLIED = "supplied"
"""The folder of a shop that may hold a copy of the supplied set; its files are named so."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One named part of a file: its id, where it stands and what is written there.

    `broken` holds the paths that broke the schema and all paths above them.
    """

    id: str
    document: Document
    path: Path_
    data: Mapping[str, Any]
    broken: frozenset[Path_] = frozenset()

    @property
    def sound(self) -> bool:
        return self.path not in self.broken

    @property
    def name_place(self) -> Place:
        return self.document.key_place(*self.path)

    def get(self, *keys: str | int) -> Any:
        """The value under these keys; None where there is none or where it broke the schema."""
        if (*self.path, *keys) in self.broken:
            return None
        value: Any = self.data
        for key in keys:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def text(self, *keys: str | int) -> str | None:
        """As `get`, with a number as it is written."""
        value = self.get(*keys)
        return None if value is None else plain(value)

    def place(self, *keys: str | int) -> Place:
        return self.document.place(*self.path, *keys)

    def key_place(self, *keys: str | int) -> Place:
        return self.document.key_place(*self.path, *keys)


Entries = dict[str, Entry]


@dataclass(slots=True)
class Files:
    """The bytes of every YAML file by relative path, and the parsed documents by schema.

    `complete` is false where a file is missing or unreadable as a whole: then names cannot be
    looked up, and everything that reads one from it would seem wrong.
    """

    content: dict[str, bytes] = field(default_factory=dict)
    documents: dict[str, list[Entry]] = field(default_factory=dict)
    complete: bool = True


def plain(value: Any) -> str:
    """A scalar as text: a number as it was written."""
    return as_written(value)


def read_files(folder: Path, report: Report, *, with_cases: bool) -> Files:
    """Read and check the shape of every file of a rule set. Problems go to the report."""
    return _Reading(folder, PARTS, "", report).files(with_cases)


def read_supplied_files(folder: Path, report: Report, *, with_cases: bool) -> Files:
    """As `read_files`, for the supplied set below a shop's: its names start with `supplied/`."""
    return _Reading(folder, PARTS, f"{SUPPLIED}/", report).files(with_cases)


def read_shop_files(folder: Path, report: Report, *, with_cases: bool) -> Files:
    """As `read_files`, for the files of a shop's changes, without the supplied set."""
    return _Reading(folder, SHOP_PARTS, "", report).files(with_cases)


def read_language_files(folder: Path, prefix: str, report: Report) -> Files:
    """As `read_files`, for the texts of one language; `prefix` goes before their names."""
    return _Reading(folder, LANGUAGE_PARTS, prefix, report).files(with_cases=False)


@dataclass(frozen=True, slots=True)
class _Reading:
    """Reads the files of one folder; `prefix` goes before their names."""

    folder: Path
    parts: tuple[Part, ...]
    prefix: str
    report: Report

    @property
    def _of_shop(self) -> bool:
        return self.parts is SHOP_PARTS

    def files(self, with_cases: bool) -> Files:
        files = Files()
        belonging: set[str] = set()
        for part in self.parts:
            names = self._names(part)
            belonging.update(names)
            files.complete = files.complete and bool(names or not part.required)
            entries: list[Entry] = []
            for name in names:
                raw = self._bytes(name)
                if raw is None:
                    files.complete = False
                    continue
                files.content[self.prefix + name] = raw
                if part.schema != "cases" or with_cases:
                    entry = self._document(raw, self.prefix + name, part)
                    if entry is None:
                        files.complete = False
                    elif entry.document.data is not None:
                        entries.append(entry)
            files.documents[part.kind] = entries
        self._strays(belonging)
        return files

    def _names(self, part: Part) -> list[str]:
        folder = self.folder
        names = sorted(
            path.relative_to(folder).as_posix()
            for path in folder.glob(part.pattern)
            if not path.name.startswith(".")
        )
        if not names and part.required:
            if part.folder is None:
                code, message = "missing-file", f"the rule set has no file `{part.pattern}`"
            elif (folder / part.folder).is_dir():
                code, message = "missing-file", f"the folder `{part.folder}` holds no .yaml file"
            else:
                code, message = "missing-folder", f"the rule set has no folder `{part.folder}`"
            place = Place(self.prefix + (part.folder or part.pattern), 1, 1)
            if self.parts is LANGUAGE_PARTS:
                message = f"the language has no file `{part.pattern}`"
                fix = "Start it with `prepwright rules texts --language ID --start`."
            else:
                fix = f"Every rule set has {_all_required()}."
            self.report.add(code, message, place, fix)
        return names

    def _bytes(self, name: str) -> bytes | None:
        try:
            with (self.folder / name).open("rb") as file:
                # One byte over the limit is enough for the parser to refuse the file.
                return file.read(MAX_BYTES + 1)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            place = Place(self.prefix + name, 1, 1)
            self.report.add("unreadable-file", f"the file cannot be read: {reason}", place)
            return None

    def _document(self, raw: bytes, name: str, part: Part) -> Entry | None:
        report = self.report
        try:
            document = parse_document(raw, name)
        except DocumentError as error:
            report.extend(error.problems)
            return None
        if document.data is None and self.parts is not PARTS and not part.required:
            return Entry(name, document, (), {})
        if document.data is None:
            place = Place(name, 1, 1)
            report.add("empty-file", "the file is empty", place, "Fill it or remove it.")
            return None
        found = shape_problems(document, part.schema)
        report.extend(problem for _, problem in found)
        if any(path == () and problem.code != "bad-name" for path, problem in found):
            return None
        broken = {path[:end] for path, _ in found for end in range(len(path) + 1)}
        data = document.data if isinstance(document.data, Mapping) else {}
        return Entry(name, document, (), data, frozenset(broken))

    def _strays(self, belonging: set[str]) -> None:
        folder = self.folder
        for path in sorted((*folder.rglob("*.yaml"), *folder.rglob("*.yml"))):
            inside = path.relative_to(folder)
            name = inside.as_posix()
            if name in belonging or any(step.startswith(".") for step in inside.parts):
                continue
            if inside.parts[0] == LANGUAGES or (self._of_shop and inside.parts[0] == SUPPLIED):
                continue
            if path.suffix == ".yml":
                fix: str | None = "Name it with `.yaml` at the end."
            elif self._of_shop and name == "ruleset.yaml":
                fix = "Beside `shop.yaml` stand changes only; a whole rule set has its own folder."
            else:
                fix = near(name, (part.pattern for part in self.parts))
            place = Place(self.prefix + name, 1, 1)
            whole = "language" if self.parts is LANGUAGE_PARTS else "rule set"
            message = f"this file belongs to no part of a {whole}"
            self.report.add("unknown-file", message, place, fix)


def _all_required() -> str:
    return listed(part.folder or part.pattern for part in PARTS if part.required)


def collect(files: Files, schema: str, *keys: str, what: str, report: Report) -> Entries:
    """The entries under `keys` of every document of a schema, by id; duplicates are reported."""
    found: Entries = {}
    for document in files.documents[schema]:
        for entry in _named(document, keys):
            add_entry(found, entry, what, report)
    return found


def collect_list(
    files: Files, schema: str, *keys: str, named_by: str, what: str, report: Report
) -> Entries:
    """As `collect`, from lists whose items carry their id under `named_by`."""
    found: Entries = {}
    for document in files.documents[schema]:
        items = document.document.data
        for key in keys:
            items = items.get(key) if isinstance(items, Mapping) else None
        for index, item in enumerate(items if isinstance(items, list) else ()):
            path: Path_ = (*keys, index)
            name = item.get(named_by) if isinstance(item, Mapping) else None
            if isinstance(name, str):
                entry = Entry(name, document.document, path, item, document.broken)
                add_entry(found, entry, what, report)
    return found


def _named(document: Entry, keys: tuple[str, ...]) -> Iterator[Entry]:
    inner: Any = document.document.data
    for key in keys:
        inner = inner.get(key) if isinstance(inner, Mapping) else None
    if not isinstance(inner, Mapping):
        return
    for name, data in inner.items():
        path = (*keys, name)
        held = data if isinstance(data, Mapping) else {}
        yield Entry(name, document.document, path, held, document.broken)


def add_entry(found: Entries, entry: Entry, what: str, report: Report) -> None:
    """Put an entry among those found; a second one of the same id is reported."""
    first = found.get(entry.id)
    if first is None:
        found[entry.id] = entry
        return
    report.add(
        "duplicate-id",
        f"there is already a {what} `{entry.id}`",
        entry.name_place,
        f"It stands at {first.name_place}; keep one of them, or give this one another name.",
    )
