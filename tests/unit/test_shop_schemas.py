"""The schemas of a shop's files: made from the supplied ones, and at one with the loader."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from test_ruleset_schemas import properties

from engine.document import read_document
from engine.errors import DocumentError
from engine.ruleset.entries import SHOP_PARTS
from engine.ruleset.schema import shape_problems
from engine.ruleset.shop_schemas import written
from engine.supplied import schema_folder

HERE = Path(__file__).parent
SHOPS = [HERE / "small_shop"]
PARTS = [part for part in SHOP_PARTS if part.schema.startswith("shop")]
SCHEMAS = {
    path.name: json.loads(path.read_text("utf-8")) for path in schema_folder().glob("*.json")
}


def editor_validator(schema: str) -> Draft202012Validator:
    registry = Registry().with_resources(
        (name, Resource.from_contents(contents)) for name, contents in SCHEMAS.items()
    )
    return Draft202012Validator(SCHEMAS[f"{schema}.schema.json"], registry=registry)


@pytest.mark.parametrize("name", [name for name, _ in written()])
def test_the_schema_kept_is_the_one_made(name: str) -> None:
    """Where this fails: `python -m engine.ruleset.shop_schemas`."""
    made = dict(written())[name]
    assert (schema_folder() / name).read_text("utf-8") == made


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.schema)
def test_schema_is_sound_and_described(part: object) -> None:
    schema = SCHEMAS[f"{part.schema}.schema.json"]
    Draft202012Validator.check_schema(schema)
    bare = [
        path
        for path, inner in properties(schema)
        if not path.startswith("/allOf") and "description" not in inner
    ]
    assert bare == []


def files() -> list[tuple[Path, str]]:
    folders = [*SHOPS, *(path for path in (HERE / "bad_shops").iterdir() if path.is_dir())]
    return [
        (file, part.schema)
        for folder in folders
        for part in SHOP_PARTS
        for file in sorted(folder.glob(part.pattern))
    ]


def test_editor_and_loader_refuse_the_same() -> None:
    refused = accepted = 0
    for file, schema in files():
        try:
            document = read_document(file)
        except DocumentError:
            continue
        if document.data is None:
            continue
        by_loader = shape_problems(document, schema)
        assert editor_validator(schema).is_valid(document.data) == (not by_loader), file
        refused += bool(by_loader)
        accepted += not by_loader
    assert refused >= 5
    assert accepted >= 20
