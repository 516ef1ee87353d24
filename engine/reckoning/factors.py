"""Exact unit factors and the conversions the trade gets wrong.

Source of the factors: NIST Special Publication 811 (2008), appendix B, from memory; each is exact
by definition of the inch, the foot, the US gallon (231 cubic inches) and the pound.
"""

from __future__ import annotations

from fractions import Fraction

from engine.reckoning.inputs import Number, number

UM_PER_MIL = Fraction(254, 10)
L_PER_US_GAL = Fraction(3_785_411_784, 10**9)
M2_PER_FT2 = Fraction(9_290_304, 10**8)
M3_PER_FT3 = Fraction(28_316_846_592, 10**12)
G_PER_LB = Fraction(45_359_237, 10**5)
G_PER_L_PER_LB_PER_GAL = G_PER_LB / L_PER_US_GAL
KELVIN_AT_0_DEGC = Fraction(27_315, 100)
# 231 cubic inches over 144 square inches per square foot, at a thousandth of an inch.
FT2_MIL_PER_US_GAL = Fraction(231 * 1000, 144)

_CONVERT = "give the number to convert"


def um_from_mil(film_mil: Number) -> Fraction:
    """Film thickness in um from mil (thousandths of an inch)."""
    return number("film_mil", film_mil, _CONVERT) * UM_PER_MIL


def degC_from_degF(reading_degF: Number) -> Fraction:
    """A thermometer reading in degC from degF."""
    return (number("reading_degF", reading_degF, _CONVERT) - 32) * Fraction(5, 9)


def degC_difference_from_degF(difference_degF: Number) -> Fraction:
    """A temperature difference in degC from degF; a difference never gets the offset of 32."""
    return number("difference_degF", difference_degF, _CONVERT) * Fraction(5, 9)


def litres_from_us_gal(volume_gal: Number) -> Fraction:
    """Volume in L from US liquid gallons."""
    return number("volume_gal", volume_gal, _CONVERT) * L_PER_US_GAL


def g_per_L_from_lb_per_gal(content_lb_per_gal: Number) -> Fraction:
    """Mass per volume in g/L from lb per US gallon."""
    return number("content_lb_per_gal", content_lb_per_gal, _CONVERT) * G_PER_L_PER_LB_PER_GAL


def lb_per_gal_from_g_per_L(content_g_per_L: Number) -> Fraction:
    """Mass per volume in lb per US gallon from g/L."""
    return number("content_g_per_L", content_g_per_L, _CONVERT) / G_PER_L_PER_LB_PER_GAL
