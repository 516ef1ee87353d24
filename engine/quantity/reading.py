"""Reads a quantity as a person writes it, exactly, or says in one message what is wrong."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from engine.errors import Place, Problem, QuantityError
from engine.quantity.numerals import MAX_DIGITS, Numeral, Refusal, take_numeral, tidy
from engine.quantity.showing import exact_numeral, from_unit
from engine.quantity.times import sum_of_parts
from engine.quantity.units import (
    ABSOLUTE_ZERO,
    KINDS,
    Dimension,
    Kind,
    find_currency,
    find_unit,
)
from engine.records import dataclass
from engine.words import say

if TYPE_CHECKING:
    from engine.quantity.refusals import Refusals

MAX_LENGTH = 100
_FIRST_YEAR, _LAST_YEAR = 1000, 9999

_ABOUT = re.compile(
    r"(?:(?:about|around|approximately|approx|roughly|circa|ca|c\.)(?![a-z])\.?|~)\s*", re.I | re.A
)
_HUMIDITY = re.compile(r"(?:rh|relative humidity|humidity)\s*[:=]?\s*", re.I | re.A)
_BOUND = re.compile(
    r"[<>≤≥±]|(?:over|under|above|below|more than|less than|at least|at most|up to)\b", re.I | re.A
)
_OF_A = re.compile(r"of\s+an?\s+", re.I | re.A)
_OF_A_OR_A = re.compile(r"(?:of\s+)?an?\s+", re.I | re.A)
_AND_A_PART = re.compile(
    r"(?P<unit>.*\S)\s+and\s+(?P<part>(?:a |one )?half|(?:a |one )?quarter|three quarters)",
    re.I | re.A,
)
_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])(?![0-9:])\s*(.*)")
_MONEY_FIRST = re.compile(
    r"(-?)\s*(us\$|[$€£]|[a-z]{3}(?![a-z]))\s*(-?)\s*(?=[0-9.,])", re.I | re.A
)
_BARE_DEGREES = frozenset({"°", "deg", "degs", "degree", "degrees"})


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit.

    `amount` is exact and in the base unit of the kind's dimension, `written` is the person's own
    text, `unit` the standard spelling of the unit they used ("" where none is due; `h` where a
    time was given in parts, as in `1 h 30 min`), `currency` an ISO 4217 code for money.
    """

    amount: Fraction
    kind: Kind
    written: str
    unit: str
    currency: str | None = None


_read: dict[tuple[Kind, str], Quantity] = {}
"""What texts were read as: the readings of a survey are much the same from panel to panel."""

_MOST_READ = 2_048


def parse_quantity(
    text: str | int | Fraction,
    kind: Kind,
    *,
    place: Place | None = None,
    plausible: tuple[Fraction, Fraction] | None = None,
    signed: bool = False,
) -> Quantity:
    """Reads `text` as a quantity of `kind`.

    `place` goes into the error; `plausible` is the lowest and highest amount, in the base unit,
    that can be right. Below zero are only kinds that may be, and what is `signed` or has a
    plausible amount there: a gauge may show less than nothing on bare metal. Raises QuantityError
    for anything that is not one clear quantity; its `likely` holds texts that would be read.
    """
    written = _source_text(text, kind, place)
    reader = _Reader(kind, written, place, plausible, signed)
    quantity = _read.get((kind, written))
    if quantity is None:
        quantity = reader.read()
        if len(_read) >= _MOST_READ:
            _read.clear()
        _read[kind, written] = quantity
    reader.check(quantity)
    return quantity


def _source_text(text: object, kind: Kind, place: Place | None) -> str:
    """The text to read. Only text and exact numbers pass: a float has already lost digits."""
    if isinstance(text, str):
        return text
    if isinstance(text, int | Fraction) and not isinstance(text, bool):
        ratio = Fraction(text)
        if max(abs(ratio.numerator), ratio.denominator) < 10**MAX_DIGITS:
            return str(text)
        message = say("the number is far outside anything that can be measured")
        raise QuantityError(Problem("out-of-range", message, place))
    noun, example = KINDS[kind].noun, KINDS[kind].example
    message = say(
        "{noun} is wanted here, not a value of type {name}", noun=noun, name=type(text).__name__
    )
    fix = say("Write it as text, as in {example}.", example=example)
    raise QuantityError(Problem("wrong-type", message, place, fix))


