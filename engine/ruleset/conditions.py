"""Reads the conditions of rules and facts, and checks every test against what it tests."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any as Anything

from engine.errors import Place, QuantityError
from engine.quantity import Kind, parse_quantity
from engine.quantity.units import KINDS
from engine.ruleset.entries import Entry, plain
from engine.ruleset.model import About, All, Any, Condition, FactKind, FactSpec, Leaf, Not, Test
from engine.ruleset.names import Names, comparable, may_read
from engine.ruleset.report import Report, listed, near

_COMPARISONS = {
    "above": Test.ABOVE,
    "at-least": Test.AT_LEAST,
    "below": Test.BELOW,
    "at-most": Test.AT_MOST,
}
_LIMIT_MARK = "$"

Keys = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads a condition: `named` is how it is called in messages."""

    about: About
    named: str


@dataclass(frozen=True, slots=True)
class _Amount:
    number: Fraction
    limit: str | None = None


class ConditionReader:
    """Turns the mapping written in a file into a condition, or reports why it cannot."""

    def __init__(self, names: Names, report: Report) -> None:
        self._names = names
        self._report = report

    def read(self, entry: Entry, keys: Keys, reader: Reader) -> Condition | None:
        """The condition under `keys` of `entry`; None where any part of it is wrong."""
        written = entry.get(*keys)
        if not isinstance(written, Mapping):
            return None
        parts = [self._part(entry, (*keys, key), str(key), reader) for key in written]
        return _joined(All, parts, entry.key_place(*keys))

    def _part(self, entry: Entry, keys: Keys, key: str, reader: Reader) -> Condition | None:
        place = entry.key_place(*keys)
        if key == "not":
            inner = self.read(entry, keys, reader)
            return None if inner is None else Not(inner, place)
        if key in ("all", "any"):
            count = len(entry.get(*keys) or ())
            parts = [self.read(entry, (*keys, index), reader) for index in range(count)]
            return _joined(All if key == "all" else Any, parts, place)
        return self._fact(entry, keys, key, reader)

    def _fact(self, entry: Entry, keys: Keys, fact: str, reader: Reader) -> Condition | None:
        place = entry.key_place(*keys)
        if fact not in self._names.facts:
            self._unknown_fact(fact, place)
            return None
        spec = self._names.facts[fact]
        if spec is None:
            return None
        if not may_read(reader.about, spec.about):
            self._report.add(
                "reads-panel-fact",
                f"{reader.named} is about the {reader.about} and cannot read `{fact}`, "
                "which each panel has for itself",
                place,
                "Read it through a fact of the car with `gathered: {any: ...}` or "
                "`gathered: {every: ...}`.",
            )
            return None
        written = entry.get(*keys)
        if written is None:
            return None
        if isinstance(written, Mapping):
            tests = [self._test(entry, (*keys, str(word)), spec, str(word)) for word in written]
            return _joined(All, tests, place)
        return self._equals(entry, keys, spec, written)

    def _unknown_fact(self, fact: str, place: Place) -> None:
        if fact in self._names.limits:
            self._report.add(
                "unknown-fact",
                f"`{fact}` is a limit, not a fact",
                place,
                f"Test a fact against it, as in `some.fact: {{above: ${fact}}}`.",
            )
        else:
            self._report.unknown("fact", fact, self._names.facts, place)

    # --- one test -----------------------------------------------------------------------------

    def _test(self, entry: Entry, keys: Keys, spec: FactSpec, word: str) -> Condition | None:
        written = entry.get(*keys)
        place = entry.key_place(*keys)
        if written is None:
            return None
        if word == "known":
            return Leaf(spec.id, Test.KNOWN, str(written), place)
        if word == "includes":
            return self._includes(entry, keys, spec, written)
        if spec.kind is not FactKind.QUANTITY:
            self._misfit(spec, f"`{word}`", place)
            return None
        if word == "between":
            return self._between(entry, keys, spec, place)
        amount = self._amount(written, spec, entry.place(*keys))
        if amount is None:
            return None
        return Leaf(spec.id, _COMPARISONS[word], amount.number, place, amount.limit)

    def _between(self, entry: Entry, keys: Keys, spec: FactSpec, place: Place) -> Condition | None:
        ends = [
            self._amount(written, spec, entry.place(*keys, index))
            for index, written in enumerate(entry.get(*keys))
        ]
        low, high = ends
        if low is None or high is None:
            return None
        if low.number > high.number:
            self._report.add(
                "between-backwards",
                f"the first end of `between` lies above the second for `{spec.id}`, "
                "so nothing can ever lie between them",
                place,
                "Write the lower end first.",
            )
            return None
        return All(
            (
                Leaf(spec.id, Test.AT_LEAST, low.number, place, low.limit),
                Leaf(spec.id, Test.AT_MOST, high.number, place, high.limit),
            ),
            place,
        )

    def _includes(
        self, entry: Entry, keys: Keys, spec: FactSpec, written: Anything
    ) -> Condition | None:
        place = entry.key_place(*keys)
        if spec.kind is not FactKind.SET:
            self._misfit(spec, "`includes`", place)
            return None
        choices = self._choices(entry, keys, spec, written)
        return None if choices is None else Leaf(spec.id, Test.INCLUDES, choices, place)

    def _equals(
        self, entry: Entry, keys: Keys, spec: FactSpec, written: Anything
    ) -> Condition | None:
        place = entry.key_place(*keys)
        if spec.kind is FactKind.QUANTITY:
            return self._equals_number(entry, keys, spec, written)
        if spec.kind is FactKind.SET:
            held = ", ".join(plain(item) for item in _items(written))
            self._report.add(
                "test-does-not-fit",
                f"`{spec.id}` is a set and is not tested by a plain value",
                place,
                f"Write `{spec.id}: {{includes: [{held}]}}`.",
            )
            return None
        if spec.kind in (FactKind.LIST, FactKind.TEXT):
            self._misfit(spec, "a plain value", place)
            return None
        choices = self._choices(entry, keys, spec, written)
        return None if choices is None else Leaf(spec.id, Test.IS, choices, place)

    def _equals_number(
        self, entry: Entry, keys: Keys, spec: FactSpec, written: Anything
    ) -> Condition | None:
        amounts = [
            self._amount(item, spec, _item_place(entry, keys, written, index))
            for index, item in enumerate(_items(written))
        ]
        sound = [amount for amount in amounts if amount is not None]
        if len(sound) < len(amounts):
            return None
        limits = [amount.limit for amount in sound]
        return Leaf(
            spec.id,
            Test.IS,
            frozenset(amount.number for amount in sound),
            entry.key_place(*keys),
            limits[0] if len(limits) == 1 else None,
        )

    # --- operands -----------------------------------------------------------------------------

    def _choices(
        self, entry: Entry, keys: Keys, spec: FactSpec, written: Anything
    ) -> frozenset[str] | None:
        found: set[str] = set()
        sound = True
        for index, item in enumerate(_items(written)):
            value = plain(item)
            if value in spec.choice_ids:
                found.add(value)
            else:
                sound = False
                place = _item_place(entry, keys, written, index)
                self._report.add(
                    "unknown-choice",
                    f"`{value}` is no choice of `{spec.id}`",
                    place,
                    nearest_choice(value, spec),
                )
        return frozenset(found) if sound else None

    def _amount(self, written: Anything, spec: FactSpec, place: Place) -> _Amount | None:
        text = plain(written)
        if text.startswith(_LIMIT_MARK) and not text[1:2].isdigit():
            return self._limit(text[1:], spec, place)
        if text in self._names.limits:
            self._report.add(
                "limit-mark-missing",
                f"`{text}` is a limit and is named with `{_LIMIT_MARK}`",
                place,
                f"Write `{_LIMIT_MARK}{text}`.",
            )
            return None
        assert spec.quantity is not None
        try:
            return _Amount(parse_quantity(text, spec.quantity, place=place).amount)
        except QuantityError as error:
            self._report.extend(error.problems)
            return None

    def _limit(self, name: str, spec: FactSpec, place: Place) -> _Amount | None:
        if name not in self._names.limits:
            self._report.unknown("limit", name, self._names.limits, place)
            return None
        limit = self._names.limits[name]
        if limit is None:
            return None
        assert spec.quantity is not None
        if not comparable(limit.kind, spec.quantity):
            self._report.add(
                "limit-kind",
                f"the limit `{name}` ({limit.written}) is {KINDS[limit.kind].noun}, "
                f"but `{spec.id}` is {KINDS[spec.quantity].noun}",
                place,
                _kind_fix(limit.kind, spec.quantity, name),
            )
            return None
        return _Amount(limit.amount, name)

    def _misfit(self, spec: FactSpec, what: str, place: Place) -> None:
        self._report.add(
            "test-does-not-fit",
            f"`{spec.id}` is {_kind_words(spec)} and is not tested by {what}",
            place,
            _FITTING[spec.kind],
        )


