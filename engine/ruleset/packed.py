"""A linked rule set as bytes and back, quicker than reading its files again.

What is read back is made of the rule set's own types alone: bytes that ask for anything else are
refused, so that no file can have code run.
"""

from __future__ import annotations

import gc
import io
import pickle
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from functools import cache
from importlib import import_module
from typing import Any

from engine.ruleset.model import RuleSet

_OURS = ("engine.ruleset.", "engine.quantity.", "engine.errors.")
_OTHERS = {
    (__name__, "_made"),
    (__name__, "_fraction"),
    ("datetime", "date"),
    ("engine.document", "WrittenNumber"),
    ("engine.document", "WrittenInt"),
}


def pack(ruleset: RuleSet) -> bytes:
    """The bytes of a rule set."""
    written = io.BytesIO()
    _Packer(written, pickle.HIGHEST_PROTOCOL).dump(ruleset)
    return written.getvalue()


def unpack(packed: bytes) -> RuleSet:
    """The rule set that was packed. Raises ValueError for bytes of anything else."""
    collecting = gc.isenabled()
    # Nothing made here is garbage, and the collector would look through it again and again.
    gc.disable()
    try:
        found = _Unpacker(io.BytesIO(packed)).load()
    except Exception as error:
        # Broken bytes make the library raise almost anything.
        raise ValueError(f"no packed rule set: {error!r}") from error
    finally:
        if collecting:
            gc.enable()
    if not isinstance(found, RuleSet):
        raise ValueError("no packed rule set")
    return found


class _Packer(pickle.Pickler):
    def reducer_override(self, value: object) -> Any:
        if isinstance(value, Fraction):
            return _fraction, (value.numerator, value.denominator)
        if is_dataclass(value) and not isinstance(value, type):
            given = tuple(getattr(value, field.name) for field in fields(value))
            return _made, (type(value), *given)
        return NotImplemented


class _Unpacker(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        found = getattr(import_module(module), name) if self._may(module, name) else None
        if (module, name) in _OTHERS or _is_plain_type(found):
            return found
        raise pickle.UnpicklingError(f"{module}.{name} is no part of a rule set")

    @staticmethod
    def _may(module: str, name: str) -> bool:
        return (module, name) in _OTHERS or f"{module}.".startswith(_OURS)


def _is_plain_type(found: object) -> bool:
    return isinstance(found, type) and (is_dataclass(found) or issubclass(found, Enum))


def _fraction(numerator: int, denominator: int) -> Fraction:
    made = object.__new__(Fraction)
    # It was in lowest terms when it was packed; making it anew would work that out again.
    made._numerator = numerator  # type: ignore[attr-defined]
    made._denominator = denominator  # type: ignore[attr-defined]
    return made


def _made(kind: type, *values: object) -> object:
    made: object = object.__new__(kind)
    for put, value in zip(_setters(kind), values, strict=True):
        put(made, value)
    return made


@cache
def _setters(kind: type) -> tuple[Callable[[object, object], None], ...]:
    # The slots themselves: a frozen class lets nothing be set on its objects.
    return tuple(getattr(kind, field.name).__set__ for field in fields(kind))
