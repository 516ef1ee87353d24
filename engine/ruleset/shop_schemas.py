"""The schemas of a shop's files, made from those of the supplied ones.

What a shop may add has the same shape as in the supplied set, except that each entry says who,
when and why, may name the supplied part it replaces, and need not name a source. After a change
of a supplied schema `python -m engine.ruleset.shop_schemas` writes the shop's ones again.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator, Mapping
from typing import Any

Schema = dict[str, Any]
_Path = tuple[str, ...]

_COMMON = "common.schema.json#/$defs/"
_REPLACES: Mapping[str, str | None] = {
    "rules": "The supplied rule that this one stands in for.",
    "labour": None,
}
_USUAL = "The supplied one of the same name, where this takes its place."
_SAID = {
    "by": "Who in the shop made this change.",
    "on": "The day of the change, as in `2026-03-01`.",
    "why": "Why the shop does it this way; it is shown wherever the change decides.",
}

MADE: Mapping[str, tuple[_Path, ...]] = {
    "rules": (("items",),),
    "facts": (("additionalProperties",),),
    "steps": (("properties", "steps", "additionalProperties"),),
    "products": (
        ("properties", "products", "additionalProperties"),
        ("properties", "systems", "additionalProperties"),
    ),
    "cautions": (("properties", "cautions", "additionalProperties"),),
    "outcomes": (("properties", "hold", "additionalProperties"),),
    "gear": (("properties", "gear", "additionalProperties"),),
    "labour": ((),),
    "tables": (("properties", "tables", "additionalProperties"),),
}
"""Where the entries of each kind of file stand in its schema."""

_WITHOUT = "without `rest: supplied`"

_LEFT_OUT = {"cautions": "standing", "outcomes": "treatment"}
"""What stays the supplied set's own."""


def shop_schema(kind: str, supplied: Mapping[str, Any]) -> Schema:
    """The schema of a shop's file of that kind, from the schema of the supplied one."""
    made: Schema = copy.deepcopy(dict(supplied))
    made["title"] = f"{made['title']} of a shop"
    left_out = _LEFT_OUT.get(kind)
    if left_out:
        del made["properties"][left_out]
    entries = [_inside(made, path) for path in MADE[kind]]
    if entries[0] is not made:
        # A shop's file may be all comments, and need not have every part.
        made.pop("required", None)
        made.pop("minItems", None)
        made.pop("minProperties", None)
    for entry in entries:
        _mark(entry, _REPLACES.get(kind, _USUAL))
    if kind == "labour":
        _may_leave_the_rest(made)
    return made


def _may_leave_the_rest(labour: Schema) -> None:
    """Let a file that says so hold only what it changes."""
    whole = [key for key in labour["required"] if key not in _SAID]
    labour["properties"]["rest"] = {
        "description": "`supplied`: what is not said here stays as in the supplied file; without "
        "it this file takes the place of the supplied one.",
        "enum": ["supplied"],
    }
    labour["required"] = [*_SAID]
    labour["if"] = {"not": {"required": ["rest"]}}
    labour["then"] = {"title": f"the file, whole as it is {_WITHOUT}", "required": whole}


def _inside(schema: Schema, path: _Path) -> Schema:
    for key in path:
        schema = schema[key]
    return schema


def _mark(entry: Schema, replaces: str | None) -> None:
    entry["title"] = f"{entry['title']} of a shop"
    entry["properties"] |= {
        key: {"$ref": f"{_COMMON}change-{key}", "description": said} for key, said in _SAID.items()
    }
    if replaces is not None:
        entry["properties"]["replaces"] = {"$ref": f"{_COMMON}written", "description": replaces}
    kept = [key for key in entry.get("required", ()) if key != "source"]
    entry["required"] = [*kept, "by", "on", "why"]


def written() -> Iterator[tuple[str, str]]:
    """Every shop schema that is made, by file name, as it stands in the folder of schemas."""
    from engine.supplied import schema_folder

    for kind in MADE:
        supplied = json.loads((schema_folder() / f"{kind}.schema.json").read_text("utf-8"))
        text = json.dumps(shop_schema(kind, supplied), indent=1, ensure_ascii=False)
        yield f"shop-{kind}.schema.json", f"{text}\n"


def main() -> None:
    from engine.supplied import schema_folder

    for name, text in written():
        (schema_folder() / name).write_text(text, "utf-8")


if __name__ == "__main__":
    main()
