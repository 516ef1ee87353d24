"""What is read, and as what exact amount."""

from __future__ import annotations

from fractions import Fraction

import pytest

from engine.quantity import Kind, Quantity, parse_quantity, parse_range, unit_words
from engine.quantity.units import KINDS, UNITS, find_currency, find_unit, unit_key

MIL = Fraction(254, 10)
INCH = Fraction(25400)


def amount(text: str | int | Fraction, kind: Kind) -> Fraction:
    return parse_quantity(text, kind).amount


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 mil", 5 * MIL),
        ("4.5MILS", MIL * 9 / 2),
        ("5 mil.", 5 * MIL),
        ("about 5 mil", 5 * MIL),
        ("approx. 5 mil", 5 * MIL),
        ("~5 mil", 5 * MIL),
        ("≈ 5 mil", 5 * MIL),
        ("ca. 5 mil", 5 * MIL),
        ("5 thou", 5 * MIL),
        ("5 thousandths", 5 * MIL),
        ("five thousandths of an inch", 5 * MIL),
        ("four point five mil", MIL * 9 / 2),
        ("two and a half mil", MIL * 5 / 2),
        ("half a mil", MIL / 2),
        ("a mil", MIL),
        ("12-mil", 12 * MIL),
        ("4,5 mil", MIL * 9 / 2),
        ("½ mil", MIL / 2),
        ("1½ mil", MIL * 3 / 2),
        ("+5 mil", 5 * MIL),
        (".5 mil", MIL / 2),
        ("110 µ", Fraction(110)),
        ("110 \u00b5m", Fraction(110)),
        ("110 \u03bcm", Fraction(110)),
        ("110 u", Fraction(110)),
        ("110\u00a0um", Fraction(110)),
        ("110\u202fum", Fraction(110)),
        ("110 microns", Fraction(110)),
        ("110 micrometres", Fraction(110)),
        ("a hundred and twenty microns", Fraction(120)),
        ("1,250.5 um", Fraction(12505, 10)),
        ("1.250,5 um", Fraction(12505, 10)),
        ("1,250,000 um", Fraction(1250000)),
        ("0,250 um", Fraction(1, 4)),
        ("1250,125 um", Fraction(1250125, 1000)),
        ("1.2e2 um", Fraction(120)),
        ("1.5e-1 mm", Fraction(150)),
        ("０.５ mil", MIL / 2),
        ("5㎛", Fraction(5)),
        ("0.1 mm", Fraction(100)),
        ("0.005 in", 5 * MIL),
        ('0.005"', 5 * MIL),
        ("0.005″", 5 * MIL),
        ("-0 um", Fraction(0)),
        ("none um", Fraction(0)),
    ],
)
def test_thickness(text: str, expected: Fraction) -> None:
    assert amount(text, Kind.THICKNESS) == expected


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("1/4 in", Fraction(1, 4)),
        ('3/16"', Fraction(3, 16)),
        ("3⁄16 inch", Fraction(3, 16)),
        ("1 1/2 in", Fraction(3, 2)),
        ("1-1/2 in", Fraction(3, 2)),
        ("1 and 1/2 in", Fraction(3, 2)),
        ("quarter inch", Fraction(1, 4)),
        ("a quarter of an inch", Fraction(1, 4)),
        ("half an inch", Fraction(1, 2)),
        ("an eighth of an inch", Fraction(1, 8)),
        ("three sixteenths", Fraction(3, 16)),
        ("3 sixteenths of an inch", Fraction(3, 16)),
        ("three thirty-seconds", Fraction(3, 32)),
        ("a sixty-fourth of an inch", Fraction(1, 64)),
        ("three quarter inch", Fraction(3, 4)),
        ("one and three quarter inches", Fraction(7, 4)),
        ("an inch and a half", Fraction(3, 2)),
        ("two inches and three quarters", Fraction(11, 4)),
        ("⅛ in", Fraction(1, 8)),
        ("1⅛”", Fraction(9, 8)),
        ("⅓ in", Fraction(1, 3)),
        ("6.35 mm", Fraction(1, 4)),
        ("2.54 cm", Fraction(1)),
        ("1000 mil", Fraction(1)),
    ],
)
def test_depth(text: str, inches: Fraction) -> None:
    assert amount(text, Kind.DEPTH) == inches * INCH


