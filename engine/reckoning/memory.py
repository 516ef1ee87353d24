"""Results kept by the identity of what they were reckoned from.

Exact numbers are slow to hash and quick to compare by identity. The same value object comes back
whenever the same told answer is looked at again, which a search for questions does by the
thousand.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Generic, TypeVar

_MOST = 4096

Kept = TypeVar("Kept")


class ByIdentity(Generic[Kept]):
    """A bounded store of results; the inputs are kept beside them, lest an identity is reused."""

    def __init__(self, most: int = _MOST) -> None:
        self._most = most
        self._kept: dict[tuple[int, ...], tuple[tuple[object, ...], Kept]] = {}

    def get(self, inputs: tuple[object, ...]) -> Kept | None:
        found = self._kept.get(tuple(map(id, inputs)))
        return None if found is None else found[1]

    def put(self, inputs: tuple[object, ...], result: Kept) -> Kept:
        if len(self._kept) >= self._most:
            self._kept.clear()
        self._kept[tuple(map(id, inputs))] = (inputs, result)
        return result


def kept_by_identity(function: Callable[..., Kept]) -> Callable[..., Kept]:
    """A pure function of positional arguments that is worked out once for the same objects.

    Not for functions that may return None; an error is not kept.
    """
    store: ByIdentity[Kept] = ByIdentity()

    @wraps(function)
    def kept(*inputs: Any) -> Kept:
        found = store.get(inputs)
        return store.put(inputs, function(*inputs)) if found is None else found

    return kept
