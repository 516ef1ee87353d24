"""Reads a quantity as a person writes it, exactly, or says in one message what is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches
from fractions import Fraction

from engine.errors import Place, Problem, QuantityError
from engine.quantity.numerals import MAX_DIGITS, Numeral, Refusal, take_numeral, tidy
from engine.quantity.showing import (
    exact_numeral,
    from_unit,
    show,
    show_against,
    to_unit,
)
from engine.quantity.times import sum_of_parts
from engine.quantity.units import (
    ABSOLUTE_ZERO,
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
from engine.records import dataclass
from engine.words import say

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
_SECOND_VALUE = re.compile(
    r"(?P<unit>[^\s0-9,;/&+-]*)\s*(?:[,;/&+±-]|(?:or|to|and|by|x)\b)?\s*[0-9.]", re.I | re.A
)
_JOINERS = frozenset({"", "±", "or", "to", "and", "by", "x"})
_UNIT_LIKE = re.compile(r"[a-zμ°%\"/^23]+")
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
    reader = _Reader(kind, _source_text(text, kind, place), place, plausible, signed)
    quantity = reader.read()
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
            raise self.refuse(
                "too-long",
                say(
                    "is {written} characters long; {noun} never is",
                    written=len(written),
                    noun=say(self._of.noun),
                ),
                say("Write one value, as in {example}.", example=self._of.example),
            )
        self.text = tidy(written)

    def read(self) -> Quantity:
        leading = _HUMIDITY.match(self.text) if self._kind is Kind.PERCENT else None
        text = self.text[leading.end() :] if leading else self.text
        about = _ABOUT.match(text)
        text = text[about.end() :] if about else text
        if not text:
            raise self.refuse("empty", say("holds nothing to read"), self._write_like())
        if _BOUND.match(text):
            raise self.refuse(
                "not-one-value", say("is a bound, not one value"), say("Write the value itself.")
            )
        if self._kind is Kind.YEAR and re.fullmatch(r"'?[0-9]{2}", text):
            raise self.refuse(
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
            raise self.refuse(
                "below-absolute-zero", say("is below absolute zero"), self._write_like()
            )
        if amount < 0 and not self._signed:
            raise self.refuse(
                "negative",
                say("is negative; {noun} cannot be", noun=say(self._of.noun)),
                say("Write it without the minus."),
            )
        if self._of.whole and amount.denominator != 1:
            raise self.refuse("not-whole", say("is not a whole number"), self._write_like())
        if self._kind is Kind.YEAR and not _FIRST_YEAR <= amount <= _LAST_YEAR:
            raise self.refuse("out-of-range", say("is no year of four digits"), self._write_like())
        if self._plausible and not self._plausible[0] <= amount <= self._plausible[1]:
            raise self._implausible(quantity, *self._plausible)

    def refuse(
        self, code: str, message: str, fix: str, likely: Iterable[str] = ()
    ) -> QuantityError:
        message = f"`{printable(self._written)}` {message}"
        return QuantityError(Problem(code, message, self._place, fix), tuple(likely))

    def _write_like(self) -> str:
        return say(
            "Write {noun} as in {example}.", noun=say(self._of.noun), example=self._of.example
        )

    def _numeral(self, text: str) -> Numeral:
        taken = take_numeral(text, inch_words=self._of.dimension is Dimension.LENGTH)
        if taken is None:
            raise self.refuse("no-number", say("does not start with a number"), self._write_like())
        if isinstance(taken, Refusal):
            raise self.refuse(
                taken.code, say("cannot be taken: {message}", message=taken.message), taken.fix
            )
        return taken

    def _one(self, numeral: Numeral, unit: str) -> Fraction:
        if len(numeral.readings) > 1:
            raise self._ambiguous([f"{exact_numeral(v)} {unit}" for v in numeral.readings])
        return numeral.readings[0]

    def _ambiguous(self, texts: list[str]) -> QuantityError:
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

    def _with_unit(self, numeral: Numeral, rest: str) -> Quantity:
        if not rest and numeral.inches:
            rest = "in"
        degrees = self._of.dimension in (Dimension.TEMPERATURE, Dimension.DIFFERENCE)
        if not rest or (degrees and rest.casefold() in _BARE_DEGREES):
            raise self._bare(numeral)
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
        raise self._bad_unit(numeral, rest)

    def _clock(self, clock: re.Match[str]) -> Quantity:
        hours, minutes, rest = clock.groups()
        unit = find_unit(rest, Dimension.TIME) if rest else None
        if unit is None or unit.name != "h":
            likely = (
                f"{int(hours)} h {int(minutes)} min",
                f"{int(hours)} min {int(minutes)} s",
            )
            raise self.refuse(
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
            raise self._bad_unit(numeral, rest) if rest else self._bare(numeral)
        if currency is not None and named != currency:
            raise self.refuse(
                "wrong-unit",
                say("names two currencies, {currency} and {named}", currency=currency, named=named),
                self._write_like(),
            )
        return self._quantity(self._one(numeral, named), named, named)

    def _plain(self, numeral: Numeral, rest: str) -> Quantity:
        value = self._one(numeral, "")
        if rest:
            raise self._several(rest) or self.refuse(
                "wrong-unit",
                say(
                    "has `{rest}` after the number; {noun} takes no unit",
                    rest=printable(rest),
                    noun=say(self._of.noun),
                ),
                self._write_like(),
                self._readable([exact_numeral(value)]),
            )
        return self._quantity(value, "")

    def _quantity(self, amount: Fraction, unit: str, currency: str | None = None) -> Quantity:
        return Quantity(amount, self._kind, self._written.strip(), unit, currency)

    def _bare(self, numeral: Numeral) -> QuantityError:
        if len(numeral.readings) > 1:
            return self._ambiguous([self._offers(numeral, v)[0] for v in numeral.readings])
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
        return sorted(texts, key=lambda text: not _accepted(text, self._kind, self._plausible))

    def _strangeness(self, value: Fraction, unit: str) -> Fraction:
        return abs(from_unit(value, self._kind, unit) - REFERENCE_TEMPERATURE)

    def _readable(self, texts: list[str], *, strict: bool = False) -> list[str]:
        """Those of `texts` that would be accepted; where the plausible range rules out every one,
        those that would be read (none if `strict`)."""
        kept = [text for text in texts if _accepted(text, self._kind, self._plausible)]
        if kept or strict:
            return kept
        return [text for text in texts if _accepted(text, self._kind, None)]

    def _bad_unit(self, numeral: Numeral, rest: str) -> QuantityError:
        several = self._several(rest)
        if several:
            return several
        numbers = [numeral.written] if numeral.written else map(exact_numeral, numeral.readings)
        near = self._near_units(rest)
        likely = self._readable([f"{number} {unit}" for number in numbers for unit in near])
        fix = say("Did you mean {words}?", words=_either(likely)) if likely else self._write_like()
        shown = printable(rest)
        others = [other for other in dimensions_of(rest) if other is not self._of.dimension]
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

    def _implausible(self, quantity: Quantity, low: Fraction, high: Fraction) -> QuantityError:
        bound = low if quantity.amount < low else high
        unit = quantity.unit if self._of.dimension is Dimension.MONEY else self._of.canonical
        value, limit = show_against(quantity.amount, bound, self._kind, unit)
        side = say("below the lowest") if quantity.amount < low else say("above the highest")
        number = exact_numeral(to_unit(quantity.amount, self._kind, quantity.unit))
        others = [u for u in self._of.offer if u != quantity.unit]
        if self._of.dimension in (Dimension.MONEY, Dimension.PERCENT, Dimension.PLAIN):
            others = []
        likely = self._readable([f"{number} {other}" for other in others], strict=True)[:2]
        if likely:
            ask = say("Did you mean {words}?", words=_either(likely))
        else:
            span = " to ".join(show(end, self._kind, unit) for end in (low, high))
            ask = say("Check the value and its unit; {span} is expected.", span=span)
        return self.refuse(
            "implausible",
            say("is {value}, {side} plausible {limit}", value=value, side=side, limit=limit),
            ask,
            likely,
        )


def _accepted(text: str, kind: Kind, plausible: tuple[Fraction, Fraction] | None) -> bool:
    reader = _Reader(kind, text, None, None, plausible is not None and plausible[0] < 0)
    try:
        quantity = reader.read()
        reader.check(quantity)
    except QuantityError:
        return False
    return plausible is None or plausible[0] <= quantity.amount <= plausible[1]


def _either(texts: Iterable[str]) -> str:
    return say(" or ").join(f"`{text}`" for text in texts)


def printable(text: str) -> str:
    """`text` short enough and tame enough to stand in a message."""
    shown = "".join(
        char if char.isprintable() else char.encode("unicode_escape").decode() for char in text
    )
    return shown if len(shown) <= 40 else shown[:37] + "..."
