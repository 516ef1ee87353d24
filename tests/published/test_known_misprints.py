"""Printed mistakes this project must not repeat: each check gives the true value.

Each source was read and found wrong by its own arithmetic or by the units; the pages are not named
beyond their kind.
"""

from fractions import Fraction

import pytest

from engine.reckoning.coverage import spreading_rate_m2_per_L
from engine.reckoning.factors import (
    degC_difference_from_degF,
    degC_from_degF,
    g_per_L_from_lb_per_gal,
    um_from_mil,
)
from engine.reckoning.voc import voc_from_volumes


def test_metric_spreading_rate_is_not_a_tenth():
    # A coverage page prints 100 x solids for metric; its own example needs 1000.
    ours = spreading_rate_m2_per_L(volume_solids_percent=65, dry_film_um=125)
    assert ours == 1000 * Fraction("0.65") / 125
    assert ours != 100 * Fraction("0.65") / 125


def test_handbook_example_with_swapped_water_and_solids():
    # Metal finishing handbook, 2013, example B: prints 52 percent water, reckons with 42.
    common = {
        "voc_percent": 6,
        "exempt_percent": 0,
        "voc_density_g_per_L": g_per_L_from_lb_per_gal(7.36),
    }
    pound = g_per_L_from_lb_per_gal(1)
    as_reckoned = voc_from_volumes(water_percent=42, **common) / pound
    as_printed = voc_from_volumes(water_percent=52, **common) / pound
    assert float(as_reckoned) == pytest.approx(0.76, abs=0.005)
    assert float(as_printed) == pytest.approx(0.92, abs=0.005)


def test_a_difference_of_five_fahrenheit():
    # A trade magazine turns a difference of 5 degF into -15 degC, which is the reading's value.
    assert float(degC_difference_from_degF(5)) == pytest.approx(2.78, abs=0.005)
    assert degC_from_degF(5) == -15


@pytest.mark.parametrize(("mil", "mm", "misprint_mm"), [(1.5, 0.038, 0.059), (2, 0.051, 0.078)])
def test_clear_of_one_and_a_half_to_two_mil(mil, mm, misprint_mm):
    # A service page gives 1.5 to 2 mil as 0.059 to 0.078 mm.
    ours = float(um_from_mil(mil)) / 1000
    assert ours == pytest.approx(mm, abs=0.0005)
    assert ours != pytest.approx(misprint_mm, abs=0.005)
