"""A quick look whether data follows a schema, so that the slow and exact one is seldom needed.

A schema is compiled to closures. `True` means that the data follows it for certain; `False` means
that the exact validator has to look, which also finds the words for what is wrong. Keywords that
are not known here make the whole schema answer `False`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

Data = Any
Look = Callable[[Data], bool]

# Keywords that say nothing about the data.
_SILENT = frozenset(
    ("$schema", "$defs", "title", "description", "patternErrorMessage", "then", "else")
)


class _Unknown(Exception):
    """A keyword that is not known here."""


def quick_look(schema: Mapping[str, Any]) -> Look:
    """A closure that is True only for data that follows the schema, whose `$ref`s are local."""
    try:
        return _Compiler(schema.get("$defs", {})).look(schema)
    except _Unknown:
        return lambda data: False


class _Compiler:
    def __init__(self, defs: Mapping[str, Any]) -> None:
        self._defs = defs
        self._named: dict[str, Look] = {}

    def look(self, schema: object) -> Look:
        if schema is True or schema == {}:
            return lambda data: True
        if schema is False:
            return lambda data: False
        if not isinstance(schema, Mapping):
            raise _Unknown
        looks = [
            made
            for key, value in schema.items()
            if key not in _SILENT and (made := self._keyword(key, value, schema)) is not None
        ]
        if len(looks) == 1:
            return looks[0]

        def every(data: Data) -> bool:
            for look in looks:  # noqa: SIM110 (a generator is slower, and this is run most)
                if not look(data):
                    return False
            return True

        return every

    def _keyword(self, key: str, value: Any, schema: Mapping[str, Any]) -> Look | None:
        match key:
            case "$ref":
                return self._reference(str(value))
            case "type":
                return _type(value)
            case "enum":
                return _among(value)
            case "const":
                return _among([value])
            case "pattern":
                found = re.compile(value).search
                return lambda data: not isinstance(data, str) or found(data) is not None
            case "minLength":
                return lambda data: not isinstance(data, str) or len(data) >= value
            case "minItems":
                return lambda data: not isinstance(data, list) or len(data) >= value
            case "maxItems":
                return lambda data: not isinstance(data, list) or len(data) <= value
            case "minProperties":
                return lambda data: not isinstance(data, dict) or len(data) >= value
            case "maxProperties":
                return lambda data: not isinstance(data, dict) or len(data) <= value
            case "minimum":
                return lambda data: not _is_number(data) or data >= value
            case "maximum":
                return lambda data: not _is_number(data) or data <= value
            case "uniqueItems":
                return _unique if value else None
            case "items":
                return self._items(value)
            case "required":
                wanted = tuple(value)
                return lambda data: (
                    not isinstance(data, dict) or all(name in data for name in wanted)
                )
            case "dependentRequired":
                return _dependent(value)
            case "propertyNames":
                named = self.look(value)
                return lambda data: not isinstance(data, dict) or all(map(named, data))
            case "properties":
                return self._properties(value, schema)
            case "additionalProperties":
                return None if "properties" in schema else self._properties({}, schema)
            case "allOf":
                looks = [self.look(part) for part in value]
                return lambda data: all(look(data) for look in looks)
            case "if":
                return self._conditional(schema)
        raise _Unknown

    def _reference(self, name: str) -> Look:
        if not name.startswith("#/$defs/"):
            raise _Unknown
        name = name.removeprefix("#/$defs/")
        if name not in self._named:
            # A part may hold itself, so it is looked up only when it is used.
            if name not in self._defs:
                raise _Unknown
            self._named[name] = lambda data: False
            self._named[name] = self.look(self._defs[name])
        return lambda data: self._named[name](data)

    def _items(self, schema: object) -> Look:
        look = self.look(schema)
        return lambda data: not isinstance(data, list) or all(map(look, data))

    def _properties(self, properties: Mapping[str, Any], schema: Mapping[str, Any]) -> Look:
        looks = {name: self.look(part) for name, part in properties.items()}
        other = self.look(schema.get("additionalProperties", True))

        def every(data: Data) -> bool:
            if not isinstance(data, dict):
                return True
            for name, value in data.items():  # noqa: SIM110 (as above)
                if not looks.get(name, other)(value):
                    return False
            return True

        return every

    def _conditional(self, schema: Mapping[str, Any]) -> Look:
        """`if` is taken exactly only where it is simple, since a doubtful no would be a yes."""
        condition = _exact(schema["if"])
        then = self.look(schema.get("then", True))
        otherwise = self.look(schema.get("else", True))
        return lambda data: (then if condition(data) else otherwise)(data)


def _exact(schema: Mapping[str, Any]) -> Look:
    """A condition made only of keywords that are decided exactly either way."""
    if not isinstance(schema, Mapping):
        raise _Unknown
    looks: list[Look] = []
    for key, value in schema.items():
        match key:
            case "properties":
                looks += [_exact_property(name, part) for name, part in value.items()]
            case "required":
                looks.append(_all_there(value))
            case "enum":
                looks.append(_among(value))
            case "const":
                looks.append(_among([value]))
            case "not":
                looks.append(_opposite(_exact(value)))
            case "anyOf":
                looks.append(_any_of([_exact(part) for part in value]))
            case _:
                raise _Unknown
    return lambda data: all(look(data) for look in looks)


def _exact_property(name: str, part: Mapping[str, Any]) -> Look:
    look = _exact(part)
    return lambda data: not isinstance(data, dict) or name not in data or look(data[name])


def _all_there(names: list[str]) -> Look:
    return lambda data: not isinstance(data, dict) or all(name in data for name in names)


def _opposite(look: Look) -> Look:
    return lambda data: not look(data)


def _any_of(looks: list[Look]) -> Look:
    return lambda data: any(look(data) for look in looks)


# --- single keywords ------------------------------------------------------------------------------


def _is_number(data: Data) -> bool:
    return isinstance(data, int | float) and not isinstance(data, bool)


def _is_integer(data: Data) -> bool:
    if isinstance(data, float):
        return data.is_integer()
    return isinstance(data, int) and not isinstance(data, bool)


_TYPES: Mapping[str, Look] = {
    "string": lambda data: isinstance(data, str),
    "number": _is_number,
    "integer": _is_integer,
    "boolean": lambda data: isinstance(data, bool),
    "array": lambda data: isinstance(data, list),
    "object": lambda data: isinstance(data, dict),
    "null": lambda data: data is None,
}


def _type(value: str | list[str]) -> Look:
    names = [value] if isinstance(value, str) else value
    looks = [_TYPES[name] for name in names]
    if len(looks) == 1:
        return looks[0]
    return lambda data: any(look(data) for look in looks)


def _among(values: list[Any]) -> Look:
    if all(isinstance(value, str) for value in values):
        texts = frozenset(values)
        return lambda data: isinstance(data, str) and data in texts
    if not all(isinstance(value, str | bool) for value in values):
        raise _Unknown
    marked = {(isinstance(value, bool), value) for value in values}
    return lambda data: isinstance(data, str | bool) and (isinstance(data, bool), data) in marked


def _dependent(value: Mapping[str, list[str]]) -> Look:
    def every(data: Data) -> bool:
        return not isinstance(data, dict) or all(
            name in data for given, others in value.items() if given in data for name in others
        )

    return every


def _unique(data: Data) -> bool:
    if not isinstance(data, list):
        return True
    if not all(isinstance(item, str) for item in data):
        return len(data) < 2
    return len(set(data)) == len(data)