_FITTING = {
    FactKind.YES_NO: "Write `yes` or `no`, or `{known: no}`.",
    FactKind.CHOICE: "Name a choice, a list of choices, or write `{known: no}`.",
    FactKind.SET: "Write `{includes: [...]}` or `{known: no}`.",
    FactKind.QUANTITY: "Use `above`, `at-least`, `below`, `at-most`, `between` or `known`.",
    FactKind.LIST: "A list can only be tested with `known`; compare a fact reckoned from it.",
    FactKind.TEXT: "A text can only be tested with `known`.",
}


def nearest_choice(value: str, spec: FactSpec) -> str | None:
    """A suggestion of the choice meant, also by the words people use for it."""
    for choice in spec.choices:
        if value.casefold() in (word.casefold() for word in (choice.id, choice.text, *choice.also)):
            return f"Did you mean `{choice.id}`?"
    if value in ("true", "True", "false", "False") and spec.kind is FactKind.YES_NO:
        return f"Write {listed(spec.choice_ids, 'or')}."
    return near(value, spec.choice_ids)


def _joined(
    group: type[All] | type[Any], parts: Iterable[Condition | None], place: Place
) -> Condition | None:
    read = list(parts)
    sound = tuple(part for part in read if part is not None)
    if len(sound) < len(read) or not sound:
        return None
    return sound[0] if len(sound) == 1 else group(sound, place)


def _items(written: Anything) -> list[Anything]:
    return written if isinstance(written, list) else [written]


def _item_place(entry: Entry, keys: Keys, written: Anything, index: int) -> Place:
    return entry.place(*keys, index) if isinstance(written, list) else entry.place(*keys)


def _kind_words(spec: FactSpec) -> str:
    if spec.quantity is not None and spec.kind is FactKind.QUANTITY:
        return KINDS[spec.quantity].noun
    return f"a {spec.kind}"


def _kind_fix(limit: Kind, fact: Kind, name: str) -> str:
    if {limit, fact} == {Kind.TEMPERATURE, Kind.TEMPERATURE_DIFFERENCE}:
        return (
            "A temperature read off is not a difference between two temperatures: give "
            f"`{name}` `kind: {fact}` if that is what it is."
        )
    return f"Name a limit that is {KINDS[fact].noun}, or give `{name}` `kind: {fact}`."
