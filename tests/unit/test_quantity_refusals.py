"""What is not read, why, and what is asked back."""

from __future__ import annotations

import time
from fractions import Fraction
from typing import Any

import pytest

from engine.errors import Place, QuantityError
from engine.quantity import Kind, parse_quantity, parse_range, to_unit
from engine.quantity.reading import MAX_LENGTH


def refused(text: Any, kind: Kind, **options: Any) -> QuantityError:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, kind, **options)
    return caught.value


def code(text: Any, kind: Kind, **options: Any) -> str:
    return refused(text, kind, **options).problems[0].code


@pytest.mark.parametrize(
    ("text", "kind", "likely"),
    [
        ("4.8", Kind.THICKNESS, ("4.8 mil", "4.8 um")),
        ("120", Kind.THICKNESS, ("120 um", "120 mil")),
        (120, Kind.THICKNESS, ("120 um", "120 mil")),
        ("3", Kind.DEPTH, ("3 mm", "3 in")),
        ("0.25", Kind.DEPTH, ("0.25 in", "0.25 mm")),
        ("1/4", Kind.DEPTH, ("1/4 in", "1/4 mm")),
        ("21", Kind.TEMPERATURE, ("21 degC", "21 degF")),
        ("21 degrees", Kind.TEMPERATURE, ("21 degC", "21 degF")),
        ("70", Kind.TEMPERATURE, ("70 degF", "70 degC")),
        ("294", Kind.TEMPERATURE, ("294 K", "294 degF")),
        ("3", Kind.TEMPERATURE_DIFFERENCE, ("3 degC", "3 degF")),
        ("55", Kind.PERCENT, ("55 %",)),
        ("0.55", Kind.PERCENT, ("0.55 %", "55 %")),
        ("1.2", Kind.AREA, ("1.2 m2", "1.2 ft2")),
        ("13", Kind.AREA, ("13 ft2", "13 m2")),
        ("500", Kind.VOLUME, ("500 ml", "500 L")),
        ("2", Kind.VOLUME, ("2 L", "2 ml")),
        ("20", Kind.TIME, ("20 min", "20 h")),
        ("1:30", Kind.TIME, ("1 h 30 min", "1 min 30 s")),
        ("12.50", Kind.MONEY, ("12.5 USD", "12.5 EUR")),
        ("29", Kind.PRESSURE, ("29 psi", "29 bar")),
        ("420", Kind.DENSITY, ("420 g/L", "420 lb/gal")),
        ("250", Kind.MASS, ("250 g", "250 kg")),
    ],
)
def test_bare_number_asks_back(text: str | int, kind: Kind, likely: tuple[str, ...]) -> None:
    error = refused(text, kind)
    assert error.problems[0].code == "no-unit"
    assert error.likely == likely
    assert all(answer in str(error) for answer in likely)
    for answer in likely:
        assert parse_quantity(answer, kind).kind is kind


def test_bare_number_asks_for_the_plausible_unit_first() -> None:
    within = (Fraction(0), Fraction(100))
    assert refused("50", Kind.THICKNESS).likely == ("50 um", "50 mil")
    assert refused("4.5", Kind.THICKNESS, plausible=within).likely == ("4.5 um", "4.5 mil")


@pytest.mark.parametrize(
    ("text", "kind", "likely"),
    [
        ("1,250 um", Kind.THICKNESS, ("1250 um", "1.25 um")),
        ("1,250", Kind.THICKNESS, ("1250 um", "1.25 mil")),
        ("$1,250", Kind.MONEY, ("1250 USD", "1.25 USD")),
        ("1,250", Kind.COUNT, ("1250",)),
    ],
)
def test_a_comma_with_two_readings_is_explained(
    text: str, kind: Kind, likely: tuple[str, ...]
) -> None:
    error = refused(text, kind)
    assert error.problems[0].code == "ambiguous-comma"
    assert error.likely == likely
    assert "thousands" in str(error)
    assert "decimal comma" in str(error)


@pytest.mark.parametrize(
    ("text", "kind", "expected", "first"),
    [
        ("5 mills", Kind.THICKNESS, "unknown-unit", "5 mil"),
        ("5 micorns", Kind.THICKNESS, "unknown-unit", "5 um"),
        ("21 celcius", Kind.TEMPERATURE, "unknown-unit", "21 degC"),
        ("2 inchs", Kind.DEPTH, "unknown-unit", "2 in"),
        ("55 precent", Kind.PERCENT, "unknown-unit", "55 %"),
        ("5 ml", Kind.THICKNESS, "wrong-unit", "5 mil"),
        ("2 hurs", Kind.TIME, "unknown-unit", "2 h"),
        ("2 dents", Kind.COUNT, "wrong-unit", "2"),
    ],
)
def test_a_near_unit_is_suggested(text: str, kind: Kind, expected: str, first: str) -> None:
    error = refused(text, kind)
    assert error.problems[0].code == expected
    assert error.likely[0] == first


