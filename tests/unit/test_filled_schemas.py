"""Schemas with a rule set's own names: what stands in its files fits, and strange names do not."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from cli.main import run
from engine.document import read_document
from engine.errors import DocumentError, QuantityError
from engine.quantity import Kind, parse_quantity
from engine.quantity.units import unit_words
from engine.ruleset import load_ruleset
from engine.ruleset.entries import PARTS, SHOP_PARTS, Part
from engine.ruleset.filled_pieces import written
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


ACROSS = "it takes several entries or files to see"
ABSENT = "there is no text an editor could mark"
SIBLING = "a schema cannot compare one value with another"
NOT_BY_AN_EDITOR = {
    "ambiguous-word": ACROSS,
    "bad-alone": SIBLING,
    "bad-not-yet": SIBLING,
    "between-backwards": SIBLING,
    "car-reckoned-from-panel": "what a reckoning reads is known to the program alone",
    "case-twice": ACROSS,
    "concluded-by-no-rule": ACROSS,
    "duplicate-id": ACROSS,
    "duplicate-rule": ACROSS,
    "empty-file": ABSENT,
    "empty-folder": ABSENT,
    "gathered-circle": ACROSS,
    "id-shared": ACROSS,
    "labour-without-hours": ACROSS,
    "missing-file": ABSENT,
    "missing-folder": ABSENT,
    "reckoning-lacks-fact": ACROSS,
    "reckoning-lacks-limit": ACROSS,
    "reckoning-lacks-system": ACROSS,
    "reckoning-lacks-table": ACROSS,
    "row-length": SIBLING,
    "treatment-circle": ACROSS,
    "unknown-file": ABSENT,
    "unknown-file-yml": ABSENT,
    "unreadable-file": ABSENT,
}
"""Bad rule sets that only linking finds out, and why."""

NOT_IN_A_SHOP = {
    "both-formats": ABSENT,
    "case-twice": ACROSS,
    "replaced-twice": ACROSS,
    "replaces-another": SIBLING,
    "retired-and-replaced": ACROSS,
}
"""The same for a shop's changes."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Draft202012Validator]:
    folder = tmp_path_factory.mktemp("shop") / "shop"
    shutil.copytree(HERE / "small_shop", folder)
    shutil.copytree(SMALL, folder / "supplied")
    return validators(folder)


def marked(found: dict[str, Draft202012Validator], bad: Path, parts: Iterable[Part]) -> bool:
    """Whether an editor marks a file of `bad`: as no YAML, or against its schema."""
    for part in parts:
        for file in filter(Path.is_file, sorted(bad.glob(part.pattern))):
            try:
                data = read_document(file).data
            except DocumentError:
                return True
            if data is not None and part.schema in found and not found[part.schema].is_valid(data):
                return True
    return False


@pytest.mark.parametrize("name", sorted(path.name for path in (HERE / "bad_rulesets").iterdir()))
def test_an_editor_marks_every_bad_rule_set_it_can(
    small: dict[str, Draft202012Validator], name: str
) -> None:
    by_editor = marked(small, HERE / "bad_rulesets" / name, PARTS)
    assert by_editor is (name not in NOT_BY_AN_EDITOR), NOT_BY_AN_EDITOR.get(name)


@pytest.mark.parametrize("name", sorted(path.name for path in (HERE / "bad_shops").iterdir()))
def test_an_editor_marks_every_bad_change_of_a_shop_it_can(
    shop: dict[str, Draft202012Validator], name: str
) -> None:
    by_editor = marked(shop, HERE / "bad_shops" / name, SHOP_PARTS)
    assert by_editor is (name not in NOT_IN_A_SHOP), NOT_IN_A_SHOP.get(name)


def test_what_only_linking_finds_is_there() -> None:
    for folder, names in (("bad_rulesets", NOT_BY_AN_EDITOR), ("bad_shops", NOT_IN_A_SHOP)):
        assert {name for name in names if not (HERE / folder / name).is_dir()} == set()


