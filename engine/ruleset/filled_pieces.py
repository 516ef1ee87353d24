"""Pieces of the schemas that a rule set's own names are filled into."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from engine.quantity import Kind
from engine.quantity.units import KINDS, Dimension, unit_words
from engine.ruleset.cases import ABSENT
from engine.ruleset.model import FactKind, FactSpec

Schema = dict[str, Any]

_COMMON = "common.schema.json"
_SCALAR = ["string", "number"]
_UNKNOWN = "unknown"
_DEFS = "#/$defs/"


def local(part: Any) -> Any:
    """A schema whose references point into itself."""
    if isinstance(part, list):
        return [local(item) for item in part]
    if not isinstance(part, dict):
        return part
    found = {key: local(value) for key, value in part.items()}
    if isinstance(found.get("$ref"), str):
        found["$ref"] = found["$ref"].removeprefix(_COMMON)
    return found


def put(properties: Schema, key: str, shape: Schema) -> None:
    """Give a property a shape of its own; what is said of it stays."""
    if key in properties:
        said = properties[key].get("description")
        properties[key] = {**({"description": said} if said else {}), **shape}


def of(names: Mapping[str, str | None]) -> Schema:
    """One of these names, each with what it means."""
    if not names:
        return {"type": "string"}
    return {
        "anyOf": [
            {"const": name, **({"description": said} if said else {})}
            for name, said in names.items()
        ]
    }


def also(names: Schema, more: Mapping[str, str]) -> Schema:
    """One of these names, or one of a few more."""
    extra = [{"const": name, "description": said} for name, said in more.items()]
    return {"anyOf": [*names.get("anyOf", [names]), *extra]}


def listed(shape: Schema) -> Schema:
    return {"type": "array", "uniqueItems": True, "items": shape}


def one_or_many(shape: Schema) -> Schema:
    return {"anyOf": [shape, {**listed(shape), "minItems": 1}]}


def with_words(words: Mapping[str, Schema]) -> Schema:
    known = {"description": "Whether the fact is known at all.", "enum": ["yes", "no"]}
    return {
        "type": "object",
        "minProperties": 1,
        "properties": {**words, "known": known},
        "additionalProperties": False,
    }


def known() -> Schema:
    return with_words({})


def choices(spec: FactSpec) -> Schema:
    texts = {choice.id: choice.text for choice in spec.choices}
    return of({choice: texts.get(choice) for choice in spec.choice_ids})


def about_fact(spec: FactSpec) -> str:
    asked = f" {spec.ask}" if spec.ask else ""
    return f"{spec.title}.{asked}"


def value(spec: FactSpec) -> Schema:
    """How a told fact is written in a case, with `unknown` and `absent` beside its values."""
    beside = {_UNKNOWN: "It is not known.", ABSENT: "Takes the value of the base away."}
    told = {"type": "object", "required": ["value"]}
    said = {"description": about_fact(spec)}
    if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
        return {**said, "anyOf": [also(choices(spec), beside), told]}
    if spec.kind is FactKind.SET:
        return {**said, "anyOf": [one_or_many(also(choices(spec), beside)), told]}
    if spec.kind is FactKind.LIST:
        return {**said, "type": ["array", "string", "number", "object"]}
    return {**said, "type": [*_SCALAR, "object"]}


# --- quantities -----------------------------------------------------------------------------------


def written(kind: Kind) -> Schema:
    """A quantity of that kind as it is written, with its unit where it needs one."""
    said = {"description": f"{KINDS[kind].noun}, as in {KINDS[kind].example}"}
    if KINDS[kind].dimension is Dimension.MONEY:
        return {**said, "type": "string", "pattern": "[A-Za-z$€£]"}
    if KINDS[kind].dimension is Dimension.PLAIN:
        return {**said, "type": _SCALAR, "not": {"type": "string", "pattern": "^\\s*[$a-z]"}}
    return {**said, "type": "string", "pattern": _ends_with_a_unit(kind)}


def _ends_with_a_unit(kind: Kind) -> str:
    """A pattern for text that ends with a unit of that kind, in whatever case and spacing."""
    endings = {re.sub(r"[\s.-]", "", word) for word in unit_words(kind)}
    spelled = sorted((_loosely(word) for word in endings), key=lambda each: (-len(each), each))
    clock = "|:[0-9]{2}" if kind is Kind.TIME else ""
    return f"^(?!\\$).*[0-9][\\s.-]*({'|'.join(spelled)}{clock})[\\s.]*$"


def _loosely(word: str) -> str:
    return r"[\s.-]*".join(map(_in_either_case, word))


def _in_either_case(letter: str) -> str:
    if not letter.isalpha():
        return re.sub(r"([\\^$.|?*+()\[\]{}/])", r"\\\1", letter)
    cases = dict.fromkeys((letter.lower(), letter.upper(), letter))
    return f"[{''.join(each for each in cases if len(each) == 1)}]"


# --- shared parts ---------------------------------------------------------------------------------


def shared(name: str) -> Schema:
    """A reference to a shared part of the schema it stands in."""
    return {"$ref": f"{_DEFS}{name}"}


def only_used(schema: Schema) -> Schema:
    """The schema without the shared parts that nothing in it refers to."""
    parts: Mapping[str, Any] = schema.get("$defs", {})
    used: set[str] = set()
    waiting = [{key: value for key, value in schema.items() if key != "$defs"}]
    while waiting:
        for name in _referred(waiting.pop()):
            if name not in used:
                used.add(name)
                waiting.append(parts[name])
    kept = {name: part for name, part in parts.items() if name in used}
    return {**schema, "$defs": kept}


def _referred(part: Any) -> Iterator[str]:
    if isinstance(part, list):
        for item in part:
            yield from _referred(item)
    elif isinstance(part, dict):
        reference = part.get("$ref")
        if isinstance(reference, str) and reference.startswith(_DEFS):
            yield reference.removeprefix(_DEFS)
        for value in part.values():
            yield from _referred(value)
