"""What people breathe, as arithmetic: averages, mixtures, long shifts, dilution air.

**Information, never clearance.** No result here says that a space is safe, that a mask may come
off or that a law is met. Exposure is measured by someone qualified; follow the safety data sheet,
the local code and the authority having jurisdiction.

Formulas: 29 CFR 1910.1000(d) for average and mixture (read), 29 CFR 1910.1025(c)(2) for long shifts
under the lead standard (read in its appendix B), 29 CFR 1910.94(c)(6)(ii) for dilution air (from
memory). Concentrations in any one unit unless named; limits and coefficients are parameters.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.cure import GAS_CONSTANT
from engine.reckoning.factors import KELVIN_AT_0_DEGC
from engine.reckoning.inputs import (
    Number,
    not_negative,
    number,
    positive,
    show,
)

_DAY_H = 24
_SAMPLED = "take it from the hygienist's sampling report"
_REGULATION = "take it from the regulation, in the rule set's tables"
_SHEET = "take it from the safety data sheet"


def time_weighted_average(
    samples: Iterable[tuple[Number, Number]], *, reference_h: Number
) -> Fraction:
    """Sum of concentration times hours over the reference shift: information, never clearance.

    `samples` are (concentration, hours); time not sampled counts as no exposure, so leave none
    out. Longer than the reference shift in all is taken as it is: the sum is over the reference.
    Raises ReckoningError for no samples, or for more than a day of them.
    """
    reference = positive("reference_h", reference_h, _REGULATION)
    dose = sampled = Fraction(0)
    taken = 0
    for concentration, hours in samples:
        taken += 1
        lasted = not_negative("hours", hours, _SAMPLED)
        sampled += lasted
        dose += not_negative("concentration", concentration, _SAMPLED) * lasted
    if not taken:
        raise ReckoningError(f"no samples are given; {_SAMPLED}")
    if sampled > _DAY_H:
        raise ReckoningError(
            f"the samples last {show(sampled)} h together, longer than a day; give those of one "
            f"worker on one day; {_SAMPLED}"
        )
    return dose / reference


def mixture_sum(parts: Iterable[tuple[Number, Number]]) -> Fraction:
    """Sum of concentration over limit for substances acting alike; above 1 is over the limit.

    `parts` are (concentration, limit) in the same unit. Information, never clearance: 1 or less
    does not mean safe.
    """
    total = Fraction(0)
    taken = 0
    for concentration, limit in parts:
        taken += 1
        total += not_negative("concentration", concentration, _SAMPLED) / positive(
            "limit", limit, _REGULATION
        )
    if not taken:
        raise ReckoningError(f"no substances are given; {_SAMPLED}")
    return total


def extended_shift_limit(shift_h: Number, *, allowed_dose: Number, reference_h: Number) -> Fraction:
    """The average allowed over a shift longer than the reference: the dose over its hours.

    `allowed_dose` is the regulation's constant (concentration times hours). A shorter shift gets
    no more than the reference shift. Information, never clearance.
    """
    hours = positive("shift_h", shift_h, "give the hours worked in the day")
    if hours > _DAY_H:
        raise ReckoningError(f"shift_h of {show(hours)} is longer than a day; give hours in a day")
    dose = positive("allowed_dose", allowed_dose, _REGULATION)
    return dose / max(hours, positive("reference_h", reference_h, _REGULATION))


def molar_volume_L(*, temperature_degC: Number, pressure_Pa: Number) -> float:
    """Litres that a mole of ideal gas fills; 24.45 is what regulations print for 25 degC."""
    kelvin = number("temperature_degC", temperature_degC, "read it") + KELVIN_AT_0_DEGC
    if kelvin <= 0:
        raise ReckoningError(f"{show(temperature_degC)} degC is below absolute zero; read it again")
    pressure = float(positive("pressure_Pa", pressure_Pa, "read the barometer, in Pa"))
    return 1000 * GAS_CONSTANT * float(kelvin) / pressure


def mg_m3_from_ppm(
    concentration_ppm: Number, *, molar_mass_g: Number, molar_volume_L: Number
) -> Fraction:
    """mg/m3 from ppm of a vapour by volume."""
    return (
        not_negative("concentration_ppm", concentration_ppm, _SAMPLED)
        * positive("molar_mass_g", molar_mass_g, _SHEET)
        / positive("molar_volume_L", molar_volume_L, "24.45 at 25 degC and one atmosphere")
    )


def ppm_from_mg_m3(
    concentration_mg_m3: Number, *, molar_mass_g: Number, molar_volume_L: Number
) -> Fraction:
    """ppm of a vapour by volume from mg/m3."""
    return (
        not_negative("concentration_mg_m3", concentration_mg_m3, _SAMPLED)
        * positive("molar_volume_L", molar_volume_L, "24.45 at 25 degC and one atmosphere")
        / positive("molar_mass_g", molar_mass_g, _SHEET)
    )


def vapour_volume(
    *, liquid_g_per_mL: Number, molar_mass_g: Number, molar_volume_L: Number
) -> Fraction:
    """Volumes of vapour from one volume of liquid (m3 per m3, L per L)."""
    return (
        1000
        * positive("liquid_g_per_mL", liquid_g_per_mL, _SHEET)
        * positive("molar_volume_L", molar_volume_L, "24.45 at 25 degC and one atmosphere")
        / positive("molar_mass_g", molar_mass_g, _SHEET)
    )


def dilution_air(
    vapour_per_liquid: Number, *, lel_percent: Number, safety_factor: Number
) -> Fraction:
    """Air that keeps the vapour of one unit of liquid at LEL over the safety factor.

    factor * (100 - LEL) * vapour / LEL, in the unit of `vapour_per_liquid` (ft3 per gallon,
    m3 per L). Against fire only: what people may breathe asks for far more air. Information,
    never clearance.
    """
    vapour = positive("vapour_per_liquid", vapour_per_liquid, _SHEET)
    factor = positive("safety_factor", safety_factor, _REGULATION)
    if factor < 1:
        raise ReckoningError(
            f"safety_factor of {show(factor)} would thin to above the LEL; give 1 "
            f"or more; {_REGULATION}"
        )
    lel = positive("lel_percent", lel_percent, _SHEET)
    if lel >= 100:
        raise ReckoningError(f"lel_percent must be below 100, not {show(lel)}; {_SHEET}")
    return factor * (100 - lel) * vapour / lel


def dilution_flow(air_per_liquid: Number, *, liquid_per_h: Number) -> Fraction:
    """Air flow per hour for liquid evaporating at `liquid_per_h`, in the units given."""
    return positive("air_per_liquid", air_per_liquid, "reckon it with dilution_air") * not_negative(
        "liquid_per_h", liquid_per_h, "time the spraying and take the solvent from the data sheet"
    )


def face_flow(width: Number, height: Number, *, velocity: Number) -> Fraction:
    """Air flow through an open booth face: width times height times velocity, units as given.

    Information, never clearance: the velocity is measured, not assumed.
    """
    return (
        positive("width", width, "measure the open face")
        * positive("height", height, "measure the open face")
        * positive("velocity", velocity, _REGULATION)
    )