class _Reader:
    def __init__(
        self,
        kind: Kind,
        written: str,
        place: Place | None,
        plausible: tuple[Fraction, Fraction] | None,
        signed: bool = False,
    ) -> None:
        below_zero = plausible is not None and plausible[0] < 0
        self._signed = signed or below_zero or KINDS[kind].signed
        self._kind = kind
        self._of = KINDS[kind]
        self._written = written
        self._place = place
        self._plausible = plausible
        if len(written) > MAX_LENGTH:
            raise self._refuse(
                "too-long",
                say(
                    "is {written} characters long; {noun} never is",
                    written=len(written),
                    noun=say(self._of.noun),
                ),
                say("Write one value, as in {example}.", example=self._of.example),
            )

    @property
    def _refusals(self) -> Refusals:
        # What is read without a fault needs nothing of what refuses.
        from engine.quantity.refusals import Refusals

        return Refusals(self._kind, self._written, self._place, self._plausible, _accepted)

    def _refuse(
        self, code: str, message: str, fix: str | None = None, likely: tuple[str, ...] = ()
    ) -> QuantityError:
        return self._refusals.refuse(code, message, fix, likely)

    def read(self) -> Quantity:
        text = tidy(self._written)
        leading = _HUMIDITY.match(text) if self._kind is Kind.PERCENT else None
        text = text[leading.end() :] if leading else text
        about = _ABOUT.match(text)
        text = text[about.end() :] if about else text
        if not text:
            raise self._refuse("empty", say("holds nothing to read"))
        if _BOUND.match(text):
            raise self._refuse(
                "not-one-value", say("is a bound, not one value"), say("Write the value itself.")
            )
        if self._kind is Kind.YEAR and re.fullmatch(r"'?[0-9]{2}", text):
            raise self._refuse(
                "short-year", say("leaves the century open"), say("Write all four digits.")
            )
        currency, text = self._leading_currency(text)
        clock = _CLOCK.fullmatch(text) if self._kind is Kind.TIME else None
        if clock:
            return self._clock(clock)
        numeral = self._numeral(text)
        rest = numeral.rest.strip().rstrip(".!;,").strip()
        article = (_OF_A_OR_A if numeral.part else _OF_A).match(rest)
        rest = rest[article.end() :] if article else rest
        if self._of.dimension is Dimension.MONEY:
            return self._money(numeral, rest, currency)
        if self._of.dimension is Dimension.PLAIN:
            return self._plain(numeral, rest)
        return self._with_unit(numeral, rest)

    def check(self, quantity: Quantity) -> None:
        amount = quantity.amount
        if self._kind is Kind.TEMPERATURE and amount < ABSOLUTE_ZERO:
            raise self._refuse("below-absolute-zero", say("is below absolute zero"))
        if amount < 0 and not self._signed:
            raise self._refuse(
                "negative",
                say("is negative; {noun} cannot be", noun=say(self._of.noun)),
                say("Write it without the minus."),
            )
        if self._of.whole and amount.denominator != 1:
            raise self._refuse("not-whole", say("is not a whole number"))
        if self._kind is Kind.YEAR and not _FIRST_YEAR <= amount <= _LAST_YEAR:
            raise self._refuse("out-of-range", say("is no year of four digits"))
        if self._plausible and not self._plausible[0] <= amount <= self._plausible[1]:
            raise self._refusals.implausible(amount, quantity.unit, *self._plausible)

    def _numeral(self, text: str) -> Numeral:
        taken = take_numeral(text, inch_words=self._of.dimension is Dimension.LENGTH)
        if taken is None:
            raise self._refuse("no-number", say("does not start with a number"))
        if isinstance(taken, Refusal):
            raise self._refuse(
                taken.code, say("cannot be taken: {message}", message=taken.message), taken.fix
            )
        return taken

    def _one(self, numeral: Numeral, unit: str) -> Fraction:
        if len(numeral.readings) > 1:
            raise self._refusals.ambiguous([f"{exact_numeral(v)} {unit}" for v in numeral.readings])
        return numeral.readings[0]

    def _with_unit(self, numeral: Numeral, rest: str) -> Quantity:
        if not rest and numeral.inches:
            rest = "in"
        degrees = self._of.dimension in (Dimension.TEMPERATURE, Dimension.DIFFERENCE)
        if not rest or (degrees and rest.casefold() in _BARE_DEGREES):
            raise self._refusals.bare(numeral)
        unit = find_unit(rest, self._of.dimension)
        if unit is None:
            return self._in_parts(numeral, rest)
        value = self._one(numeral, unit.name)
        return self._quantity(from_unit(value, self._kind, unit.name), unit.name)

    def _in_parts(self, numeral: Numeral, rest: str) -> Quantity:
        """`1 h 30 min`, `1h30`, `an inch and a half`; anything else is refused here."""
        half = _AND_A_PART.fullmatch(rest)
        unit = find_unit(half["unit"], self._of.dimension) if half else None
        if half and unit and numeral.readings[0] >= 0:
            part = self._numeral(half["part"]).readings[0]
            value = self._one(numeral, unit.name) + part
            return self._quantity(from_unit(value, self._kind, unit.name), unit.name)
        if self._kind is Kind.TIME:
            hours = sum_of_parts(numeral, rest)
            if hours is not None:
                return self._quantity(hours, "h")
        raise self._refusals.bad_unit(numeral, rest)

    def _clock(self, clock: re.Match[str]) -> Quantity:
        hours, minutes, rest = clock.groups()
        unit = find_unit(rest, Dimension.TIME) if rest else None
        if unit is None or unit.name != "h":
            likely = (
                f"{int(hours)} h {int(minutes)} min",
                f"{int(hours)} min {int(minutes)} s",
            )
            raise self._refuse(
                "no-unit",
                say(
                    "can mean {likely} or {likely2}; which is it?",
                    likely=likely[0],
                    likely2=likely[1],
                ),
                say("Write the units out."),
                likely,
            )
        return self._quantity(Fraction(int(hours)) + Fraction(int(minutes), 60), "h")

    def _leading_currency(self, text: str) -> tuple[str | None, str]:
        found = _MONEY_FIRST.match(text) if self._kind is Kind.MONEY else None
        code = find_currency(found[2]) if found else None
        if not found or not code:
            return None, text
        minus = "-" if found[1] or found[3] else ""
        return code, minus + text[found.end() :]

    def _money(self, numeral: Numeral, rest: str, currency: str | None) -> Quantity:
        named = find_currency(rest) if rest else currency
        if named is None:
            raise self._refusals.bad_unit(numeral, rest) if rest else self._refusals.bare(numeral)
        if currency is not None and named != currency:
            raise self._refuse(
                "wrong-unit",
                say("names two currencies, {currency} and {named}", currency=currency, named=named),
            )
        return self._quantity(self._one(numeral, named), named, named)

    def _plain(self, numeral: Numeral, rest: str) -> Quantity:
        value = self._one(numeral, "")
        if rest:
            raise self._refusals.no_unit_due(value, rest)
        return self._quantity(value, "")

    def _quantity(self, amount: Fraction, unit: str, currency: str | None = None) -> Quantity:
        return Quantity(amount, self._kind, self._written.strip(), unit, currency)


def _accepted(text: str, kind: Kind, plausible: tuple[Fraction, Fraction] | None) -> bool:
    reader = _Reader(kind, text, None, None, plausible is not None and plausible[0] < 0)
    try:
        quantity = reader.read()
        reader.check(quantity)
    except QuantityError:
        return False
    return plausible is None or plausible[0] <= quantity.amount <= plausible[1]
