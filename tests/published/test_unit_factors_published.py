"""Constants and spelt-out units against pint, run here, and NIST SP 811 (2008), from memory."""

from fractions import Fraction

import pint
import pytest

from engine.quantity import Kind, from_unit, parse_quantity, to_unit
from engine.reckoning import factors
from engine.reckoning.survey import SQUARE_FOOT_M2

units = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("ours", "theirs", "into"),
    [
        (factors.M3_PER_FT3, 1 * units.foot**3, "m**3"),
        (factors.FT2_MIL_PER_US_GAL, 1 * units.US_liquid_gallon, "ft**2 * thou"),
        (factors.KELVIN_AT_0_DEGC, units.Quantity(0, "degC"), "kelvin"),
        (SQUARE_FOOT_M2, 1 * units.foot**2, "m**2"),
        (parse_quantity("1 thou", Kind.THICKNESS).amount, 1 * units.thou, "um"),
        (parse_quantity("1 US gallon", Kind.VOLUME).amount, 1 * units.US_liquid_gallon, "litre"),
        (parse_quantity("1 sq ft", Kind.AREA).amount, 1 * units.foot**2, "m**2"),
        (parse_quantity("1 pound", Kind.MASS).amount, 1 * units.pound, "g"),
    ],
)
def test_factor(ours, theirs, into):
    assert float(ours) == pytest.approx(theirs.to(into).magnitude, rel=1e-12)


# NIST SP 811 appendix B (from memory), to the digits it prints.
def test_printed_factors():
    content = from_unit(Fraction(1), Kind.DENSITY, "lb/gal")
    assert float(to_unit(content, Kind.DENSITY, "g/L")) == pytest.approx(119.8264, abs=0.00005)
    assert float(from_unit(Fraction(1), Kind.VOLUME, "gal")) == pytest.approx(3.785412, abs=5e-7)


@pytest.mark.parametrize("reading", [-40, 0, 32, 68, 140, 212])
def test_thermometer(reading):
    theirs = units.Quantity(reading, "degF").to("degC").magnitude
    ours = parse_quantity(f"{reading} °F", Kind.TEMPERATURE).amount
    assert float(ours) == pytest.approx(theirs, abs=1e-9)
    assert to_unit(ours, Kind.TEMPERATURE, "degF") == reading
