"""Unit factors against two outside references.

* pint, an independent units library, read with exact fractions.
* NIST Special Publication 811 (2008), Appendix B.8 "Factors for units listed alphabetically",
  as printed there to seven significant digits (from memory).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pint
import pytest

from engine.quantity import Kind, canonical_unit, from_unit, parse_quantity, to_canonical, to_unit
from engine.quantity.units import KINDS, UNITS, Dimension

_PINT: pint.UnitRegistry[Any] = pint.UnitRegistry(non_int_type=Fraction)

_PINT_NAMES = {
    "mil": "thou",
    "um": "micrometer",
    "in": "inch",
    "h": "hour",
    "min": "minute",
    "s": "second",
    "d": "day",
    "gal": "US_liquid_gallon",
    "imp gal": "imperial_gallon",
    "qt": "US_liquid_quart",
    "pt": "US_pint",
    "fl oz": "US_fluid_ounce",
    "m2": "m**2",
    "dm2": "dm**2",
    "cm2": "cm**2",
    "mm2": "mm**2",
    "ft2": "ft**2",
    "in2": "inch**2",
    "kg/m3": "kg/m**3",
    "g/L": "g/liter",
    "kg/L": "kg/liter",
    "lb/gal": "pound/US_liquid_gallon",
    "L": "liter",
    "lb": "pound",
    "oz": "ounce",
}

_SCALES = [
    (kind, unit.name)
    for kind in (
        Kind.THICKNESS,
        Kind.AREA,
        Kind.VOLUME,
        Kind.TIME,
        Kind.PRESSURE,
        Kind.DENSITY,
        Kind.MASS,
    )
    for unit in UNITS
    if unit.dimension is KINDS[kind].dimension
]


@pytest.mark.parametrize(("kind", "unit"), _SCALES)
def test_factor_agrees_with_pint_exactly(kind: Kind, unit: str) -> None:
    reported = _PINT_NAMES.get(canonical_unit(kind), canonical_unit(kind))
    reference = _PINT.Quantity(Fraction(1), _PINT_NAMES.get(unit, unit)).to(reported).magnitude
    ours = to_canonical(from_unit(Fraction(1), kind, unit), kind)
    assert ours == pytest.approx(Fraction(reference), rel=1e-15)
    if isinstance(reference, Fraction):
        assert ours == reference


@pytest.mark.parametrize("degrees", [-40, 0, 32, 70, 98, 212])
def test_temperature_readings_agree_with_pint(degrees: int) -> None:
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    reading = registry.Quantity(degrees, "degF")
    ours = parse_quantity(f"{degrees} degF", Kind.TEMPERATURE).amount
    assert float(ours) == pytest.approx(reading.to("degC").magnitude, abs=1e-9)
    kelvin = to_unit(ours, Kind.TEMPERATURE, "K")
    assert float(kelvin) == pytest.approx(reading.to("kelvin").magnitude, abs=1e-9)


@pytest.mark.parametrize("degrees", [-5, 0, 5, 18])
def test_temperature_differences_agree_with_pint(degrees: int) -> None:
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    reference = registry.Quantity(degrees, "delta_degF").to("kelvin").magnitude
    ours = parse_quantity(f"{degrees} degF", Kind.TEMPERATURE_DIFFERENCE).amount
    assert float(ours) == pytest.approx(reference, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "in_base"),
    [
        # SP 811 B.8: to convert from ... to the SI unit multiply by (here scaled to the base unit)
        ("1 mil", Kind.THICKNESS, "25.4"),
        ("1 in", Kind.DEPTH, "25400"),
        ("1 ft2", Kind.AREA, "0.09290304"),
        ("1 in2", Kind.AREA, "0.00064516"),
        ("1 gal", Kind.VOLUME, "3.785412"),
        ("1 imp gal", Kind.VOLUME, "4.54609"),
        ("1 qt", Kind.VOLUME, "0.9463529"),
        ("1 pt", Kind.VOLUME, "0.4731765"),
        ("1 fl oz", Kind.VOLUME, "0.02957353"),
        ("1 psi", Kind.PRESSURE, "0.06894757"),
        ("1 lb/gal", Kind.DENSITY, "119.8264"),
        ("1 lb", Kind.MASS, "453.5924"),
        ("1 oz", Kind.MASS, "28.34952"),
        ("1 d", Kind.TIME, "24"),
    ],
)
def test_factor_agrees_with_nist_sp_811(text: str, kind: Kind, in_base: str) -> None:
    printed = Fraction(in_base)
    # Half a step of the seventh significant digit is what printing can have rounded away.
    assert abs(parse_quantity(text, kind).amount / printed - 1) < Fraction(5, 10**7)


@pytest.mark.parametrize(
    ("one", "same", "kind"),
    [
        # Exact by definition of the international inch, NIST SP 811 (2008) B.6.
        ("12 mil", "304.8 um", Kind.THICKNESS),
        ("6.35 mm", "1/4 in", Kind.DEPTH),
        ("1 in", "1000 mil", Kind.THICKNESS),
        ("1 ft2", "144 in2", Kind.AREA),
        ("-40 degF", "-40 degC", Kind.TEMPERATURE),
        ("32 F", "273.15 K", Kind.TEMPERATURE),
        ("9 degF", "5 K", Kind.TEMPERATURE_DIFFERENCE),
    ],
)
def test_two_spellings_are_the_same_amount(one: str, same: str, kind: Kind) -> None:
    assert parse_quantity(one, kind).amount == parse_quantity(same, kind).amount


def test_us_gallon_is_231_cubic_inches() -> None:
    # NIST SP 811 (2008) B.8, gallon [U.S.].
    cubic_inch_in_litres = Fraction("0.0254") ** 3 * 1000
    assert parse_quantity("1 gal", Kind.VOLUME).amount == 231 * cubic_inch_in_litres


def test_every_dimension_with_units_is_compared() -> None:
    compared = {KINDS[kind].dimension for kind, _ in _SCALES}
    without_scale = {
        Dimension.TEMPERATURE,
        Dimension.DIFFERENCE,
        Dimension.PERCENT,
        Dimension.MONEY,
        Dimension.PLAIN,
    }
    assert compared | without_scale == set(Dimension)
