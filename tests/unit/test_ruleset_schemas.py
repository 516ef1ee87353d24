"""The schemas as an editor uses them: valid, described, and at one with the loader."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from engine.document import parse_document, read_document
from engine.errors import DocumentError
from engine.ruleset.entries import PARTS
from engine.ruleset.schema import shape_problems
from engine.ruleset.wording import Flaw, Wording
from engine.supplied import schema_folder, supplied_ruleset_folder

HERE = Path(__file__).parent
SETS = (HERE / "small_ruleset", supplied_ruleset_folder())
SCHEMAS = {
    path.name: json.loads(path.read_text("utf-8")) for path in schema_folder().glob("*.json")
}
OURS = ["common.schema.json", *(f"{part.schema}.schema.json" for part in PARTS)]


def editor_validator(schema: str) -> Draft202012Validator:
    """A validator that follows references from file to file, as editors do."""
    registry: Registry[Any] = Registry().with_resources(
        (name, Resource.from_contents(SCHEMAS[name])) for name in OURS
    )
    return Draft202012Validator(SCHEMAS[f"{schema}.schema.json"], registry=registry)


def files_of(folder: Path, pattern: str) -> list[Path]:
    return sorted(folder.glob(pattern))


@pytest.mark.parametrize("name", OURS)
def test_schema_follows_the_draft_it_names(name: str) -> None:
    assert SCHEMAS[name]["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SCHEMAS[name])


def properties(schema: object, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(schema, dict):
        if "if" in schema:
            schema = {key: value for key, value in schema.items() if key not in ("if", "then")}
        for name, inner in schema.get("properties", {}).items():
            yield f"{path}/{name}", inner
        for key, inner in schema.items():
            yield from properties(inner, f"{path}/{key}")
    elif isinstance(schema, list):
        for index, inner in enumerate(schema):
            yield from properties(inner, f"{path}/{index}")


@pytest.mark.parametrize("name", OURS)
def test_every_property_is_described(name: str) -> None:
    bare = [
        path
        for path, inner in properties(SCHEMAS[name])
        if not path.startswith("/allOf") and "description" not in inner
    ]
    assert bare == []


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.schema)
def test_editor_accepts_what_the_loader_accepts(part: Any) -> None:
    validator = editor_validator(part.schema)
    files = [file for folder in SETS for file in files_of(folder, part.pattern)]
    assert files
    for file in files:
        document = read_document(file)
        assert [error.message for error in validator.iter_errors(document.data)] == []
        assert shape_problems(document, part.schema) == []


def test_editor_refuses_what_the_loader_refuses() -> None:
    """The references written out for speed must not change what is refused."""
    refused = 0
    for bad in (HERE / "bad_rulesets").iterdir():
        for part in PARTS:
            for file in files_of(bad, part.pattern):
                try:
                    document = read_document(file)
                except DocumentError:
                    continue
                by_editor = not editor_validator(part.schema).is_valid(document.data)
                assert by_editor == bool(shape_problems(document, part.schema)), file
                refused += by_editor
    assert refused > 20


def test_a_keyword_without_words_of_its_own_is_still_told_plainly() -> None:
    document = parse_document("phase: 7\n", "steps.yaml")
    schema = {"multipleOf": 5, "description": "Phases go in fives."}
    flaw = Flaw(("phase",), "multipleOf", 5, 7, schema, in_a_key=False)
    ((_, problem),) = Wording(document, [flaw]).problems()
    assert str(problem) == (
        "steps.yaml:1:8: `phase` is not written as it should be [not-as-described]\n"
        "    Phases go in fives."
    )
