"""Schemas with a rule set's own names: what stands in its files fits, and strange names do not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from engine.document import read_document
from engine.errors import DocumentError
from engine.ruleset import load_ruleset
from engine.ruleset.entries import PARTS, SHOP_PARTS
from engine.ruleset.filled_schemas import filled_schemas, write_schemas
from engine.supplied import supplied_ruleset_folder

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"


def validators(folder: Path) -> dict[str, Draft202012Validator]:
    schemas = filled_schemas(load_ruleset(folder))
    for schema in schemas.values():
        Draft202012Validator.check_schema(schema)
    return {name: Draft202012Validator(schema) for name, schema in schemas.items()}


@pytest.fixture(scope="module")
def small() -> dict[str, Draft202012Validator]:
    return validators(SMALL)


def problems(found: dict[str, Draft202012Validator], folder: Path, parts: object) -> list[str]:
    told = []
    for part in parts:
        for file in sorted(folder.glob(part.pattern)):
            data = read_document(file).data
            if data is None or part.schema not in found:
                continue
            told += [
                f"{file.name}: {list(error.absolute_path)}"
                for error in found[part.schema].iter_errors(data)
            ]
    return told


@pytest.mark.parametrize("folder", [SMALL, supplied_ruleset_folder()], ids=["small", "supplied"])
def test_every_file_of_the_rule_set_fits(folder: Path) -> None:
    assert problems(validators(folder), folder, PARTS) == []


def test_every_file_of_a_shop_fits(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(HERE / "small_shop", shop)
    shutil.copytree(SMALL, shop / "supplied")
    assert problems(validators(shop), shop, SHOP_PARTS) == []


STRANGE_NAMES = (
    "unknown-fact",
    "unknown-choice",
    "unknown-limit",
    "unknown-treatment",
    "unknown-hold",
    "unknown-caution",
    "unknown-step",
    "unknown-product",
    "unknown-reckoning",
    "unknown-alongside",
    "beats-unknown",
    "blocks-unknown-step",
    "concluded-unknown",
    "concluded-choice",
    "case-names",
    "limit-kind-film",
    "above-on-choice",
    "includes-on-choice",
    "set-by-value",
    "list-compared",
    "text-compared",
    "limit-as-fact",
)


@pytest.mark.parametrize("name", STRANGE_NAMES)
def test_a_name_that_is_not_there_is_marked(
    small: dict[str, Draft202012Validator], name: str
) -> None:
    assert problems(small, HERE / "bad_rulesets" / name, PARTS)


def test_every_file_the_plain_schemas_refuse_is_refused(
    small: dict[str, Draft202012Validator],
) -> None:
    from engine.ruleset.schema import shape_problems

    refused = 0
    for bad in sorted((HERE / "bad_rulesets").iterdir()):
        for part in PARTS:
            for file in sorted(bad.glob(part.pattern)):
                try:
                    document = read_document(file)
                except DocumentError:
                    continue
                if shape_problems(document, part.schema):
                    assert not small[part.schema].is_valid(document.data), file
                    refused += 1
    assert refused > 20


def test_limits_offered_are_those_that_can_be_compared(
    small: dict[str, Draft202012Validator],
) -> None:
    properties = small["rules"].schema["$defs"]["condition"]["properties"]
    above = properties["film.typical"]["anyOf"][2]["properties"]["above"]
    offered = {each["const"]: each["description"] for each in above["anyOf"][0]["anyOf"]}
    assert set(offered) == {"$film.limit"}
    assert offered["$film.limit"] == "304.8 um (film.limit). film above this comes down"


def test_choices_are_offered_with_their_meaning(small: dict[str, Draft202012Validator]) -> None:
    substrate = small["rules"].schema["$defs"]["condition"]["properties"]["substrate"]
    assert substrate["description"] == "Material. What is {panel} made of?"
    assert {"const": "steel", "description": "Steel"} in substrate["anyOf"][0]["anyOf"]


def test_files_written_hold_no_reference_to_another_file(tmp_path: Path) -> None:
    written = write_schemas(load_ruleset(SMALL), tmp_path / "schemas")
    assert {"rules.schema.json", "shop-limits.schema.json"} <= {file.name for file in written}
    for file in written:
        assert "common.schema.json" not in file.read_text("utf-8")
