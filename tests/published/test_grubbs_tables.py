"""Grubbs' test against printed critical values and worked examples.

Trust marks: [read] seen in a copy of the table; [memory] from memory, rounded as printed.
"""

from __future__ import annotations

import pytest

from engine.reckoning.outliers import (
    Grubbs,
    generalised_esd,
    grubbs_critical,
)


def furthest(values: list[float], *, alpha: float) -> Grubbs:
    """Grubbs' test on the furthest value: the first step of Rosner's, as films are tested by it."""
    (test,), _ = generalised_esd(values, alpha=alpha, at_most=1)
    return test


# Printed tables are mostly one-sided; two-sided the same value belongs to twice the probability.
# ASTM E178, table of one-sided critical values, 5 % [read, to two decimals].
E178_ONE_SIDED_5 = {3: 1.15, 4: 1.46, 5: 1.67, 6: 1.82, 7: 1.94, 8: 2.03, 9: 2.11, 10: 2.18}

# ASTM E178 / Grubbs and Beck, Technometrics 14 (1972), one-sided [memory]: n: (5 %, 2.5 %, 1 %).
GRUBBS_BECK = {
    3: (1.153, 1.155, 1.155),
    4: (1.463, 1.481, 1.492),
    5: (1.672, 1.715, 1.749),
    6: (1.822, 1.887, 1.944),
    7: (1.938, 2.020, 2.097),
    8: (2.032, 2.126, 2.221),
    9: (2.110, 2.215, 2.323),
    10: (2.176, 2.290, 2.410),
    12: (2.285, 2.412, 2.550),
    15: (2.409, 2.549, 2.705),
    20: (2.557, 2.709, 2.884),
    25: (2.663, 2.822, 3.009),
    30: (2.745, 2.908, 3.103),
}

# A printed table of two-sided values, 5 % and 1 % [read], as Student's t gives them.
TWO_SIDED = {
    3: (1.1543, 1.1547),
    4: (1.4813, 1.4963),
    5: (1.7150, 1.7637),
    6: (1.8871, 1.9728),
    7: (2.0200, 2.1391),
    8: (2.1266, 2.2744),
    9: (2.2150, 2.3868),
    10: (2.2900, 2.4821),
    12: (2.4116, 2.6357),
    15: (2.5483, 2.8061),
    20: (2.7082, 3.0008),
}


@pytest.mark.parametrize(("n", "printed"), E178_ONE_SIDED_5.items())
def test_astm_e178_one_sided_5_percent_as_read(n: int, printed: float) -> None:
    assert round(grubbs_critical(n, alpha=0.1), 2) == printed


@pytest.mark.parametrize(("n", "printed"), GRUBBS_BECK.items())
def test_grubbs_and_beck_one_sided(n: int, printed: tuple[float, float, float]) -> None:
    for alpha, value in zip((0.05, 0.025, 0.01), printed, strict=True):
        # The printed table is off by up to one in its last digit (computed by hand machines).
        assert grubbs_critical(n, alpha=2 * alpha) == pytest.approx(value, abs=0.0015)


@pytest.mark.parametrize(("n", "printed"), TWO_SIDED.items())
def test_two_sided_table(n: int, printed: tuple[float, float]) -> None:
    for alpha, value in zip((0.05, 0.01), printed, strict=True):
        assert grubbs_critical(n, alpha=alpha) == pytest.approx(value, abs=6e-5)


# One public table misprints these two; the true values lie between their printed neighbours.
@pytest.mark.parametrize(
    ("n", "alpha", "true", "misprint"), [(7, 0.05, 2.020, 2.202), (15, 0.01, 2.806, 2.755)]
)
def test_values_a_public_table_misprints(
    n: int, alpha: float, true: float, misprint: float
) -> None:
    found = grubbs_critical(n, alpha=alpha)
    assert round(found, 3) == true
    assert abs(found - misprint) > 0.04
    assert grubbs_critical(n - 1, alpha=alpha) < found
    assert found < grubbs_critical(n + 1, alpha=alpha)


URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


def test_nist_uranium_example() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.17.1 [memory]: G 2.4687, one-sided critical value 2.032."""
    found = furthest(URANIUM, alpha=0.1)
    assert found.statistic == pytest.approx(2.4687, abs=2e-4)
    assert found.critical == pytest.approx(2.032, abs=5e-4)
    assert found.outlying
    assert URANIUM[found.index] == 245.57


COPPER_WIRE = [568, 570, 570, 570, 572, 572, 572, 578, 584, 596]


def test_astm_e178_copper_wire_example() -> None:
    """ASTM E178, breaking strength of hard-drawn copper wire [memory]: T10 2.39 over 2.18."""
    found = furthest(COPPER_WIRE, alpha=0.1)
    assert found.statistic == pytest.approx(2.39, abs=0.005)
    assert found.outlying
    assert COPPER_WIRE[found.index] == 596


VENUS = [-1.40, -0.44, -0.30, -0.24, -0.22, -0.13, -0.05, 0.06]
VENUS += [0.10, 0.18, 0.20, 0.39, 0.48, 0.63, 1.01]


def test_astm_e178_venus_example() -> None:
    """ASTM E178, semidiameters of Venus, 1846 [memory]: T of -1.40 is 2.57, against 2.549."""
    found = furthest(VENUS, alpha=0.05)
    assert found.statistic == pytest.approx(2.57, abs=0.01)
    assert found.critical == pytest.approx(2.549, abs=0.0015)
    assert VENUS[found.index] == -1.40


# Rosner's data, NIST/SEMATECH e-Handbook 1.3.5.17.3 [memory].
ROSNER = [-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56]
ROSNER += [1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10]
ROSNER += [2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92]
ROSNER += [2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01]
ROSNER_R = [3.118, 2.942, 3.179, 2.810, 2.815, 2.848, 2.279, 2.310, 2.101, 2.067]
ROSNER_LAMBDA = [3.158, 3.151, 3.143, 3.136, 3.128, 3.120, 3.111, 3.103, 3.094, 3.085]


def test_nist_rosner_statistics() -> None:
    tests, _ = generalised_esd(ROSNER, alpha=0.05, at_most=10)
    # Cut off, not rounded, after three decimals.
    assert [test.statistic for test in tests] == pytest.approx(ROSNER_R, abs=1e-3)


def test_nist_rosner_critical_values() -> None:
    tests, _ = generalised_esd(ROSNER, alpha=0.05, at_most=10)
    assert [test.critical for test in tests] == pytest.approx(ROSNER_LAMBDA, abs=1.1e-3)


def test_nist_rosner_three_outliers_though_the_first_two_steps_fail() -> None:
    tests, outliers = generalised_esd(ROSNER, alpha=0.05, at_most=10)
    assert [test.outlying for test in tests[:3]] == [False, False, True]
    assert [ROSNER[place] for place in outliers] == [5.34, 5.42, 6.01]


def test_film_readings_worked_by_hand() -> None:
    """Derived, worked with scipy: mean 136.5, s 46.3188, G 2.4720."""
    values = [118, 122, 120, 119, 121, 124, 117, 251]
    assert furthest(values, alpha=0.1).statistic == pytest.approx(2.4720, abs=5e-5)


def test_a_repaired_corner_worked_by_hand() -> None:
    """Derived: G 2.2627 over 1.9381 (one-sided, 5 %, n 7)."""
    found = furthest([4.6, 4.8, 4.7, 4.9, 4.5, 4.7, 9.8], alpha=0.1)
    assert found.statistic == pytest.approx(2.2627, abs=5e-5)
    assert found.outlying


def test_masking_worked_by_hand() -> None:
    """Derived: two films of three spots each give G 0.948, far under 1.822."""
    found = furthest([4.6, 4.7, 4.5, 9.6, 9.8, 9.7], alpha=0.1)
    assert found.statistic == pytest.approx(0.948, abs=5e-4)
    assert not found.outlying
