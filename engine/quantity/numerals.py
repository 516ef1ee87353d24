"""Reads the number at the start of a text: digits, fractions and small number words, exactly."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from engine.records import dataclass

MAX_DIGITS = 40
MAX_EXPONENT = 30


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number and what follows it.

    `readings` holds two values where the text can mean either (`1,250`). `part` is true where it
    was said as a part of something (`1/4`, `half`). `written` keeps a fraction as it was written.
    `inches` is true where the words are only ever said of an inch (`three sixteenths`).
    """

    readings: tuple[Fraction, ...]
    rest: str
    part: bool = False
    written: str | None = None
    inches: bool = False


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a number cannot be taken: the code, what was found, what would be right."""

    code: str
    message: str
    fix: str


# Minus signs, degree signs, quotes, slashes and tildes that people's keyboards put in.
_SAME_SIGN = str.maketrans(
    {
        "\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\ufe63": "-",
        "\u00ba": "°", "\u02da": "°", "\u2218": "°",
        "\u2033": '"', "\u201c": '"', "\u201d": '"', "\u201e": '"', "\u02ba": '"',
        "\u2032": "'", "\u2018": "'", "\u2019": "'",
        "\u2044": "/", "\u2215": "/",
        "\u2248": "~", "\u223c": "~", "\u02dc": "~",
        "\u00b5": "\u03bc",
        "\u200b": None, "\u2060": None, "\ufeff": None, "\u00ad": None,
    }
)  # fmt: skip


def tidy(text: str) -> str:
    """`text` with look-alike characters made one and spaces made single; case is kept.

    Compatibility characters are opened up one by one and never where that would put a digit next
    to another: a raised `2` after a number must not become a decimal place, nor `1½` eleven halves.
    """
    out: list[str] = []
    for char in text.translate(_SAME_SIGN):
        if char.isascii():
            out.append(char)
            continue
        plain = unicodedata.normalize("NFKC", char)
        if char.isspace():
            out.append(" ")
        elif "\u2044" in plain and plain[-1].isascii() and plain[-1].isdigit():
            out.append(f" {plain.translate(_SAME_SIGN)} ")
        elif char in "²³" and out and out[-1][-1:].casefold() in tuple("mtn"):
            out.append(plain)
        elif unicodedata.category(char) != "Nd" and plain[0].isdigit():
            out.append(char)
        else:
            out.append(plain.translate(_SAME_SIGN))
    return " ".join("".join(out).replace("''", '"').split())


_SIGN = re.compile(r"([+-]|(?:minus|negative|plus)\b)\s*", re.I | re.A)
_MIXED = re.compile(
    r"([0-9]+)(?:\s+and\s+|\s+|-)([0-9]+)\s*/\s*([0-9]+)(?![0-9]|[.,][0-9])", re.I | re.A
)
_RATIO = re.compile(r"([0-9]+)\s*/\s*([0-9]+)(?![0-9]|[.,][0-9])")
_DECIMAL = re.compile(r"([.,]?[0-9]+(?:[.,][0-9]+)*)(\.(?![0-9.]))?(?:e([+-]?[0-9]+))?", re.I)
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:[0-9]{3})*")


def take_numeral(text: str, *, inch_words: bool) -> Numeral | Refusal | None:
    """The number at the start of tidied `text`; None where there is none.

    `inch_words` lets `thirty-second` and its like be parts of an inch; for a time they are not.
    """
    sign = _SIGN.match(text)
    negative = sign is not None and sign[1].casefold() not in ("+", "plus")
    body = text[sign.end() :] if sign else text
    if body[:1] and body[0] in "0123456789.,":
        taken = _take_digits(body, inch_words)
    else:
        taken = _Words(body, inch_words).value()
    if isinstance(taken, Numeral) and negative:
        readings = tuple(-value for value in taken.readings)
        written = f"-{taken.written}" if taken.written else None
        return Numeral(readings, taken.rest, taken.part, written, taken.inches)
    return taken


def _take_digits(body: str, inch_words: bool) -> Numeral | Refusal | None:
    for pattern in (_MIXED, _RATIO):
        found = pattern.match(body)
        if found:
            return _fraction(found, body[found.end() :])
    found = _DECIMAL.match(body)
    if not found:
        return None
    rest = body[found.end() :]
    if sum(map(str.isdigit, found[1])) > MAX_DIGITS:
        return _too_large()
    readings = _separated(found[1])
    if not readings:
        return Refusal(
            "unreadable-number",
            f"`{found[1]}` mixes full stops and commas in a way no number is written",
            "Write the number with one decimal point, as in `1250.5`.",
        )
    if found[3] is not None:
        exponent = int(found[3])
        if abs(exponent) > MAX_EXPONENT:
            return _too_large()
        readings = tuple(value * Fraction(10) ** exponent for value in readings)
    elif found[1].isdigit():
        return _Words(rest, inch_words).after_digits(readings[0]) or Numeral(readings, rest)
    return Numeral(readings, rest)


def _fraction(found: re.Match[str], rest: str) -> Numeral | Refusal:
    *whole, upper, lower = found.groups()
    if max(map(len, found.groups())) > MAX_DIGITS:
        return _too_large()
    if int(lower) == 0:
        return Refusal(
            "unreadable-number", f"`{found[0]}` divides by zero", "Check the lower number."
        )
    value = Fraction(int(upper), int(lower))
    if whole and value >= 1:
        return Refusal(
            "unreadable-number",
            f"`{found[0]}` is a whole number with a fraction of one or more",
            "Write it as in `1 1/2`.",
        )
    written = " ".join(filter(None, (*whole, f"{upper}/{lower}")))
    return Numeral((value + sum(map(int, whole)),), rest, part=True, written=written)


def _separated(digits: str) -> tuple[Fraction, ...]:
    """What a run of digits, full stops and commas can mean: one value, two, or none."""
    marks = [char for char in digits if char in ".,"]
    if not marks:
        return (Fraction(int(digits)),)
    if len(marks) == 1:
        whole, part = digits.split(marks[0])
        decimal = Fraction(int(whole + part), 10 ** len(part))
        if marks[0] == "," and len(part) == 3 and re.fullmatch(r"[1-9][0-9]{0,2}", whole):
            return (Fraction(int(whole + part)), decimal)
        return (decimal,)
    group, last = marks[0], marks[-1]
    whole, part = digits.rsplit(last, 1) if last != group else (digits, "")
    blocks = whole.split(group)
    well_grouped = 1 <= len(blocks[0]) <= 3 and all(len(block) == 3 for block in blocks[1:])
    joined = "".join(blocks)
    if not well_grouped or not _GROUPED.fullmatch(joined):
        return ()
    return (Fraction(int(joined + part), 10 ** len(part)),)


def _too_large() -> Refusal:
    return Refusal(
        "out-of-range",
        "the number is far outside anything that can be measured",
        "Write the number out in full, in a unit that suits it.",
    )


_ONES = {
    "zero": 0, "none": 0, "nil": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5,
    "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12,
    "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
    "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
    "eighty": 80, "ninety": 90,
}  # fmt: skip
_PARTS = {
    "half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4,
    "fourth": 4, "fourths": 4, "fifth": 5, "fifths": 5, "eighth": 8, "eighths": 8,
    "tenth": 10, "tenths": 10, "sixteenth": 16, "sixteenths": 16,
    "hundredth": 100, "hundredths": 100,
}  # fmt: skip
_TWO_WORD_PARTS = {
    ("thirty", "second"): 32, ("thirty", "seconds"): 32,
    ("sixty", "fourth"): 64, ("sixty", "fourths"): 64,
}  # fmt: skip
_ONLY_OF_INCHES = frozenset({8, 16, 32, 64})
_ARTICLE = re.compile(r"[\s-]*an?\s+[a-z\"%°μ]", re.I | re.A)
_WORD = re.compile(r"[\s-]*([a-z]+)", re.I | re.A)


class _Words:
    """Reads number words from the front of a text, word by word."""

    def __init__(self, text: str, inch_words: bool) -> None:
        self._text = text
        self._inch_words = inch_words
        self._at = 0

    def value(self) -> Numeral | None:
        """`five`, `twenty-five`, `a hundred and ten`, `four point five`, `half`,
        `three sixteenths`, `two and a half`."""
        number = self._part_of(1)
        if number:
            return number
        cardinal = self._cardinal()
        if cardinal is None:
            return None
        if self._take("point"):
            return self._decimals(cardinal)
        return self.after_digits(Fraction(cardinal)) or self._numeral(Fraction(cardinal))

    def after_digits(self, whole: Fraction) -> Numeral | None:
        """The part that may follow a whole number: `3` then `sixteenths`, `2` then `and a half`."""
        number = self._part_of(whole)
        if number:
            return number
        start = self._at
        if self._take("and"):
            many = 1 if self._peek() in _PARTS else self._cardinal()
            part = self._part_of(many) if many is not None else None
            if part and part.readings[0] < 1:
                return self._numeral(whole + part.readings[0], part=True, inches=part.inches)
        self._at = start
        return None

    def _part_of(self, many: Fraction | int) -> Numeral | None:
        start = self._at
        first = self._take()
        lower = _PARTS.get(first or "")
        # `two half inch` may be 2 x 1/2 or 2 1/2: no guess is made.
        if first == "half" and many != 1:
            lower = None
        if lower is None and self._inch_words and first is not None:
            lower = _TWO_WORD_PARTS.get((first, self._take() or ""))
        if lower is None:
            self._at = start
            return None
        inches = self._inch_words and lower in _ONLY_OF_INCHES
        return self._numeral(Fraction(many, lower), part=True, inches=inches)

    def _cardinal(self) -> int | None:
        if _ARTICLE.match(self._text, self._at):
            self._take()
            value: int | None = 1
        else:
            value = self._below_hundred()
        if value is not None and 1 <= value <= 9 and self._take("hundred"):
            start = self._at
            self._take("and")
            more = self._below_hundred()
            if more is None:
                self._at = start
            value = 100 * value + (more or 0)
        return value

    def _below_hundred(self) -> int | None:
        word = self._peek() or ""
        if word in _ONES:
            self._take()
            return _ONES[word]
        if word not in _TENS:
            return None
        self._take()
        ones = _ONES.get(self._peek() or "", 0)
        if 1 <= ones <= 9:
            self._take()
            return _TENS[word] + ones
        return _TENS[word]

    def _decimals(self, whole: int) -> Numeral | None:
        digits = ""
        while (digit := _ONES.get(self._peek() or "", 10)) < 10 and len(digits) < MAX_DIGITS:
            self._take()
            digits += str(digit)
        return self._numeral(Fraction(f"{whole}.{digits}")) if digits else None

    def _numeral(self, value: Fraction, *, part: bool = False, inches: bool = False) -> Numeral:
        return Numeral((value,), self._text[self._at :], part=part, inches=inches)

    def _peek(self) -> str | None:
        found = _WORD.match(self._text, self._at)
        return found[1].casefold() if found else None

    def _take(self, wanted: str | None = None) -> str | None:
        """The next word, consumed; None (and nothing consumed) where it is not `wanted`."""
        found = _WORD.match(self._text, self._at)
        if not found or (wanted is not None and found[1].casefold() != wanted):
            return None
        self._at = found.end()
        return found[1].casefold()
