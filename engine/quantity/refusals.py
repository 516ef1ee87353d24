"""Says why a text is no quantity, what would be right, and what the writer likely meant."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from fractions import Fraction

from engine.errors import Place, Problem, QuantityError
from engine.plaintext import printable
from engine.quantity.numerals import Numeral
from engine.quantity.showing import exact_numeral, from_unit, show, show_against, to_unit
from engine.quantity.units import (
    KINDS,
    REFERENCE_TEMPERATURE,
    Dimension,
    Kind,
    dimensions_of,
    find_currency,
    find_unit,
    unit_key,
    unit_words,
)
from engine.words import say

Plausible = tuple[Fraction, Fraction]
"""The lowest and the highest amount, in the base unit, that can be right."""

_SHOWN = 40
_SECOND_VALUE = re.compile(
    r"(?P<unit>[^\s0-9,;/&+-]*)\s*(?:[,;/&+±-]|(?:or|to|and|by|x)\b)?\s*[0-9.]", re.I | re.A
)
_JOINERS = frozenset({"", "±", "or", "to", "and", "by", "x"})
_UNIT_LIKE = re.compile(r"[a-zμ°%\"/^23]+")


class Refusals:
    """The refusals of one text that should be a quantity of `kind`.

    `accepts` tells whether a text would be taken, with a plausible range or without.
    """

    def __init__(
        self,
        kind: Kind,
        written: str,
        place: Place | None,
        plausible: Plausible | None,
        accepts: Callable[[str, Kind, Plausible | None], bool],
    ) -> None:
        self._kind = kind
        self._of = KINDS[kind]
        self._written = written
        self._place = place
        self._plausible = plausible
        self._accepts = accepts

    def refuse(
        self, code: str, message: str, fix: str | None = None, likely: Iterable[str] = ()
    ) -> QuantityError:
        """The refusal that repeats what was written and says what is wrong with it.

        Without a `fix` it says how such a value is written.
        """
        fix = fix or self._write_like()
        message = f"`{printable(self._written, _SHOWN)}` {message}"
        return QuantityError(Problem(code, message, self._place, fix), tuple(likely))

    def _write_like(self) -> str:
        return say(
            "Write {noun} as in {example}.", noun=say(self._of.noun), example=self._of.example
        )

    def ambiguous(self, texts: list[str]) -> QuantityError:
        """Of a comma that groups thousands in the first of `texts`, and is decimal in the other."""
        grouped, decimal = (text.strip() for text in texts)
        return self.refuse(
            "ambiguous-comma",
            say(
                "can mean {grouped} (the comma groups thousands) or {decimal} (the "
                "comma is a decimal comma)",
                grouped=grouped,
                decimal=decimal,
            ),
            say("Write it without a comma; a decimal point is a full stop."),
            self._readable([grouped, decimal]),
        )

    def bare(self, numeral: Numeral) -> QuantityError:
        """Of a number without a unit."""
        if len(numeral.readings) > 1:
            return self.ambiguous([self._offers(numeral, v)[0] for v in numeral.readings])
        likely = self._offers(numeral, numeral.readings[0])
        what = say(" or ").join(likely) or self._of.example
        return self.refuse(
            "no-unit",
            say("has no unit: is it {what}?", what=what),
            say("Write the unit, as in {what}.", what=what),
            likely,
        )

    def _offers(self, numeral: Numeral, value: Fraction) -> list[str]:
        """The number in the two likeliest units, likeliest first."""
        written = numeral.written or exact_numeral(value)
        if self._kind is Kind.PERCENT:
            share = [f"{exact_numeral(value * 100)} %"] if 0 < value < 1 else []
            return self._readable([f"{written} %", *share])
        units = list(self._of.offer)
        if self._kind is Kind.TEMPERATURE:
            units.sort(key=lambda unit: self._strangeness(value, unit))
        units = units[:2]
        if self._of.turn is not None and value >= self._of.turn:
            units.reverse()
        texts = [f"{written} {unit}" for unit in units]
        return sorted(texts, key=lambda text: not self._accepts(text, self._kind, self._plausible))

    def _strangeness(self, value: Fraction, unit: str) -> Fraction:
        return abs(from_unit(value, self._kind, unit) - REFERENCE_TEMPERATURE)

    def _readable(self, texts: list[str], *, strict: bool = False) -> list[str]:
        """Those of `texts` that would be accepted; where the plausible range rules out every one,
        those that would be read (none if `strict`)."""
        kept = [text for text in texts if self._accepts(text, self._kind, self._plausible)]
        if kept or strict:
            return kept
        return [text for text in texts if self._accepts(text, self._kind, None)]

    def bad_unit(self, numeral: Numeral, rest: str) -> QuantityError:
        """Of `rest`, which stands where the unit is due."""
        several = self._several(rest)
        if several:
            return several
        numbers = [numeral.written] if numeral.written else map(exact_numeral, numeral.readings)
        near = self._near_units(rest)
        others = [other for other in dimensions_of(rest) if other is not self._of.dimension]
        if others:
            # A unit that is one, of something else, is meant otherwise only with a letter left out.
            near = [unit for unit in near if _left_out(unit_key(rest), unit.casefold())]
        likely = self._readable([f"{number} {unit}" for number in numbers for unit in near])
        fix = say("Did you mean {words}?", words=_either(likely)) if likely else self._write_like()
        shown = printable(rest, _SHOWN)
        if others:
            message = say(
                "has a unit of {others}, `{shown}`, where {noun} is wanted",
                others=others[0],
                shown=shown,
                noun=say(self._of.noun),
            )
            return self.refuse("wrong-unit", message, fix, likely)
        return self.refuse(
            "unknown-unit", say("has an unknown unit, `{shown}`", shown=shown), fix, likely
        )

    def no_unit_due(self, value: Fraction, rest: str) -> QuantityError:
        """Of `rest` after a number that takes no unit."""
        return self._several(rest) or self.refuse(
            "wrong-unit",
            say(
                "has `{rest}` after the number; {noun} takes no unit",
                rest=printable(rest, _SHOWN),
                noun=say(self._of.noun),
            ),
            likely=self._readable([exact_numeral(value)]),
        )

    def _several(self, rest: str) -> QuantityError | None:
        second = _SECOND_VALUE.match(rest)
        between = second["unit"].casefold() if second else ""
        if not second or not (between in _JOINERS or dimensions_of(between)):
            return None
        return self.refuse(
            "several-values", say("holds more than one value"), say("Write one value at a time.")
        )

    def _near_units(self, rest: str) -> list[str]:
        """Standard names of the units whose spelling is close to `rest`, nearest first."""
        keys = {unit_key(word): word for word in unit_words(self._kind)}
        key = unit_key(rest)
        if not _UNIT_LIKE.fullmatch(key):
            return []
        # One letter short or too many weighs heavily in words of two or three letters.
        cutoff = 0.7 if len(key) > 3 else 0.5
        names: dict[str, None] = {}
        for close in get_close_matches(key, sorted(keys), n=4, cutoff=cutoff):
            found = find_unit(keys[close], self._of.dimension)
            name = found.symbol or found.name if found else find_currency(keys[close])
            names.setdefault(name or keys[close])
        return list(names)[:2]

    def implausible(
        self, amount: Fraction, written_in: str, low: Fraction, high: Fraction
    ) -> QuantityError:
        """Of an amount that is not between the lowest and the highest that can be right."""
        bound = low if amount < low else high
        unit = written_in if self._of.dimension is Dimension.MONEY else self._of.canonical
        value, limit = show_against(amount, bound, self._kind, unit)
        side = say("below the lowest") if amount < low else say("above the highest")
        number = exact_numeral(to_unit(amount, self._kind, written_in))
        others = [u for u in self._of.offer if u != written_in]
        if self._of.dimension in (Dimension.MONEY, Dimension.PERCENT, Dimension.PLAIN):
            others = []
        likely = self._readable([f"{number} {other}" for other in others], strict=True)[:2]
        if likely:
            ask = say("Did you mean {words}?", words=_either(likely))
        else:
            lowest, highest = (show(end, self._kind, unit) for end in (low, high))
            span = say("{low} to {high}", low=lowest, high=highest)
            ask = say("Check the value and its unit; {span} is expected.", span=span)
        return self.refuse(
            "implausible",
            say("is {value}, {side} plausible {limit}", value=value, side=side, limit=limit),
            ask,
            likely,
        )


def _either(texts: Iterable[str]) -> str:
    return say(" or ").join(f"`{text}`" for text in texts)


def _left_out(short: str, unit: str) -> bool:
    """Whether `short` is the unit with letters left out after the first."""
    letters = iter(unit)
    return unit[:1] == short[:1] and all(letter in letters for letter in short.casefold())