@pytest.mark.parametrize("kind", Kind)
def test_a_quantity_that_is_read_is_never_marked(kind: Kind) -> None:
    validator = Draft202012Validator(written(kind))
    accepted = 0
    for word in unit_words(kind) or ("",):
        for text in (
            f"3 {word}", f"3{word}", f"2.5 {word.upper()}", f"1/4 {word}", f"1 1/2 {word}",
            f"-4 {word}", f"1,250 {word}", f"{word} 12", f"1e3 {word}", "1:30", "1 h 30 min", "7",
        ):  # fmt: skip
            try:
                parse_quantity(text, kind)
            except QuantityError:
                continue
            accepted += 1
            assert validator.is_valid(text), text
    assert accepted


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Kind.THICKNESS, "12"), (Kind.THICKNESS, 12), (Kind.THICKNESS, "12 degC"),
        (Kind.TEMPERATURE, "3 %"), (Kind.TIME, "20"), (Kind.MONEY, 60), (Kind.COUNT, "$film.limit"),
        (Kind.THICKNESS, "film.limit"), (Kind.AREA, "2 mm"),
    ],
)  # fmt: skip
def test_a_quantity_that_lacks_its_unit_is_marked(kind: Kind, text: object) -> None:
    assert not Draft202012Validator(written(kind)).is_valid(text)


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
    assert above == {"$ref": "#/$defs/operand-thickness"}
    limits = small["rules"].schema["$defs"]["operand-thickness"]["anyOf"][0]["anyOf"]
    offered = {each["const"]: each["description"] for each in limits}
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


def test_schemas_hold_no_part_that_nothing_refers_to(tmp_path: Path) -> None:
    """With every condition in each of them they took seventy megabytes."""
    for file in write_schemas(load_ruleset(SMALL), tmp_path / "schemas"):
        schema = file.read_text("utf-8")
        for name in json.loads(schema)["$defs"]:
            assert f'"#/$defs/{name}"' in schema, f"{file.name}: {name}"


def test_every_file_a_shop_starts_from_finds_its_schema(tmp_path: Path) -> None:
    """The line an editor follows names the schema by a path that is relative to the file."""
    folder = tmp_path / "our-rules"
    assert run(["rules", "new-shop", str(folder)]) == 0
    files = sorted(file for file in folder.rglob("*.yaml") if file.name != "replaced.yaml")
    assert len(files) >= 9
    parts = {part.schema: part.pattern for part in SHOP_PARTS}
    for file in files:
        line = file.read_text("utf-8").splitlines()[0]
        named = line.removeprefix("# yaml-language-server: $schema=")
        schema = (file.parent / named).resolve()
        assert schema.is_file(), line
        assert schema.parent == folder / "schemas"
        assert file in folder.glob(parts[schema.name.removesuffix(".schema.json")])


@pytest.mark.parametrize("name", ["rules", "facts", "limits", "cases", "steps", "products"])
def test_an_editor_has_something_to_show_for_every_key(
    small: dict[str, Draft202012Validator], name: str
) -> None:
    """Every named key that is offered is described, or refers to a part that is."""
    schema = small[name].schema
    bare = [path for path, part in keys_of(schema) if not described(part, schema)]
    assert bare == []


def keys_of(part: object, path: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(part, dict):
        for key, inner in part.items():
            if key in ("allOf", "if", "then", "propertyNames", "condition-of-the-car"):
                continue
            if key == "properties":
                yield from ((f"{path}/{named}", each) for named, each in inner.items())
            yield from keys_of(inner, f"{path}/{key}")
    elif isinstance(part, list):
        for index, inner in enumerate(part):
            yield from keys_of(inner, f"{path}/{index}")


def described(part: object, schema: dict[str, object]) -> bool:
    if not isinstance(part, dict):
        return part is False
    if "description" in part or "anyOf" in part:
        return True
    name = str(part.get("$ref", "")).removeprefix("#/$defs/")
    defs = schema["$defs"]
    assert isinstance(defs, dict)
    return name in defs and described(defs[name], schema)
