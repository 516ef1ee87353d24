"""The pages of formats: the files of a rule set, and the files that programs read, by schema."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from cli.reference.markdown import Page, code, codes, link, plain
from engine.ruleset.entries import PARTS, SHOP_PARTS
from engine.ruleset.schema import read_schema
from engine.supplied import schema_folder

Schema = Mapping[str, Any]

_FILES = "files.md"
_COMMON = "common.schema.json"
_OF_SHOP = "The files of a shop's changes"
_SHARED = "Shared parts"
_DEEPEST = 5
_SIMPLE = ("string", "number", "integer", "boolean", "null")
_WORDS = {
    "string": "text",
    "number": "number",
    "integer": "whole number",
    "boolean": "true or false",
    "array": "list",
    "object": "mapping",
    "null": "null",
}


def files_page() -> Page:
    told = Page(_FILES, "Files of a rule set", "every key of every file of a rule set")
    told.paragraph(
        "Every key that may stand in a file, out of the schemas that `prepwright rules check` and "
        "YAML editors use. The format in ten minutes says what they are for; keys in bold have to "
        "be there."
    )
    parts = {part.schema: part.pattern for part in PARTS}
    told.items(
        [
            *(link(code(pattern), pattern) for pattern in parts.values()),
            link(_OF_SHOP, _OF_SHOP),
            link(_SHARED, _SHARED),
        ]
    )
    for schema, pattern in parts.items():
        _schema(told, read_schema(f"{schema}.schema.json"), pattern)
    told.heading(_OF_SHOP)
    told.paragraph(
        "As the files of the same names above, except that every entry says `by`, `on` and `why`, "
        "may say `replaces`, and need not have a `source`. These are its own:"
    )
    for part in SHOP_PARTS:
        if part.schema in ("shop", "shop-limits", "shop-retired"):
            _schema(told, read_schema(f"{part.schema}.schema.json"), f"{part.pattern} of a shop", 3)
    told.heading(_SHARED)
    for name, shape in read_schema(_COMMON)["$defs"].items():
        if _worth_a_heading(shape):
            _shape(told, shape, name, 3)
    return told


def json_page() -> Page:
    told = Page("formats.md", "Other formats", "job files, JSON that is written, report files")
    told.paragraph(
        "Files beside the rules that people or programs write and read, out of their schemas. "
        "Keys in bold have to be there."
    )
    of_rules = {f"{part.schema}.schema.json" for part in (*PARTS, *SHOP_PARTS)} | {_COMMON}
    files = sorted(
        file.name
        for file in schema_folder().glob("*.schema.json")
        if file.name not in of_rules and not file.name.startswith(("shop-", "language"))
    )
    schemas = {name: read_schema(name) for name in files}
    told.items(
        f"{link(plain(schema['title']), schema['title'])}, `shared/schemas/{name}`: "
        + plain(schema["description"])
        for name, schema in schemas.items()
    )
    for schema in schemas.values():
        _schema(told, schema, schema["title"])
    return told


def _schema(told: Page, schema: Schema, heading: str, level: int = 2) -> None:
    _shape(told, schema, heading, level)
    for name, shape in schema.get("$defs", {}).items():
        if _worth_a_heading(shape):
            _shape(told, shape, f"{name} in {heading}", level + 1)


def _shape(told: Page, shape: Schema, heading: str, level: int) -> None:
    told.heading(heading, level)
    if shape.get("description"):
        told.paragraph(plain(shape["description"]))
    told.items(_Keys(told.file, heading.rpartition(" in ")[2]).of(shape, 0))


def _worth_a_heading(shape: Schema) -> bool:
    return bool(_inside(shape)) and not _simple(shape)


def _simple(shape: Schema) -> bool:
    kinds = shape.get("type", ())
    listed = [kinds] if isinstance(kinds, str) else kinds
    return not shape.get("properties") and bool(listed) and set(listed) <= set(_SIMPLE)


def _inside(shape: Schema) -> list[Schema]:
    """The schemas of what stands in a mapping or a list, beside its named keys."""
    found = [shape] if shape.get("properties") else []
    for key in ("additionalProperties", "items"):
        if isinstance(shape.get(key), dict):
            found.append(shape[key])
    return found


class _Keys:
    """Lists the keys of a schema, each with its kind and what is said of it."""

    def __init__(self, file: str, heading: str) -> None:
        self._files = "" if file == _FILES else _FILES
        self._heading = heading

    def of(self, shape: Schema, depth: int) -> Iterator[tuple[int, str]]:
        required = shape.get("required", ())
        for key, inner in shape.get("properties", {}).items():
            yield from self._entry(
                f"**{code(key)}**" if key in required else code(key), inner, depth
            )
        for key, name in (("additionalProperties", "each name"), ("items", "each of the list")):
            inner = shape.get(key)
            if isinstance(inner, dict) and (depth == 0 or _inside(inner)):
                yield from self._entry(f"*{name}*", inner, depth)

    def _entry(self, name: str, shape: Schema, depth: int) -> Iterator[tuple[int, str]]:
        said = plain(shape.get("description", ""))
        yield depth, f"{name} ({self._kind(shape)})" + (f": {said}" if said else "")
        if "$ref" not in shape and depth < _DEEPEST:
            yield from self.of(shape, depth + 1)

    def _kind(self, shape: Schema) -> str:
        if "enum" in shape:
            return f"one of {codes(map(str, shape['enum']))}"
        if "const" in shape:
            return code(str(shape["const"]))
        if "$ref" in shape:
            return self._referred(str(shape["$ref"]))
        for key in ("anyOf", "oneOf"):
            if key in shape:
                return " or ".join(dict.fromkeys(map(self._kind, shape[key])))
        kinds: str | Sequence[str] = shape.get("type", "anything")
        if kinds == "array" and isinstance(shape.get("items"), dict):
            return f"list of: {self._kind(shape['items'])}"
        values = shape.get("additionalProperties")
        if kinds == "object" and isinstance(values, dict) and "$ref" in values:
            return f"mapping of: {self._kind(values)}"
        listed = [kinds] if isinstance(kinds, str) else kinds
        return " or ".join(_WORDS.get(kind, kind) for kind in listed)

    def _referred(self, reference: str) -> str:
        file, _, path = reference.partition("#")
        name = path.rpartition("/")[2]
        if not name:
            return "the same again"
        if file == _COMMON:
            shape = read_schema(_COMMON)["$defs"][name]
            return link(name, name, self._files) if _worth_a_heading(shape) else self._kind(shape)
        return self._own(name)

    def _own(self, name: str) -> str:
        for schema in schema_folder().glob("*.schema.json"):
            told = read_schema(schema.name)
            titles = {told["title"], *(part.pattern for part in PARTS)}
            if self._heading in titles and name in told.get("$defs", {}):
                shape = told["$defs"][name]
                if _worth_a_heading(shape):
                    return link(name, f"{name} in {self._heading}")
                return self._kind(shape)
        return code(name)
