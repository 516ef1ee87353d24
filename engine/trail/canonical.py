"""Canonical JSON: one sequence of bytes for one value, so that a hash of it means something.

Source: RFC 8785 (2020), JSON Canonicalization Scheme; hashes: SHA-256, FIPS 180-4 (2015).
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections import Counter
from contextlib import suppress
from typing import Any, NoReturn

import rfc8785

from engine.errors import TrailError
from engine.plaintext import quoted

MAX_DEPTH = 100
_MOST = 2**53 - 1
_SAFE_FLOAT = 1e15
_LONGEST_INT = 22
_PAST_PLAIN_TEXT = re.compile("[\ud800-\U0010ffff]")
"""Characters that UTF-16 sorts otherwise than Python does, and halves of such characters."""
_PAST_PLAIN_NUMBERS = re.compile(
    r"[:,\[]-?(?:[0-9]{16,}|[0-9]+\.0|[0-9.]+[eE][-+]?[0-9]+)[,\]}]", re.ASCII
)
"""Numbers that Python may spell otherwise than RFC 8785; texts that look so do no harm."""


def canonical(value: object) -> bytes:
    """The canonical JSON of plain data: dict, list, text, whole numbers, floats, bool and None.

    Raises TrailError, naming the place in the data, for what other readers of JSON would not read
    back alike: whole numbers past 2**53 - 1, infinities, fractions, sets, text with lone
    surrogates, keys that are not text, nesting past `MAX_DEPTH`.
    """
    quick = _quick(value)
    if quick is not None:
        return quick.encode("utf-8")
    _check(value, (), 0)
    return rfc8785.dumps(value)  # type: ignore[arg-type]


def parse(text: str | bytes) -> Any:
    """The value of a JSON text (RFC 8259), read without a guess.

    Raises TrailError for what is not JSON, for a key that stands twice in one object and for
    whole numbers that a float does not hold exactly.
    """
    try:
        read = text.decode("utf-8") if isinstance(text, bytes) else text
        with suppress(ValueError):
            value = json.loads(read)
            # Written again it is the same to the letter: nothing was passed over or guessed.
            if isinstance(value, dict | list) and _plainly(value) == read:
                return value
        return _STRICT.decode(read)
    except RecursionError:
        raise TrailError(f"the JSON is nested more than {MAX_DEPTH} levels deep") from None
    except ValueError as error:
        raise TrailError(f"this is not JSON: {error}") from None


def is_canonical(text: str) -> bool:
    """Whether a JSON text is the canonical one of its value."""
    try:
        return canonical(parse(text)) == text.encode("utf-8")
    except (TrailError, ValueError):
        return False


def reads_as(read: Any, value: object) -> bool:
    """Whether `read`, which was read by `parse`, is what canonical JSON of `value` reads as.

    False also where that cannot be told quickly: then spell both out.
    """
    # To Python true is 1; all else that it takes to be equal is spelt alike.
    return bool(read == value) and _true_alike(read, value)


def _true_alike(read: Any, value: Any) -> bool:
    """Whether two equal values have booleans at the same places, and no number too large."""
    kind = read.__class__
    if kind is dict:
        return all(
            _true_alike(item, value[key]) for key, item in read.items() if item.__class__ is not str
        )
    if kind is list:
        return all(map(_true_alike, read, value))
    if kind is str or read is None:
        return True
    return (kind is bool) is (value.__class__ is bool) and abs(read) <= _MOST


def _quick(value: object) -> str | None:
    """The canonical JSON of an object or list; None where it takes more care to write.

    Python's own encoder is many times quicker, and writes most keys, texts and numbers as
    RFC 8785 does.
    """
    if not isinstance(value, dict | list):
        return None
    try:
        return _plainly(_narrowed(value, 0))
    except (TypeError, ValueError, RecursionError):
        return None


def _plainly(value: dict[str, Any] | list[Any]) -> str | None:
    """What Python's encoder writes; None where RFC 8785 may want it otherwise."""
    text = _PYTHONS.encode(value)
    if not text.isascii() and _PAST_PLAIN_TEXT.search(text):
        return None
    return None if _PAST_PLAIN_NUMBERS.search(text) else text


def _narrowed(value: Any, depth: int) -> Any:
    """`value` with its floats that are whole as whole numbers, the way RFC 8785 writes them.

    Raises TypeError for what is no plain data and for what is nested too deeply.
    """
    kind = type(value)
    if kind is str or value is None:
        return value
    if kind is float:
        return int(value) if value.is_integer() and abs(value) < _SAFE_FLOAT else value
    if kind is dict or kind is list or kind is tuple:
        if depth >= MAX_DEPTH:
            raise TypeError
        if kind is dict:
            for key in value:
                if type(key) is not str:
                    raise TypeError
            return {key: _narrowed(item, depth + 1) for key, item in value.items()}
        return [_narrowed(item, depth + 1) for item in value]
    if kind is not int and kind is not bool:
        raise TypeError
    return value


def sha256(data: bytes) -> str:
    """The SHA-256 of `data` as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def _with_fraction(written: str) -> float:
    number = float(written)
    if math.isinf(number):
        raise TrailError(f"the number {quoted(written)} is too large")
    return number


def _whole(written: str) -> int | float:
    if len(written) <= _LONGEST_INT and abs(int(written)) <= _MOST:
        return int(written)
    # Written out in full, a float past 2**53 looks like a whole number.
    number = float(written) if len(written) <= _LONGEST_INT else math.inf
    if rfc8785.dumps(number if math.isfinite(number) else 0) != written.encode("ascii"):
        raise TrailError(f"the whole number {quoted(written)} is too large to be read exactly")
    return number


def _no_such_number(written: str) -> NoReturn:
    raise TrailError(f"`{written}` is no JSON number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = Counter(key for key, _ in pairs).most_common(1)[0][0]
        raise TrailError(f"the key {quoted(twice)} stands twice in one object")
    return found


_STRICT = json.JSONDecoder(
    object_pairs_hook=_once,
    parse_float=_with_fraction,
    parse_int=_whole,
    parse_constant=_no_such_number,
)
_PYTHONS = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)


def strict_decoder() -> json.JSONDecoder:
    """A decoder that reads as `parse` does, for reading a file piece by piece."""
    return _STRICT


def _check(value: object, path: tuple[str | int, ...], depth: int) -> None:
    if value is None or isinstance(value, bool):
        return
    if isinstance(value, str):
        _check_text(value, path)
    elif isinstance(value, int):
        if abs(value) > _MOST:
            _refuse(path, "a whole number past 2**53 - 1; write it as text")
    elif isinstance(value, float):
        if not math.isfinite(value):
            _refuse(path, "not a finite number")
    elif depth >= MAX_DEPTH:
        _refuse(path, f"nested more than {MAX_DEPTH} levels deep")
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                _refuse(path, f"a mapping with the key {quoted(repr(key))}; keys must be text")
            _check_text(key, path)
            _check(item, (*path, key), depth + 1)
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _check(item, (*path, index), depth + 1)
    else:
        _refuse(path, f"a {type(value).__name__}; write a quantity as text")


def _check_text(text: str, path: tuple[str | int, ...]) -> None:
    if not text.isascii():
        try:
            text.encode("utf-8")
        except UnicodeEncodeError:
            _refuse(path, "text with half a character (a lone surrogate)")


def _refuse(path: tuple[str | int, ...], what: str) -> NoReturn:
    where = "/".join(str(part) for part in path)
    what_holds = f"{quoted(where)} is" if where else "this is"
    raise TrailError(f"{what_holds} {what}; the record cannot keep it")
