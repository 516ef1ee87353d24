"""Cans, batches, filler, build and pours against reference libraries.

References, run here: scipy's mixed-integer solver (HiGHS) for cans and for batches, scipy's linear
solver for what must come off, scipy's integrator for hollows, pint for masses and air flow. The
Arrhenius equation with the gas constant of scipy.constants (CODATA 2018).
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pint
import pytest
from scipy import constants
from scipy.integrate import dblquad
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from engine.reckoning.build import forecast, must_come_off
from engine.reckoning.cans import cans_for
from engine.reckoning.cure import arrhenius_time
from engine.reckoning.exposure import dilution_flow
from engine.reckoning.filler import FILLED_SHARE, layers, volume
from engine.reckoning.mixing import pot_life_batches, scale_readings

units = pint.UnitRegistry()


def _solved(cost, sizes, need, bought=None):
    held = [LinearConstraint([sizes], lb=need, ub=np.inf if bought is None else bought + 1e-7)]
    found = milp(cost, constraints=held, integrality=np.ones(len(sizes)), bounds=Bounds(0, np.inf))
    assert found.success
    return found


@pytest.mark.parametrize(
    ("need", "sizes"),
    [
        (Fraction("0.61"), [1, Fraction("0.5")]),
        (Fraction("2.3"), [1, 4]),
        (Fraction("6.9"), [1, 5]),
        (Fraction("3.46"), [Fraction("0.5"), Fraction("2.5")]),
        (Fraction("7.2"), [Fraction("0.75"), 2, 5]),
        (Fraction("11.1"), [3, 4, 5]),
        (Fraction("0.02"), [Fraction("0.25"), 1]),
        (Fraction(10), [1, 4, 5]),
    ],
)
def test_cans_against_a_mixed_integer_solver(need, sizes):
    litres = [float(size) for size in sizes]
    bought = _solved(litres, litres, float(need)).fun
    fewest = _solved(np.ones(len(litres)), litres, float(need), bought).fun
    ours = cans_for(need, can_sizes_L=sizes)
    assert float(ours.bought_L) == pytest.approx(bought)
    assert ours.number == round(fewest)


@pytest.mark.parametrize(
    ("litres", "pot_life", "usable", "rate"),
    [(1, 1, 70, 0.5), (11.4, 2, 70, 4), (0.3, 4, 100, 2), (2.4, 0.5, 80, 1.5), (1.4, 1, 70, 1)],
)
def test_batches_against_a_mixed_integer_solver(litres, pot_life, usable, rate):
    # Fewest batches n with n * (what is sprayed in the usable pot life) covering the volume.
    most = pot_life * usable / 100 * rate
    ours = pot_life_batches(
        litres, pot_life_h=pot_life, usable_percent=usable, application_rate_L_per_h=rate
    )
    assert ours.count == round(_solved([1], [most], litres - 1e-9).fun)
    assert float(ours.volume_each_L) * ours.count == pytest.approx(litres)
    assert float(ours.hours_each) <= pot_life * usable / 100 + 1e-9


def _dish(y, x):
    return max(0.0, 1 - x * x - y * y)


def _cone(y, x):
    return max(0.0, 1 - math.hypot(x, y))


def _rim(x):
    return math.sqrt(max(0.0, 1 - x * x))


@pytest.mark.parametrize(("shape", "depth"), [("dish", _dish), ("cone", _cone)])
def test_round_hollows_against_integration(shape, depth):
    # A hollow of radius 1 and depth 1 over its own circle of area pi.
    held, _ = dblquad(depth, -1, 1, lambda x: -_rim(x), _rim)
    assert float(FILLED_SHARE[shape]) == pytest.approx(held / math.pi, rel=1e-4)
    ours = volume(Fraction(1, 10), depth_mm=5, shape=shape, sanded_away_percent=0)
    assert float(ours) == pytest.approx(0.1 * 5 * held / math.pi, rel=1e-4)


def test_a_trough_against_integration():
    held, _ = dblquad(lambda y, x: 1 - abs(y), 0, 1, -1, 1)
    assert float(FILLED_SHARE["valley"]) == pytest.approx(held / 2, rel=1e-6)


@pytest.mark.parametrize(("depth", "thickest"), [(5, 3.175), (3.175, 3.175), (6.36, 3.175), (9, 3)])
def test_layers_against_a_mixed_integer_solver(depth, thickest):
    assert layers(depth, layer_limit_mm=thickest) == round(
        _solved([1], [thickest], depth - 1e-9).fun
    )


@pytest.mark.parametrize("film", [100, 180, 230, 290, 320])
@pytest.mark.parametrize("coats", [(50,), (25, 20, 55), (40, 25, 20, 60)])
def test_what_must_come_off_against_a_linear_solver(film, coats):
    limit = 304.8
    # Least x >= 0 with film - x + coats <= limit, and no more off than there is.
    found = linprog([1], A_ub=[[-1]], b_ub=[limit - film - sum(coats)], bounds=[(0, film)])
    assert found.success
    ours = must_come_off(film, coats, limit=limit)
    assert float(ours) == pytest.approx(found.fun, abs=1e-6)
    assert float(forecast(film, coats, sanded=ours)) <= limit + 1e-9


@pytest.mark.parametrize(
    ("litres", "ratio", "densities"),
    [
        (1, {"clear": 2, "hardener": 1}, {"clear": 1.0, "hardener": 1.05}),
        (0.6, {"primer": 4, "hardener": 1, "thinner": 0.5},
         {"primer": 1.45, "hardener": 1.0, "thinner": 0.87}),
    ],
)  # fmt: skip
def test_pours_on_the_scale_against_pint(litres, ratio, densities):
    whole = sum(ratio.values())
    shown = 0 * units.gram
    for pour in scale_readings(litres, ratio, density_g_per_mL=densities):
        part = litres * units.litre * ratio[pour.component] / whole
        shown += (part * densities[pour.component] * units.gram / units.millilitre).to("gram")
        assert float(pour.shown_g) == pytest.approx(shown.magnitude)


def test_dilution_flow_against_pint():
    air, evaporating = 76.1 * units.metre**3 / units.litre, 2 * units.quart / units.hour
    flow = (air * evaporating).to("m^3/h").magnitude
    ours = dilution_flow(76.1, liquid_per_h=float(evaporating.to("litre/hour").magnitude))
    assert float(ours) == pytest.approx(flow)


@pytest.mark.parametrize(("start", "end", "energy"), [(20, 30, 51.2), (25, 15, 60), (60, 80, 80)])
def test_arrhenius_with_the_constants_of_scipy(start, end, energy):
    kelvin = [constants.convert_temperature(each, "Celsius", "Kelvin") for each in (start, end)]
    factor = math.exp(energy * 1000 / constants.R * (1 / kelvin[1] - 1 / kelvin[0]))
    ours = arrhenius_time(
        8, from_degC=start, to_degC=end, activation_kJ_per_mol=energy, lowest_degC=0,
        highest_degC=100,
    )  # fmt: skip
    assert ours == pytest.approx(8 * factor)
