"""The public JSON Schema test suite, for the keywords that the schemas here rely on.

Source: JSON Schema Test Suite, draft 2020-12 (MIT), as it lies in the source release of the
jsonschema library, in the folder that PREPWRIGHT_JSON_SCHEMA_SUITE names; skipped where that is
not set. `.ci/run` fetches it. Cases that fetch another schema are left out, as no schema here
refers outside the project.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from engine.ruleset.quick_shape import quick_look
from engine.supplied import schema_folder

_NAMED = os.environ.get("PREPWRIGHT_JSON_SCHEMA_SUITE")
SUITE = Path(_NAMED) if _NAMED else None

pytestmark = pytest.mark.skipif(
    SUITE is None, reason="PREPWRIGHT_JSON_SCHEMA_SUITE names no JSON Schema test suite"
)

USED = tuple(
    "additionalProperties allOf anyOf boolean_schema const defs dependentRequired enum"  # noqa: SIM905
    " exclusiveMinimum if-then-else items maxItems maxLength maximum maxProperties minItems"
    " minLength minimum minProperties not oneOf pattern properties propertyNames ref required type"
    " uniqueItems".split()
)
"""The files of the suite for what the schemas use."""

MARKS = {"$schema", "$id", "title", "description", "patternErrorMessage", "markdownDescription"}
TOGETHER = {"then": "if-then-else", "else": "if-then-else", "if": "if-then-else"}
TOGETHER |= {"$ref": "ref", "$defs": "defs"}


def cases() -> Iterator[Any]:
    for file in [SUITE / f"{name}.json" for name in USED] if SUITE else ():
        for group in json.loads(file.read_text("utf-8")):
            text = json.dumps(group["schema"])
            if "http://localhost" in text or '"$ref": "http' in text:
                continue
            for case in group["tests"]:
                name = f"{file.stem}: {group['description']}: {case['description']}"
                yield pytest.param(group["schema"], case["data"], case["valid"], id=name)


CASES = list(cases())


def keywords(schema: Any) -> Iterator[str]:
    if isinstance(schema, list):
        for part in schema:
            yield from keywords(part)
    if not isinstance(schema, dict):
        return
    for key, value in schema.items():
        yield key
        if key in ("properties", "$defs", "patternProperties"):
            for part in value.values():
                yield from keywords(part)
        elif key not in ("enum", "const", "required", "dependentRequired"):
            yield from keywords(value)


def test_there_are_cases_for_every_keyword_of_the_schemas() -> None:
    used = {
        keyword
        for path in schema_folder().glob("*.json")
        for keyword in keywords(json.loads(path.read_text("utf-8")))
    }
    assert {TOGETHER.get(keyword, keyword) for keyword in used - MARKS} <= set(USED)
    assert len(CASES) > 500


@pytest.mark.parametrize(("schema", "data", "valid"), CASES)
def test_the_exact_validator_says_what_the_suite_says(schema: Any, data: Any, valid: bool) -> None:
    assert Draft202012Validator(schema).is_valid(data) is valid


@pytest.mark.parametrize(("schema", "data", "valid"), CASES)
def test_the_quick_look_lets_nothing_wrong_pass(schema: Any, data: Any, valid: bool) -> None:
    quick = schema if isinstance(schema, dict) else {"allOf": [schema]}
    assert valid or not quick_look(quick)(data)


DECIDED = (
    "additionalProperties allOf dependentRequired enum if-then-else items maxItems maximum"
    " maxProperties minItems minLength minimum minProperties pattern properties propertyNames"
    " required type uniqueItems"
)
"""The files for the keywords that the quick look decides by itself."""


@pytest.mark.parametrize("name", DECIDED.split())
def test_the_quick_look_is_sure_of_something_by_each_keyword(name: str) -> None:
    following = [
        case.values for case in CASES if str(case.id).startswith(f"{name}:") and case.values[2]
    ]
    assert any(
        isinstance(schema, dict) and quick_look(schema)(data) for schema, data, _ in following
    )