@pytest.mark.parametrize(
    ("text", "kind", "word"),
    [
        ("5 degC", Kind.THICKNESS, "temperature"),
        ("21 mil", Kind.TEMPERATURE, "length"),
        ("5 psi", Kind.VOLUME, "pressure"),
        ("5 %", Kind.DEPTH, "percentage"),
        ("5 EUR", Kind.AREA, "money"),
        ("5 kg", Kind.TIME, "mass"),
    ],
)
def test_a_unit_of_something_else_is_named(text: str, kind: Kind, word: str) -> None:
    error = refused(text, kind)
    assert error.problems[0].code == "wrong-unit"
    assert f"a unit of {word}" in str(error)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("", Kind.THICKNESS, "empty"),
        (" \u00a0\t", Kind.THICKNESS, "empty"),
        ("mil", Kind.THICKNESS, "no-number"),
        ("nan", Kind.NUMBER, "no-number"),
        ("inf mil", Kind.THICKNESS, "no-number"),
        ("-infinity", Kind.NUMBER, "no-number"),
        ("¥5", Kind.MONEY, "no-number"),
        ("\u0664 mil", Kind.THICKNESS, "no-number"),
        ("1e999 mil", Kind.THICKNESS, "out-of-range"),
        ("1e-999 mil", Kind.THICKNESS, "out-of-range"),
        ("9" * 41 + " mil", Kind.THICKNESS, "out-of-range"),
        ("1" * 50 + "/3 in", Kind.DEPTH, "out-of-range"),
        ("4.5 4.6 mil", Kind.THICKNESS, "several-values"),
        ("4-5 mil", Kind.THICKNESS, "several-values"),
        ("4–5 mil", Kind.THICKNESS, "several-values"),
        ("4 or 5 mil", Kind.THICKNESS, "several-values"),
        ("5 ± 0.2 mil", Kind.THICKNESS, "several-values"),
        ("5 mil 120 um", Kind.THICKNESS, "several-values"),
        ("5 mil/127 um", Kind.THICKNESS, "several-values"),
        ("1 250 um", Kind.THICKNESS, "several-values"),
        ("2 3", Kind.COUNT, "several-values"),
        ("2-3", Kind.COUNT, "several-values"),
        ("1 h -30 min", Kind.TIME, "several-values"),
        ("30 min 1 h", Kind.TIME, "several-values"),
        ("-1 h 90 min", Kind.TIME, "several-values"),
        ("-5 degC and a half", Kind.TEMPERATURE, "unknown-unit"),
        ("<5 mil", Kind.THICKNESS, "not-one-value"),
        ("over 40 mil", Kind.THICKNESS, "not-one-value"),
        ("5² mil", Kind.THICKNESS, "unknown-unit"),
        ("10² um", Kind.THICKNESS, "unknown-unit"),
        ("5① mil", Kind.THICKNESS, "unknown-unit"),
        ("½2 mil", Kind.THICKNESS, "several-values"),
        ("two half inch", Kind.DEPTH, "unknown-unit"),
        ("5 m", Kind.THICKNESS, "unknown-unit"),
        ("0.2 mPa", Kind.PRESSURE, "unknown-unit"),
        ("5/0 in", Kind.DEPTH, "unreadable-number"),
        ("1 3/2 in", Kind.DEPTH, "unreadable-number"),
        ("1.2.3 um", Kind.THICKNESS, "unreadable-number"),
        ("1,25.5 um", Kind.THICKNESS, "unreadable-number"),
        ("-5 mil", Kind.THICKNESS, "negative"),
        ("-5 %", Kind.PERCENT, "negative"),
        ("-$5", Kind.MONEY, "negative"),
        ("-1", Kind.COUNT, "negative"),
        ("2.5", Kind.COUNT, "not-whole"),
        ("1996.5", Kind.YEAR, "not-whole"),
        ("96", Kind.YEAR, "short-year"),
        ("'96", Kind.YEAR, "short-year"),
        ("996", Kind.YEAR, "out-of-range"),
        ("-300 degC", Kind.TEMPERATURE, "below-absolute-zero"),
        ("-1 K", Kind.TEMPERATURE, "below-absolute-zero"),
        ("$5 EUR", Kind.MONEY, "wrong-unit"),
        ("5 mil" + " " * MAX_LENGTH, Kind.THICKNESS, "too-long"),
        (4.8, Kind.THICKNESS, "wrong-type"),
        (True, Kind.COUNT, "wrong-type"),
        (None, Kind.COUNT, "wrong-type"),
        (["5 mil"], Kind.THICKNESS, "wrong-type"),
    ],
)
def test_refusal(text: Any, kind: Kind, expected: str) -> None:
    error = refused(text, kind)
    assert error.problems[0].code == expected
    assert error.exit_code == 3


