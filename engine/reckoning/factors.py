"""Constants the formulas here need; people's units are `engine.quantity`'s affair.

Each is exact by definition: of the foot, of the US gallon (231 cubic inches), of the kelvin.
Source: NIST Special Publication 811 (2008), appendix B, from memory.
"""

from __future__ import annotations

from fractions import Fraction

M3_PER_FT3 = Fraction(28_316_846_592, 10**12)
KELVIN_AT_0_DEGC = Fraction(27_315, 100)
# 231 cubic inches over 144 square inches per square foot, at a thousandth of an inch.
FT2_MIL_PER_US_GAL = Fraction(231 * 1000, 144)
