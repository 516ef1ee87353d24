"""How amounts are written for reading."""

from __future__ import annotations

from fractions import Fraction

import pytest

from engine.quantity import (
    Kind,
    canonical_unit,
    from_unit,
    parse_quantity,
    show,
    show_against,
    show_exact,
    to_canonical,
    to_unit,
)


def amount(text: str, kind: Kind) -> Fraction:
    return parse_quantity(text, kind).amount


@pytest.mark.parametrize(
    ("text", "kind", "unit", "shown"),
    [
        ("5.05 mil", Kind.THICKNESS, "mil", "5.05 mil"),
        ("5.05 mil", Kind.THICKNESS, "um", "128 um"),
        ("12 mil", Kind.THICKNESS, "mil", "12 mil"),
        ("12 mil", Kind.THICKNESS, None, "304.8 um"),
        ("1/3 mil", Kind.THICKNESS, "mil", "0.33 mil"),
        ("4.57 um", Kind.THICKNESS, "um", "4.6 um"),
        ("0.1 um", Kind.THICKNESS, "mil", "0.0039 mil"),
        ("0 um", Kind.THICKNESS, "um", "0 um"),
        ("1/4 in", Kind.DEPTH, "in", "0.25 in"),
        ("1/4 in", Kind.DEPTH, None, "6.35 mm"),
        ("3/16 in", Kind.DEPTH, "in", "0.1875 in"),
        ("3/16 in", Kind.DEPTH, "mm", "4.76 mm"),
        ("3.2 degC", Kind.TEMPERATURE, None, "3.2 degC"),
        ("70 degF", Kind.TEMPERATURE, None, "21.1 degC"),
        ("5 degF", Kind.TEMPERATURE_DIFFERENCE, None, "2.8 degC"),
        ("5 degF", Kind.TEMPERATURE_DIFFERENCE, "degF", "5 degF"),
        ("-0.04 degC", Kind.TEMPERATURE, None, "-0.04 degC"),
        ("55.0 %", Kind.PERCENT, None, "55 %"),
        ("1.20 m2", Kind.AREA, None, "1.2 m2"),
        ("1.2 m2", Kind.AREA, "ft2", "12.9 ft2"),
        ("$12.50", Kind.MONEY, "USD", "$12.50"),
        ("$12", Kind.MONEY, "USD", "$12"),
        ("9.999 EUR", Kind.MONEY, "EUR", "€10.00"),
        ("12.5 SEK", Kind.MONEY, "SEK", "12.50 SEK"),
        ("10 min", Kind.TIME, None, "10 min"),
        ("90 min", Kind.TIME, None, "1.5 h"),
        ("0 h", Kind.TIME, None, "0 h"),
        ("3", Kind.COUNT, None, "3"),
        ("1996", Kind.YEAR, None, "1996"),
        ("2/3", Kind.NUMBER, None, "0.667"),
        ("29 psi", Kind.PRESSURE, None, "2 bar"),
        ("3.5 lb/gal", Kind.DENSITY, None, "419 g/L"),
    ],
)
def test_show(text: str, kind: Kind, unit: str | None, shown: str) -> None:
    assert show(amount(text, kind), kind, unit) == shown


def test_half_steps_round_away_from_zero() -> None:
    assert show(Fraction(5, 1000), Kind.NUMBER, digits=2) == "0.01"
    assert show(Fraction(-5, 1000), Kind.NUMBER, digits=2) == "-0.01"
    assert show(Fraction(-4, 1000), Kind.NUMBER, digits=2) == "0"


def test_digits_sets_the_decimals() -> None:
    third = amount("1/3 mil", Kind.THICKNESS)
    assert show(third, Kind.THICKNESS, "mil", digits=4) == "0.3333 mil"
    assert show(amount("1.5 mil", Kind.THICKNESS), Kind.THICKNESS, "mil", digits=4) == "1.5 mil"
    assert show(amount("1.25 mil", Kind.THICKNESS), Kind.THICKNESS, "mil", digits=0) == "1 mil"


