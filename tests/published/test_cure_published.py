"""Cure times against published examples, and against integration by scipy.

Sources: the rule of two per ten degrees as a coating-cure page works it (common practice); the
Arrhenius equation with scipy's constants and root finder, run here; Newton's law of heating solved
by scipy's integrator, run here; metal before clock: a collision-repair trade body quoting a
data-sheet note (read).
"""

import math

import pytest
from scipy import constants
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.reckoning.cure import (
    GAS_CONSTANT,
    RateRule,
    activation_energy_kJ_per_mol,
    arrhenius_time,
    bake,
    heating_time,
    heating_time_constant,
    metal_temperature,
)

DOUBLING = RateRule(factor=2, per_degC=10, lowest_degC=15, highest_degC=60, span_degC=40)


# Common practice; the 15-minute step derived.
@pytest.mark.parametrize(("to", "minutes"), [(25, 60), (35, 30), (45, 15)])
def test_two_per_ten_degrees(to, minutes):
    assert DOUBLING.time(1, from_degC=25, to_degC=to) * 60 == pytest.approx(minutes)


def test_gas_constant():
    assert pytest.approx(constants.R, rel=1e-12) == GAS_CONSTANT


def test_energy_of_exact_doubling():
    # Derived: 51.2 kJ/mol from 20 to 30 degC, by the formula and by root finding.
    ours = activation_energy_kJ_per_mol(2, from_degC=20, to_degC=30)
    assert ours == pytest.approx(51.2, abs=0.05)
    cold, warm = (constants.convert_temperature(t, "C", "K") for t in (20, 30))
    root = brentq(
        lambda e: math.exp(e / constants.R * (1 / cold - 1 / warm)) - 2, 1e3, 1e6, rtol=1e-12
    )
    assert ours * 1000 == pytest.approx(root, rel=1e-9)


# Derived: how many times faster at 60 than at 20 degC.
@pytest.mark.parametrize(("energy", "times"), [(50, 11.7), (40, 7.2), (60, 19.2)])
def test_drift_of_the_simple_rule(energy, times):
    ours = arrhenius_time(
        1,
        from_degC=20,
        to_degC=60,
        activation_kJ_per_mol=energy,
        lowest_degC=15,
        highest_degC=80,
    )
    assert 1 / ours == pytest.approx(times, abs=0.05)
    assert 1 / DOUBLING.time(1, from_degC=20, to_degC=60) == pytest.approx(16)


# scipy's integrator, run here, on dT/dt = (oven - T) / tau.
@pytest.mark.parametrize(("start", "oven", "tau"), [(20, 80, 0.2), (12, 70, 0.35), (5, 65, 0.1)])
def test_heating_against_integration(start, oven, tau):
    solved = solve_ivp(
        lambda _, t: (oven - t) / tau,
        (0, 1.5),
        [start],
        rtol=1e-10,
        atol=1e-10,
        events=lambda _, t: t[0] - 60,
    )
    assert metal_temperature(
        1.5, start_degC=start, oven_degC=oven, time_constant_h=tau
    ) == pytest.approx(solved.y[0][-1], abs=1e-6)
    reached = heating_time(start_degC=start, oven_degC=oven, target_degC=60, time_constant_h=tau)
    assert reached == pytest.approx(solved.t_events[0][0], abs=1e-5)
    assert heating_time_constant(
        reached, start_degC=start, oven_degC=oven, reached_degC=60
    ) == pytest.approx(tau)


def test_bake_is_counted_from_the_metal():
    # Half an hour at 60 degC metal (read); a ramp of a quarter hour comes on top.
    assert bake(0.5, ramp_h=0.25).total_h == 0.75
