"""Printed mistakes this project must not repeat: each check gives the true value.

Each source was read and found wrong by its own arithmetic or by the units; the pages are not named
beyond their kind.
"""

from fractions import Fraction

import pytest

from engine.quantity import Kind, from_unit, parse_quantity, to_unit
from engine.reckoning.coverage import spreading_rate_m2_per_L
from engine.reckoning.voc import Basis, Contents, voc_content


def test_metric_spreading_rate_is_not_a_tenth():
    # A coverage page prints 100 x solids for metric; its own example needs 1000.
    ours = spreading_rate_m2_per_L(volume_solids_percent=65, dry_film_um=125)
    assert ours == 1000 * Fraction("0.65") / 125
    assert ours != 100 * Fraction("0.65") / 125


def test_handbook_example_with_swapped_water_and_solids():
    # Metal finishing handbook, 2013, example B: prints 52 percent water, reckons with 42.
    # Both with 6 percent of the volume VOC of 7.36 lb/gal.
    solvent_g = Fraction("0.06") * parse_quantity("7.36 lb/gal", Kind.DENSITY).amount

    def lb_per_gal(water_L):
        water_g = water_L * 1000
        litre = Contents(1, solvent_g + water_g, water_g, water_L, 0, 0)
        voc = voc_content(litre, basis=Basis.LESS_WATER_AND_EXEMPT)
        return float(to_unit(voc, Kind.DENSITY, "lb/gal"))

    assert lb_per_gal(Fraction("0.42")) == pytest.approx(0.76, abs=0.005)
    assert lb_per_gal(Fraction("0.52")) == pytest.approx(0.92, abs=0.005)


def test_a_difference_of_five_fahrenheit():
    # A trade magazine turns a difference of 5 degF into -15 degC, which is the reading's value.
    difference = parse_quantity("5 degF", Kind.TEMPERATURE_DIFFERENCE).amount
    assert float(difference) == pytest.approx(2.78, abs=0.005)
    assert parse_quantity("5 degF", Kind.TEMPERATURE).amount == -15


@pytest.mark.parametrize(("mil", "mm", "misprint_mm"), [(1.5, 0.038, 0.059), (2, 0.051, 0.078)])
def test_clear_of_one_and_a_half_to_two_mil(mil, mm, misprint_mm):
    # A service page gives 1.5 to 2 mil as 0.059 to 0.078 mm.
    film = from_unit(Fraction(str(mil)), Kind.THICKNESS, "mil")
    ours = float(to_unit(film, Kind.THICKNESS, "mm"))
    assert ours == pytest.approx(mm, abs=0.0005)
    assert ours != pytest.approx(misprint_mm, abs=0.005)