@pytest.mark.parametrize(
    ("value", "limit", "unit", "shown"),
    [
        ("12.0001 mil", "12 mil", "mil", ("12.0001 mil", "12 mil")),
        ("11.9999 mil", "12 mil", "mil", ("11.9999 mil", "12 mil")),
        ("12 mil", "304.8 um", "mil", ("12 mil", "12 mil")),
        ("9 mil", "12 mil", "mil", ("9 mil", "12 mil")),
        # 128.27 alone reads 128, which beside 128.2 would be on the wrong side of it.
        ("128.27 um", "128.2 um", "um", ("128.3 um", "128.2 um")),
        ("304.8001 um", "304.8 um", None, ("304.8001 um", "304.8 um")),
    ],
)
def test_show_against(value: str, limit: str, unit: str | None, shown: tuple[str, str]) -> None:
    kind = Kind.THICKNESS
    assert show_against(amount(value, kind), amount(limit, kind), kind, unit) == shown


def test_show_against_keeps_money_and_time_apart() -> None:
    assert show_against(Fraction("9.999"), Fraction(10), Kind.MONEY, "USD") == ("$9.999", "$10.000")
    assert show_against(Fraction(59, 60), Fraction(1), Kind.TIME) == ("0.98 h", "1 h")


@pytest.mark.parametrize(
    ("text", "kind", "unit", "exact"),
    [
        ("1/3 mil", Kind.THICKNESS, "mil", "1/3 mil"),
        ("1/64 in", Kind.DEPTH, "in", "0.015625 in"),
        ("70 degF", Kind.TEMPERATURE, None, "190/9 degC"),
        ("55 %", Kind.PERCENT, None, "55 %"),
        ("$12.50", Kind.MONEY, "USD", "12.5 USD"),
        ("2", Kind.COUNT, None, "2"),
    ],
)
def test_show_exact(text: str, kind: Kind, unit: str | None, exact: str) -> None:
    assert show_exact(amount(text, kind), kind, unit) == exact


def test_units_of_each_kind() -> None:
    kept_and_reported = {
        Kind.THICKNESS: ("um", "um"),
        Kind.DEPTH: ("um", "mm"),
        Kind.TEMPERATURE: ("degC", "degC"),
        Kind.TEMPERATURE_DIFFERENCE: ("K", "degC"),
        Kind.PERCENT: ("percent", "percent"),
        Kind.AREA: ("m2", "m2"),
        Kind.VOLUME: ("L", "L"),
        Kind.TIME: ("h", "h"),
        Kind.MONEY: ("USD", ""),
        Kind.COUNT: ("", ""),
        Kind.NUMBER: ("", ""),
        Kind.YEAR: ("", ""),
        Kind.PRESSURE: ("bar", "bar"),
        Kind.DENSITY: ("g/L", "g/L"),
        Kind.MASS: ("g", "g"),
    }
    assert kept_and_reported.keys() == set(Kind)
    for kind, (kept, reported) in kept_and_reported.items():
        assert from_unit(Fraction(7), kind, kept) == 7
        assert canonical_unit(kind) == reported


def test_conversions() -> None:
    assert to_canonical(Fraction(6350), Kind.DEPTH) == Fraction("6.35")
    assert to_canonical(Fraction(128), Kind.THICKNESS) == 128
    assert to_unit(Fraction(3048, 10), Kind.THICKNESS, "mils") == 12
    assert to_unit(Fraction(21), Kind.TEMPERATURE, "degF") == Fraction("69.8")
    assert to_unit(Fraction(5), Kind.TEMPERATURE_DIFFERENCE, "degF") == 9
    assert to_unit(Fraction(5), Kind.MONEY, "EUR") == 5
    assert from_unit(Fraction(12), Kind.THICKNESS, "mil") == Fraction("304.8")
