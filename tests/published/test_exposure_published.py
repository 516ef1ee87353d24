"""Exposure arithmetic against the worked examples of regulation and pocket guide.

Sources: 29 CFR 1910.1000(d) (average read; mixture example from memory), 29 CFR 1910.1025 appendix
B (read), 29 CFR 1910.94(c) (booth velocity read; dilution formula and vapour volume from memory),
NIOSH Pocket Guide to Chemical Hazards (diisocyanate read; other conversions from memory).
"""

import pytest

from engine.quantity import Kind, parse_quantity
from engine.reckoning.exposure import (
    dilution_air,
    extended_shift_limit,
    face_flow,
    mg_m3_from_ppm,
    mixture_sum,
    molar_volume_L,
    ppm_from_mg_m3,
    time_weighted_average,
    vapour_volume,
)
from engine.reckoning.factors import M3_PER_FT3


def test_average_of_the_regulation():
    # 29 CFR 1910.1000(d)(1) (read): two hours at 150 ppm, two at 75, four at 50.
    assert float(time_weighted_average([(150, 2), (75, 2), (50, 4)], reference_h=8)) == 81.25


def test_mixture_of_the_regulation():
    # 29 CFR 1910.1000(d)(2) (from memory): 500 of 1000, 45 of 200, 40 of 200 ppm.
    assert float(mixture_sum([(500, 1000), (45, 200), (40, 200)])) == 0.925


# 29 CFR 1910.1025 appendix B (read): 400 over the hours; 50 up to eight hours.
@pytest.mark.parametrize(
    ("hours", "limit"),
    [(8, 50), (10, 40), (4, 50), (12, 100 / 3)],
    ids=["8h-read", "10h-read", "4h-derived", "12h-derived"],
)
def test_lead_over_long_shifts(hours, limit):
    ours = extended_shift_limit(hours, allowed_dose=400, reference_h=8)
    assert float(ours) == pytest.approx(limit)


# NIOSH Pocket Guide: g/mol and mg/m3 per ppm as printed, to two places.
@pytest.mark.parametrize(
    ("molar_mass", "printed"),
    [
        pytest.param(168.2, 6.88, id="hexamethylene-diisocyanate-memory"),
        pytest.param(58.1, 2.38, id="acetone-memory"),
        pytest.param(72.1, 2.95, id="butanone-memory"),
        pytest.param(92.1, 3.77, id="toluene-memory"),
        pytest.param(106.2, 4.34, id="xylene-memory"),
        pytest.param(104.2, 4.26, id="styrene-memory"),
        pytest.param(84.9, 3.47, id="dichloromethane-memory"),
        pytest.param(116.2, 4.75, id="butyl-acetate-memory"),
    ],
)
def test_ppm_conversions(molar_mass, printed):
    ours = mg_m3_from_ppm(1, molar_mass_g=molar_mass, molar_volume_L=24.45)
    assert float(ours) == pytest.approx(printed, abs=0.0051)
    assert ppm_from_mg_m3(ours, molar_mass_g=molar_mass, molar_volume_L=24.45) == 1


# NIOSH Pocket Guide, hexamethylene diisocyanate (read): 0.005 ppm is printed as 0.035 mg/m3 and
# 0.020 ppm as 0.140. The guide scales its rounded 0.035 by four.
@pytest.mark.parametrize(("ppm", "printed"), [(0.005, 0.035), (0.020, 0.140)])
def test_diisocyanate_limits(ppm, printed):
    ours = mg_m3_from_ppm(ppm, molar_mass_g=168.2, molar_volume_L=24.45)
    assert float(ours) == pytest.approx(printed, rel=0.02)


def test_molar_volume_of_the_regulations():
    # The 24.45 that regulations print (from memory) is the ideal gas at 25 degC and 760 mmHg.
    ours = molar_volume_L(temperature_degC=25, pressure_Pa=101_325)
    assert ours == pytest.approx(24.45, abs=0.02)


def test_dilution_air_for_toluene():
    # 29 CFR 1910.94(c)(6)(ii) (formula from memory), toluene 30.4 ft3 of vapour, LEL 1.4 percent.
    ours = dilution_air(30.4, lel_percent=1.4, safety_factor=4)
    assert float(ours) == pytest.approx(8564, abs=0.5)


def test_vapour_of_toluene():
    # Same regulation, table of solvents (from memory): 30.4 ft3 per gallon at 70 degF. Density and
    # molar mass of toluene: 0.867 g/mL, 92.14 g/mol (from memory).
    at = parse_quantity("70 degF", Kind.TEMPERATURE).amount
    mole = molar_volume_L(temperature_degC=at, pressure_Pa=101_325)
    ratio = vapour_volume(liquid_g_per_mL=0.867, molar_mass_g=92.14, molar_volume_L=mole)
    gallon_m3 = parse_quantity("1 gal", Kind.VOLUME).amount / 1000
    assert float(ratio * gallon_m3 / M3_PER_FT3) == pytest.approx(30.4, abs=0.1)


def test_booth_face():
    # 100 ft/min over an open face of 14 by 9 ft (velocity read, flow derived).
    assert face_flow(14, 9, velocity=100) == 12_600
