"""Quantities: what must hold for every text and every amount."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import TypeVar

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from engine.errors import QuantityError
from engine.quantity import (
    Kind,
    from_unit,
    parse_quantity,
    parse_range,
    show,
    show_against,
    show_exact,
    to_unit,
)
from engine.quantity.units import KINDS, UNITS

Read = TypeVar("Read")

UNIT_NAMES = {
    kind: [unit.name for unit in UNITS if unit.dimension is of.dimension] or ["USD", "EUR", "SEK"]
    for kind, of in KINDS.items()
}
CONVERTED = [kind for kind in Kind if kind not in (Kind.MONEY, Kind.COUNT, Kind.YEAR)]

kinds = st.sampled_from(list(Kind))
kinds_and_units = st.sampled_from([(kind, unit) for kind in Kind for unit in UNIT_NAMES[kind]])
magnitudes = st.fractions(min_value=0, max_value=10**9, max_denominator=10**6)
decimals = st.decimals(min_value=0, max_value=10**6, places=4).map(lambda number: f"{number:f}")

weird = st.text(
    st.one_of(
        st.characters(),
        st.sampled_from(
            "0123456789.,/-+eE%'\"$€£¥ \u00a0\u202f\u2009\u200b\u200f\u202e\ufeff°º˚µμ½¼⅛⅓⅟↉²³①⑴⒈"
            "⁄∕−–—٣५৪７Ⅷ㎛㎜㎡℃℉ﷺ㍘🄁İıſKÅ\u0301\x00\x1b\ud800\U0001d7d8milunchdegfCFK~≈<≤±"
        ),
    ),
    max_size=120,
)
pieces = st.sampled_from(
    ["1", "250", ",", ".", "/", " ", "-", "e", "9", "about", "half", "a", "an", "and", "quarter",
     "three", "sixteenths", "thirty", "second", "hundred", "point", "mil", "um", "in", '"', "of",
     "h", "30", "min", ":", "$", "EUR", "%", "RH", "deg", "F", "K", "²", "½", "..", "to", "x", "m"]
)  # fmt: skip
near_misses = st.lists(pieces, max_size=12).flatmap(
    lambda parts: st.sampled_from(["", " "]).map(lambda between: between.join(parts))
)


def outcome(
    read: Callable[..., Read], *arguments: object, **options: object
) -> Read | QuantityError:
    try:
        return read(*arguments, **options)
    except QuantityError as error:
        return error


@given(text=weird | near_misses, kind=kinds)
@example(text="1e999999999 mil", kind=Kind.THICKNESS)
@example(text="½½ mil", kind=Kind.THICKNESS)
@example(text="a", kind=Kind.COUNT)
@example(text="⅟0 in", kind=Kind.DEPTH)
def test_any_text_is_read_or_refused_in_one_clear_message(text: str, kind: Kind) -> None:
    found = outcome(parse_quantity, text, kind)
    if isinstance(found, QuantityError):
        (problem,) = found.problems
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", problem.code)
        assert problem.fix
        assert str(found).replace("\n", "").isprintable()
        for likely in found.likely:
            assert parse_quantity(likely, kind).kind is kind
    else:
        assert isinstance(found.amount, Fraction)
        assert found.written == text.strip()
        assert found.amount >= 0 or KINDS[kind].signed
        assert show(found.amount, kind, found.unit)


@given(text=weird | near_misses, kind=kinds)
def test_any_text_is_a_range_or_refused(text: str, kind: Kind) -> None:
    found = outcome(parse_range, text, kind)
    if isinstance(found, QuantityError):
        assert str(found).replace("\n", "").isprintable()
    else:
        assert found[0] <= found[1]


@given(kind_and_unit=kinds_and_units, value=magnitudes)
def test_exact_text_reads_back(kind_and_unit: tuple[Kind, str], value: Fraction) -> None:
    kind, unit = kind_and_unit
    if KINDS[kind].whole:
        value = Fraction(1000 + int(value) % 9000)
    amount = from_unit(value, kind, unit)
    text = show_exact(amount, kind, unit)
    quantity = parse_quantity(text, kind)
    assert quantity.amount == amount
    assert quantity.unit == unit


@given(kind_and_unit=kinds_and_units, value=magnitudes)
def test_shown_text_reads_back_near(kind_and_unit: tuple[Kind, str], value: Fraction) -> None:
    kind, unit = kind_and_unit
    if KINDS[kind].whole:
        value = Fraction(1000 + int(value) % 9000)
    text = show(from_unit(value, kind, unit), kind, unit)
    again = to_unit(parse_quantity(text, kind).amount, kind, unit)
    # Two figures at least are kept, so rounding moves a value by a twentieth at most.
    assert abs(again - value) <= Fraction(1, 20) * value
    assert value == 0 or again != 0


@given(kind=st.sampled_from(CONVERTED), data=st.data(), value=magnitudes)
def test_unit_and_back_is_exact(kind: Kind, data: st.DataObject, value: Fraction) -> None:
    unit = data.draw(st.sampled_from(UNIT_NAMES[kind]))
    assert to_unit(from_unit(value, kind, unit), kind, unit) == value


@given(kind_and_unit=kinds_and_units, one=decimals, other=decimals)
def test_reading_keeps_order(kind_and_unit: tuple[Kind, str], one: str, other: str) -> None:
    kind, unit = kind_and_unit
    assume(not KINDS[kind].whole)
    left, right = (parse_quantity(f"{text} {unit}", kind).amount for text in (one, other))
    assert (left < right) is (Fraction(one) < Fraction(other))
    assert (left == right) is (Fraction(one) == Fraction(other))


@given(one=decimals, other=decimals, data=st.data())
def test_showing_keeps_order_at_equal_decimals(one: str, other: str, data: st.DataObject) -> None:
    digits = data.draw(st.integers(0, 5))
    low, high = sorted((Fraction(one), Fraction(other)))
    texts = [show(value, Kind.NUMBER, digits=digits) for value in (low, high)]
    assert Fraction(texts[0]) <= Fraction(texts[1])


@given(
    kind_and_unit=kinds_and_units,
    limit=magnitudes,
    step=st.fractions(min_value=-1, max_value=1, max_denominator=10**9),
)
def test_a_value_off_the_limit_never_reads_like_it(
    kind_and_unit: tuple[Kind, str], limit: Fraction, step: Fraction
) -> None:
    kind, unit = kind_and_unit
    amount = limit + step
    shown, bound = show_against(amount, limit, kind, unit)
    assert (shown == bound) is (amount == limit)
    number, reference = (_number(text) for text in (shown, bound))
    assert (number < reference) is (amount < limit)


def _number(text: str) -> Fraction:
    found = re.search(r"-?\D?([0-9.]+)", text)
    assert found
    return Fraction(found[1]) * (-1 if text.startswith("-") else 1)


@pytest.mark.parametrize("digit", [chr(code) for code in (0x2460, 0xB2, 0x2474, 0x2488, 0x1F101)])
@given(whole=st.integers(1, 999))
def test_no_ornamental_digit_joins_a_number(digit: str, whole: int) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(f"{whole}{digit} mil", Kind.THICKNESS)


@given(
    whole=st.integers(0, 99),
    fraction=st.sampled_from(list("¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞")),
    between=st.sampled_from(["", " ", "\u2009"]),
)
def test_vulgar_fractions_add_to_the_whole(whole: int, fraction: str, between: str) -> None:
    part = Fraction(unicodedata.numeric(fraction)).limit_denominator(10)
    amount = parse_quantity(f"{whole}{between}{fraction} in", Kind.DEPTH).amount
    assert amount == (whole + part) * 25400


@given(text=st.from_regex(r"[1-9][0-9]{0,2},[0-9]{3}", fullmatch=True))
def test_one_comma_before_three_digits_is_never_guessed(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(f"{text} um", Kind.THICKNESS)
    grouped, decimal = caught.value.likely
    values = [parse_quantity(answer, Kind.THICKNESS).amount for answer in (grouped, decimal)]
    assert values == [Fraction(text.replace(",", "")), Fraction(text.replace(",", "."))]


@given(value=magnitudes, plausible_high=st.integers(1, 10**6), kind_and_unit=kinds_and_units)
def test_implausible_suggestions_are_plausible(
    value: Fraction, plausible_high: int, kind_and_unit: tuple[Kind, str]
) -> None:
    kind, unit = kind_and_unit
    assume(not KINDS[kind].whole)
    plausible = (Fraction(0), Fraction(plausible_high))
    text = show_exact(from_unit(value, kind, unit), kind, unit)
    found = outcome(parse_quantity, text, kind, plausible=plausible)
    amount = from_unit(value, kind, unit)
    assert isinstance(found, QuantityError) is not (plausible[0] <= amount <= plausible[1])
    if isinstance(found, QuantityError):
        assert found.problems[0].code == "implausible"
        for likely in found.likely:
            assert parse_quantity(likely, kind, plausible=plausible).unit != unit