@pytest.mark.parametrize(
    "text",
    ["1e999999999", "1e999999999 mil", "1e-999999999 mil", "9" * 10**6, "1e" + "9" * 90],
    ids=["exponent", "with-unit", "negative-exponent", "long-text", "long-exponent"],
)
def test_huge_numbers_are_refused_at_once(text: str) -> None:
    start = time.perf_counter()
    assert code(text, Kind.THICKNESS) in ("out-of-range", "too-long")
    assert time.perf_counter() - start < 0.5


def test_huge_exact_numbers_are_refused() -> None:
    for number in (10**5000, -(10**5000), Fraction(1, 10**5000)):
        assert code(number, Kind.NUMBER) == "out-of-range"


def test_an_implausible_value_asks_back_with_the_other_unit() -> None:
    film = (Fraction(0), Fraction(2500))
    error = refused("120 mil", Kind.THICKNESS, plausible=film)
    assert error.problems[0].code == "implausible"
    assert error.likely == ("120 um",)
    assert "2500 um" in str(error)
    warm = (Fraction(-20), Fraction(60))
    assert refused("70 C", Kind.TEMPERATURE, plausible=warm).likely == ("70 degF",)


def test_an_implausible_value_just_outside_does_not_read_like_the_bound() -> None:
    error = refused("2500.0001 um", Kind.THICKNESS, plausible=(Fraction(0), Fraction(2500)))
    assert "is 2500.0001 um, above the highest plausible 2500 um" in str(error)


def test_what_may_plausibly_be_below_zero_is_read_below_zero() -> None:
    plausible = (Fraction(-100), Fraction(100))
    below = parse_quantity("-0.1 mil", Kind.THICKNESS, plausible=plausible)
    assert below.amount == Fraction(-254, 100)
    with pytest.raises(QuantityError) as refused:
        parse_quantity("-0.1 mil", Kind.THICKNESS, plausible=(Fraction(0), Fraction(100)))
    assert refused.value.problems[0].code == "negative"
    assert parse_range("-100 um..100 um", Kind.THICKNESS, signed=True) == plausible
    with pytest.raises(QuantityError):
        parse_range("-100 um..100 um", Kind.THICKNESS)


def test_a_value_at_the_bound_is_plausible() -> None:
    bounds = (Fraction(0), Fraction(3048, 10))
    assert parse_quantity("12 mil", Kind.THICKNESS, plausible=bounds).amount == bounds[1]


def test_the_place_goes_into_the_message() -> None:
    place = Place("job.yaml", 7, 12)
    error = refused("4.8", Kind.THICKNESS, place=place)
    assert error.problems[0].place == place
    assert str(error).startswith("job.yaml:7:12: ")


def test_control_characters_do_not_reach_the_message() -> None:
    for text in ("5\x1b[2J mil", "5\x00 mil", "\ud800", "5 \u202emil"):
        message = str(refused(text, Kind.THICKNESS))
        assert message.replace("\n", "").isprintable()
        message.encode("utf-8")


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("5", Kind.COUNT, "bad-range"),
        ("1..2..3 um", Kind.THICKNESS, "bad-range"),
        ("1...3 um", Kind.THICKNESS, "bad-range"),
        ("..3 um", Kind.THICKNESS, "bad-range"),
        ("10..5 mm", Kind.DEPTH, "bad-range"),
        ("$5..€9", Kind.MONEY, "bad-range"),
        ("0..5", Kind.DEPTH, "no-unit"),
        ("0 mm..5", Kind.DEPTH, "no-unit"),
        ("-5..5 mm", Kind.DEPTH, "negative"),
        ("x" * 1000, Kind.DEPTH, "bad-range"),
        (5, Kind.DEPTH, "wrong-type"),
    ],
)
def test_bad_range(text: Any, kind: Kind, expected: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_range(text, kind, place=Place("facts.yaml", 3, 4))
    assert caught.value.problems[0].code == expected
    assert str(caught.value).startswith("facts.yaml:3:4: ")


def test_the_suggested_order_of_a_reversed_range_is_read() -> None:
    with pytest.raises(QuantityError, match="lower end above") as caught:
        parse_range("10..5 mm", Kind.DEPTH)
    assert "`5 mm..10 mm`" in (caught.value.problems[0].fix or "")
    assert parse_range("5 mm..10 mm", Kind.DEPTH) == (Fraction(5000), Fraction(10000))


def test_converting_to_a_unit_of_something_else_is_refused() -> None:
    with pytest.raises(QuantityError, match="no unit of a film thickness"):
        to_unit(Fraction(1), Kind.THICKNESS, "degC")