@pytest.mark.parametrize(
    "text",
    ["70F", "70 degF", "70 °F", "70 deg F", "70 degrees Fahrenheit", "seventy degrees F", "70 ℉"],
)
def test_fahrenheit(text: str) -> None:
    assert amount(text, Kind.TEMPERATURE) == Fraction(190, 9)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("21 degC", "21"),
        ("21 C", "21"),
        ("21ºC", "21"),
        ("21˚ C", "21"),
        ("21 degrees celsius", "21"),
        ("294.15 K", "21"),
        ("\u22125 °C", "-5"),
        ("–5 C", "-5"),
        ("minus 5 C", "-5"),
        ("minus two and a half C", "-2.5"),
        ("-273.15 degC", "-273.15"),
    ],
)
def test_temperature(text: str, celsius: str) -> None:
    assert amount(text, Kind.TEMPERATURE) == Fraction(celsius)


def test_temperature_difference_has_no_offset() -> None:
    assert amount("5 degF", Kind.TEMPERATURE_DIFFERENCE) == Fraction(25, 9)
    assert amount("5 degC", Kind.TEMPERATURE_DIFFERENCE) == 5
    assert amount("-5 K", Kind.TEMPERATURE_DIFFERENCE) == -5


@pytest.mark.parametrize(
    "text",
    ["55 %", "55%", "55 percent", "55 per cent", "55 pct", "RH 55 %", "rh: 55 %", "55 % RH",
     "about 55 %", "humidity 55 %", "fifty-five percent", "55％"],
)  # fmt: skip
def test_percent(text: str) -> None:
    assert amount(text, Kind.PERCENT) == 55


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("1.2 m2", Kind.AREA, "1.2"),
        ("1.2 m²", Kind.AREA, "1.2"),
        ("1.2 sq m", Kind.AREA, "1.2"),
        ("1.2 square metres", Kind.AREA, "1.2"),
        ("1.2㎡", Kind.AREA, "1.2"),
        ("100 ft2", Kind.AREA, "9.290304"),
        ("100 sq. ft.", Kind.AREA, "9.290304"),
        ("100 square feet", Kind.AREA, "9.290304"),
        ("50 cm2", Kind.AREA, "0.005"),
        ("500 ml", Kind.VOLUME, "0.5"),
        ("2 gal", Kind.VOLUME, "7.570823568"),
        ("a quart", Kind.VOLUME, "0.946352946"),
        ("8 fl. oz.", Kind.VOLUME, "0.2365882365"),
        ("2 bar", Kind.PRESSURE, "2"),
        ("0.2 MPa", Kind.PRESSURE, "2"),
        ("200 kPa", Kind.PRESSURE, "2"),
        ("1.2 kg/L", Kind.DENSITY, "1200"),
        ("250 g", Kind.MASS, "250"),
        ("1.5 kg", Kind.MASS, "1500"),
        ("1 h 30 min", Kind.TIME, "1.5"),
        ("1h30", Kind.TIME, "1.5"),
        ("1h30m", Kind.TIME, "1.5"),
        ("1:30 h", Kind.TIME, "1.5"),
        ("1 hour and 30 minutes", Kind.TIME, "1.5"),
        ("an hour and a half", Kind.TIME, "1.5"),
        ("90 min", Kind.TIME, "1.5"),
        ("half an hour", Kind.TIME, "0.5"),
        ("36 s", Kind.TIME, "0.01"),
        ("2 days", Kind.TIME, "48"),
        ("1 day, 2 hours and 15 min", Kind.TIME, "26.25"),
        ("two", Kind.COUNT, "2"),
        ("none", Kind.COUNT, "0"),
        (3, Kind.COUNT, "3"),
        ("4.0", Kind.COUNT, "4"),
        ("-3/4", Kind.NUMBER, "-0.75"),
        (Fraction(-3, 4), Kind.NUMBER, "-0.75"),
        ("1996", Kind.YEAR, "1996"),
        (1996, Kind.YEAR, "1996"),
    ],
)
def test_other_kinds(text: str | int | Fraction, kind: Kind, expected: str) -> None:
    assert amount(text, kind) == Fraction(expected)


