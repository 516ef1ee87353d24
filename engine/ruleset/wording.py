"""Says in plain words what breaks a schema."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from engine.document import Document, Path_
from engine.errors import Problem, did_you_mean
from engine.ruleset.report import listed

_TYPE_WORDS = {
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a mapping",
    "null": "nothing",
}


@dataclass(frozen=True, slots=True)
class Flaw:
    """One break of a schema: where, which keyword of which schema, what it wants, what it found.

    `in_a_key` is true where the name of a key breaks it and not a value.
    """

    path: Path_
    keyword: str
    wanted: Any
    found: Any
    schema: Mapping[str, Any]
    in_a_key: bool

    def stray_keys(self) -> list[str]:
        """The keys of the mapping found that the schema does not know."""
        known = self.schema.get("properties", {})
        return [key for key in self.found if key not in known]


class Wording:
    """Turns the validator's errors on one document into problems people can act on."""

    def __init__(self, document: Document, flaws: Iterable[Flaw]) -> None:
        self._document = document
        self._flaws = list(flaws)
        self._stray = {
            flaw.path: flaw.stray_keys()
            for flaw in self._flaws
            if flaw.keyword == "additionalProperties"
        }

    def problems(self) -> Iterable[tuple[Path_, Problem]]:
        told: set[tuple[object, ...]] = set()
        for flaw in self._flaws:
            for problem in self._worded(flaw):
                mark = (problem.code, problem.place, problem.message)
                if mark not in told:
                    told.add(mark)
                    yield flaw.path, problem

    def _worded(self, flaw: Flaw) -> Iterable[Problem]:
        if flaw.in_a_key:
            yield self._bad_key(flaw)
            return
        match flaw.keyword:
            case "additionalProperties":
                yield from self._unknown_keys(flaw)
            case "required" | "dependentRequired":
                yield from self._missing(flaw)
            case "type":
                yield self._wrong_type(flaw)
            case "enum" | "const":
                yield self._not_among(flaw)
            case "pattern":
                yield self._bad_name(flaw)
            case "minLength" | "minItems" | "minProperties":
                yield self._too_few(flaw)
            case "maxItems" | "maxProperties":
                yield self._too_many(flaw)
            case "uniqueItems":
                yield self._problem(
                    "said-twice",
                    f"{self._called(flaw.path)} names the same thing twice",
                    flaw.path,
                    "Keep one of them.",
                )
            case "minimum":
                yield self._problem(
                    "too-small",
                    f"{self._called(flaw.path)} is {flaw.found}; the least is {flaw.wanted}",
                    flaw.path,
                    None,
                )
            case _:
                yield self._problem(
                    "not-as-described",
                    f"{self._called(flaw.path)} is not written as it should be",
                    flaw.path,
                    str(flaw.schema.get("description", "")) or None,
                )

    def _unknown_keys(self, flaw: Flaw) -> Iterable[Problem]:
        known = list(flaw.schema.get("properties", {}))
        where = flaw.schema.get("title", "this mapping")
        for key in flaw.stray_keys():
            yield Problem(
                "unknown-key",
                f"unknown key `{key}` in {where}",
                self._document.key_place(*flaw.path, key),
                did_you_mean(key, known) or f"Known here: {listed(known)}.",
            )

    def _missing(self, flaw: Flaw) -> Iterable[Problem]:
        if flaw.keyword == "required":
            wanted = list(flaw.wanted)
        else:
            wanted = [
                key
                for given, others in flaw.wanted.items()
                if given in flaw.found
                for key in others
            ]
        stray = self._stray.get(flaw.path, [])
        missing = [
            key
            for key in wanted
            if key not in flaw.found and not get_close_matches(key, stray, cutoff=0.6)
        ]
        if missing:
            where = flaw.schema.get("title") or self._called(flaw.path)
            verb = "is" if len(missing) == 1 else "are"
            yield Problem(
                "missing-key",
                f"{listed(missing)} {verb} missing from {where}",
                self._document.key_place(*flaw.path),
                _what_they_are(missing, flaw.schema),
            )

    def _wrong_type(self, flaw: Flaw) -> Problem:
        allowed = flaw.wanted
        kinds = [allowed] if isinstance(allowed, str) else list(allowed)
        if flaw.found is None:
            return self._problem(
                "empty-value",
                f"{self._called(flaw.path)} is empty",
                flaw.path,
                f"Write {_or(kinds)}, or take the key out.",
            )
        fix = None
        if isinstance(flaw.found, bool):
            fix = f"Write {'`yes`' if flaw.found else '`no`'}."
        elif "string" in kinds and isinstance(flaw.found, int | float):
            fix = f'Put it in quotes: "{_written(flaw.found)}".'
        return self._problem(
            "wrong-type",
            f"{self._called(flaw.path)} should be {_or(kinds)}, not {_found(flaw.found)}",
            flaw.path,
            fix,
        )

    def _not_among(self, flaw: Flaw) -> Problem:
        values = [flaw.wanted] if flaw.keyword == "const" else list(flaw.wanted)
        allowed = [str(value) for value in values]
        if flaw.found is None:
            return self._problem(
                "empty-value",
                f"{self._called(flaw.path)} is empty",
                flaw.path,
                f"Write {_either(allowed)}.",
            )
        found = _found(flaw.found)
        fix = None
        if isinstance(flaw.found, bool):
            word = "yes" if flaw.found else "no"
            fix = f"Write `{word}`." if word in allowed else None
        else:
            fix = did_you_mean(str(flaw.found), allowed)
        return self._problem(
            "not-allowed",
            f"{self._called(flaw.path)} cannot be {found}",
            flaw.path,
            fix or f"Write {_either(allowed)}.",
        )

    def _bad_name(self, flaw: Flaw) -> Problem:
        return self._problem(
            "bad-name", f"`{flaw.found}` is not a name", flaw.path, _pattern_fix(flaw)
        )

    def _bad_key(self, flaw: Flaw) -> Problem:
        key = str(flaw.found)
        place = self._document.key_place(*flaw.path, key)
        if flaw.keyword == "enum":
            allowed = [str(value) for value in flaw.wanted]
            fix = did_you_mean(key, allowed) or f"Known here: {listed(allowed)}."
            return Problem("unknown-key", f"unknown key `{key}`", place, fix)
        return Problem("bad-name", f"`{key}` is not a name", place, _pattern_fix(flaw))

    def _too_few(self, flaw: Flaw) -> Problem:
        if flaw.found:
            return self._problem(
                "too-few",
                f"{self._called(flaw.path)} should have {flaw.wanted} entries, "
                f"not {len(flaw.found)}",
                flaw.path,
                str(flaw.schema.get("description", "")) or None,
            )
        return self._problem(
            "empty-value",
            f"{self._called(flaw.path)} is empty",
            flaw.path,
            str(flaw.schema.get("description", "")) or None,
        )

    def _too_many(self, flaw: Flaw) -> Problem:
        return self._problem(
            "too-many",
            f"{self._called(flaw.path)} should have {flaw.wanted} "
            f"{'entry' if flaw.wanted == 1 else 'entries'}, not {len(flaw.found)}",
            flaw.path,
            str(flaw.schema.get("description", "")) or None,
        )

    def _called(self, path: Path_) -> str:
        """What people call the part: its key, or its number in the list that holds it."""
        if not path:
            return "the file"
        last = path[-1]
        if isinstance(last, str):
            return f"`{last}`"
        above = next((str(step) for step in reversed(path[:-1]) if isinstance(step, str)), None)
        return f"entry {last + 1} of `{above}`" if above else f"entry {last + 1}"

    def _problem(self, code: str, message: str, path: Path_, fix: str | None) -> Problem:
        return Problem(code, message, self._document.place(*path), fix)


def _what_they_are(missing: list[str], schema: Mapping[str, Any]) -> str | None:
    # Keys that are due only in some cases are described by the case, which has no `properties`.
    if "properties" not in schema:
        return schema.get("description")
    described = [
        f"`{key}`: {text}"
        for key in missing
        if (text := schema.get("properties", {}).get(key, {}).get("description"))
    ]
    return " ".join(described) or None


def _pattern_fix(flaw: Flaw) -> str | None:
    wanted = flaw.schema.get("patternErrorMessage")
    return f"Names are {wanted}." if wanted else None


def _or(kinds: list[str]) -> str:
    words = [_TYPE_WORDS[kind] for kind in kinds]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _either(allowed: list[str]) -> str:
    return listed(allowed, "or")


def _found(instance: object) -> str:
    if isinstance(instance, bool):
        return f"`{str(instance).lower()}`"
    if isinstance(instance, str):
        return f"`{instance}`" if instance else "empty"
    if isinstance(instance, int | float):
        return f"the number {_written(instance)}"
    if isinstance(instance, dict):
        return "a mapping"
    return "a list" if isinstance(instance, list) else "nothing"


def _written(number: object) -> str:
    return str(getattr(number, "written", number))
