"""Unit factors against pint, run here, and NIST Special Publication 811 (2008), from memory."""

import pint
import pytest

from engine.reckoning import factors

units = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("ours", "unit", "into"),
    [
        (factors.UM_PER_MIL, units.thou, "um"),
        (factors.L_PER_US_GAL, units.US_liquid_gallon, "litre"),
        (factors.M2_PER_FT2, units.foot**2, "m**2"),
        (factors.M3_PER_FT3, units.foot**3, "m**3"),
        (factors.G_PER_LB, units.pound, "g"),
        (factors.FT2_MIL_PER_US_GAL, units.US_liquid_gallon, "ft**2 * thou"),
    ],
)
def test_factor(ours, unit, into):
    assert float(ours) == pytest.approx((1 * unit).to(into).magnitude, rel=1e-12)


# NIST SP 811 appendix B (from memory), to the digits it prints.
def test_printed_factors():
    assert float(factors.G_PER_L_PER_LB_PER_GAL) == pytest.approx(119.8264, abs=0.00005)
    assert float(factors.litres_from_us_gal(1)) == pytest.approx(3.785412, abs=5e-7)


@pytest.mark.parametrize("reading", [-40, 0, 32, 68, 140, 212])
def test_thermometer(reading):
    theirs = units.Quantity(reading, "degF").to("degC").magnitude
    assert float(factors.degC_from_degF(reading)) == pytest.approx(theirs, abs=1e-9)
