"""Checks the shape of a rule set's files by JSON Schema.

The schemas are those of `shared/schemas` (JSON Schema, draft 2020-12), the same that an editor
uses. Shape is all they know: whether a name exists or a test fits a fact is checked afterwards.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from engine.document import Document, Path_
from engine.errors import Problem
from engine.ruleset.wording import Flaw, Wording
from engine.supplied import schema_folder

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator

_COMMON = "common.schema.json"


def shape_problems(document: Document, schema: str) -> list[tuple[Path_, Problem]]:
    """The problems of a document against the schema of that name, each with the path it spoils."""
    flaws = [
        Flaw(
            path=tuple(error.absolute_path),
            keyword=str(error.validator),
            wanted=error.validator_value,
            found=error.instance,
            schema=error.schema if isinstance(error.schema, Mapping) else {},
            in_a_key="propertyNames" in error.absolute_schema_path,
        )
        for error in _validator(schema).iter_errors(document.data)
    ]
    return list(Wording(document, flaws).problems()) if flaws else []


@cache
def _schema(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((schema_folder() / name).read_text("utf-8"))
    return loaded


@cache
def _validator(name: str) -> Draft202012Validator:
    # Slow to import, and needed by nothing else.
    from jsonschema import Draft202012Validator

    return Draft202012Validator(_with_common_parts(_schema(f"{name}.schema.json")))


def _with_common_parts(schema: dict[str, Any]) -> dict[str, Any]:
    """The schema with the shared parts put in its own `$defs`, which is quicker to follow."""
    whole = _local(schema)
    assert isinstance(whole, dict)
    own: Mapping[str, Any] = whole.get("$defs", {})
    return {**whole, "$defs": {**_schema(_COMMON)["$defs"], **own}}


def _local(part: object) -> object:
    if isinstance(part, dict):
        return {
            key: value.removeprefix(_COMMON) if key == "$ref" else _local(value)
            for key, value in part.items()
        }
    return [_local(item) for item in part] if isinstance(part, list) else part
