"""Compares two pieces of plain data and names every difference by its path."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

Path = tuple[str, ...]

_WORDS = frozenset(("text", "because", "why", "ask", "how", "title", "release", "standing_caution"))
_NAMES = ("about", "fact", "topic", "step", "treatment", "rule")
_ABSENT = "(absent)"


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that differs. `recorded` or `now` is None where `absent` names that side.

    `wording`: only a text for people differs.
    """

    path: Path
    recorded: Any
    now: Any
    absent: str | None = None
    wording: bool = False

    def __str__(self) -> str:
        recorded = _ABSENT if self.absent == "recorded" else repr(self.recorded)
        now = _ABSENT if self.absent == "now" else repr(self.now)
        return f"{' / '.join(self.path)}: recorded {recorded}, now {now}"


def differences(recorded: Any, now: Any, path: Path = ()) -> Iterator[Difference]:
    """Every difference between two values made of dict, list, text, numbers, bool and None.

    Items of lists are paired by what they are about, where that tells them apart, so that one
    more hold is one difference and not a shift of all that follow.
    """
    if isinstance(recorded, dict) and isinstance(now, dict):
        yield from _of_mappings(recorded, now, path)
    elif isinstance(recorded, list) and isinstance(now, list):
        yield from _of_lists(recorded, now, path)
    elif type(recorded) is not type(now) or recorded != now:
        wording = isinstance(recorded, str) and isinstance(now, str) and _is_wording(path)
        yield Difference(path, recorded, now, wording=wording)


def _of_mappings(recorded: dict[str, Any], now: dict[str, Any], path: Path) -> Iterator[Difference]:
    for key in sorted(recorded.keys() | now.keys()):
        inner = (*path, key)
        if key not in now:
            yield Difference(inner, recorded[key], None, absent="now")
        elif key not in recorded:
            yield Difference(inner, None, now[key], absent="recorded")
        else:
            yield from differences(recorded[key], now[key], inner)


def _of_lists(recorded: list[Any], now: list[Any], path: Path) -> Iterator[Difference]:
    before, after = _named(recorded), _named(now)
    if before is None or after is None:
        before = {str(index): item for index, item in enumerate(recorded)}
        after = {str(index): item for index, item in enumerate(now)}
    yield from _of_mappings(before, after, path)
    if list(before) != list(after) and before.keys() == after.keys():
        yield Difference((*path, "(order)"), list(before), list(after))


def _named(items: list[Any]) -> dict[str, Any] | None:
    """Items by what they are about; None where that does not tell them apart."""
    named: dict[str, Any] = {}
    for item in items:
        if isinstance(item, dict):
            name = " ".join(str(item[key]) for key in _NAMES if isinstance(item.get(key), str))
        else:
            name = item if isinstance(item, str) else ""
        if not name or name in named:
            return None
        named[name] = item
    return named


def _is_wording(path: Path) -> bool:
    # The last two: the lines of `how` are items of a list.
    return any(part in _WORDS for part in path[-2:])