def test_thirty_seconds_is_a_time_and_a_part_of_an_inch() -> None:
    assert amount("thirty seconds", Kind.TIME) == Fraction(30, 3600)
    assert amount("a thirty-second of an inch", Kind.DEPTH) == INCH / 32


@pytest.mark.parametrize(
    ("text", "value", "currency"),
    [
        ("$12.50", "12.5", "USD"),
        ("12.50 USD", "12.5", "USD"),
        ("USD 12.50", "12.5", "USD"),
        ("12,50 €", "12.5", "EUR"),
        ("€9", "9", "EUR"),
        ("9 eur", "9", "EUR"),
        ("£3", "3", "GBP"),
        ("$1,250.00", "1250", "USD"),
        ("12 dollars", "12", "USD"),
        ("12.50 SEK", "12.5", "SEK"),
    ],
)
def test_money(text: str, value: str, currency: str) -> None:
    quantity = parse_quantity(text, Kind.MONEY)
    assert (quantity.amount, quantity.currency, quantity.unit) == (
        Fraction(value),
        currency,
        currency,
    )


def test_keeps_what_was_written_and_the_standard_unit() -> None:
    quantity = parse_quantity("  about 4.5 MILS ", Kind.THICKNESS)
    assert quantity == Quantity(MIL * 9 / 2, Kind.THICKNESS, "about 4.5 MILS", "mil")
    assert parse_quantity("1h30", Kind.TIME).unit == "h"
    assert parse_quantity(3, Kind.COUNT).written == "3"


def test_equality_at_a_limit_is_exact() -> None:
    assert amount("12 mil", Kind.THICKNESS) == amount("304.8 um", Kind.THICKNESS)
    assert amount("6.35 mm", Kind.DEPTH) == amount("1/4 in", Kind.DEPTH)
    assert amount("12.0000000000000000000000001 mil", Kind.THICKNESS) > amount(
        "304.8 um", Kind.THICKNESS
    )


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("0..2500 um", Kind.THICKNESS, ("0", "2500")),
        ("0 um..10 mm", Kind.DEPTH, ("0", "10000")),
        ("1.5..3 mm", Kind.DEPTH, ("1500", "3000")),
        ("0 .. 10 mm", Kind.DEPTH, ("0", "10000")),
        ("-20 to 60 degC", Kind.TEMPERATURE, ("-20", "60")),
        ("0..100 %", Kind.PERCENT, ("0", "100")),
        ("0..50", Kind.COUNT, ("0", "50")),
        ("1900..2100", Kind.YEAR, ("1900", "2100")),
        ("$5..$9", Kind.MONEY, ("5", "9")),
        ("3..3 mm", Kind.DEPTH, ("3000", "3000")),
    ],
)
def test_range(text: str, kind: Kind, expected: tuple[str, str]) -> None:
    assert parse_range(text, kind) == tuple(map(Fraction, expected))


@pytest.mark.parametrize("kind", [kind for kind in Kind if unit_words(kind)])
def test_every_offered_spelling_is_read(kind: Kind) -> None:
    for word in unit_words(kind):
        assert parse_quantity(f"300 {word}", kind).amount > 0, word


@pytest.mark.parametrize("kind", list(Kind))
def test_no_unit_where_none_is_due(kind: Kind) -> None:
    plain = kind in (Kind.COUNT, Kind.NUMBER, Kind.YEAR)
    assert bool(unit_words(kind)) is not plain


def test_no_spelling_stands_for_two_units_of_one_dimension() -> None:
    meanings: dict[tuple[str, str], set[str]] = {}
    for unit in UNITS:
        for word in unit.words:
            meanings.setdefault((unit.dimension, unit_key(word)), set()).add(unit.name)
    assert {key: names for key, names in meanings.items() if len(names) > 1} == {}


def test_every_unit_named_for_a_kind_exists() -> None:
    for kind, of in KINDS.items():
        for name in (of.canonical, *of.offer):
            known = find_currency(name) if kind is Kind.MONEY and name else name
            assert known == name
            if kind is not Kind.MONEY:
                assert find_unit(name, of.dimension) is not None, (kind, name)
