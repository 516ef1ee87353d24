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
from engine.ruleset.quick_shape import Look, quick_look
from engine.ruleset.wording import Flaw, Wording
from engine.supplied import schema_folder

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator

_COMMON = "common.schema.json"


def shape_problems(document: Document, schema: str) -> list[tuple[Path_, Problem]]:
    """The problems of a document against the schema of that name, each with the path it spoils."""
    if _quick(schema)(document.data):
        return []
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
def read_schema(name: str) -> dict[str, Any]:
    """A schema of `shared/schemas` as it stands there, by its file name; not to be changed."""
    loaded: dict[str, Any] = json.loads((schema_folder() / name).read_text("utf-8"))
    return loaded


@cache
def _validator(name: str) -> Draft202012Validator:
    # Slow to import, and needed only where something is wrong.
    from jsonschema import Draft202012Validator

    return Draft202012Validator(_whole(name))


@cache
def _quick(name: str) -> Look:
    return quick_look(_whole(name))


@cache
def _whole(name: str) -> dict[str, Any]:
    schema, common = read_schema(f"{name}.schema.json"), read_schema(_COMMON)["$defs"]
    defs = {**common, **schema.get("$defs", {})}
    whole = _inlined(schema, defs, frozenset())
    assert isinstance(whole, dict)
    return {**whole, "$defs": _local(defs)}


def _local(part: Any) -> Any:
    """A part whose references point into the schema it stands in."""
    if isinstance(part, list):
        return [_local(item) for item in part]
    if not isinstance(part, dict):
        return part
    found = {key: _local(value) for key, value in part.items()}
    if isinstance(found.get("$ref"), str):
        found["$ref"] = f"#/$defs/{found['$ref'].rpartition('/')[2]}"
    return found


def _inlined(part: object, defs: Mapping[str, Any], inside: frozenset[str]) -> object:
    """The schema with shared parts written out where they are used, which is quicker to follow.

    A part that holds itself, as a condition does, is left as a reference within the schema.
    """
    if isinstance(part, list):
        return [_inlined(item, defs, inside) for item in part]
    if not isinstance(part, dict):
        return part
    here = dict(part)
    if "$ref" in here:
        name = str(here["$ref"]).rpartition("/")[2]
        if name in inside:
            return here
        del here["$ref"]
        here = {**defs[name], **here}
        inside = inside | {name}
    return {key: _inlined(value, defs, inside) for key, value in here.items()}
