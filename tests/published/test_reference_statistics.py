"""Our statistics against scipy and Python's own statistics module, and the printed t table.

References: scipy.stats (t, zscore of ESD data), scipy.special.betainc,
statistics. The t table is that of any handbook, NIST/SEMATECH e-Handbook 1.3.6.7.2 [memory].
"""

from __future__ import annotations

import math
import random
import statistics

import numpy as np
import pytest
from scipy import special, stats

from engine.reckoning.distributions import student_t_upper
from engine.reckoning.outliers import generalised_esd, grubbs_critical
from engine.reckoning.survey import interval_of, survey

DFS = [1, 2, 3, 4, 5, 6, 7, 9, 10.5, 19, 20, 39, 40, 41, 60, 99, 120, 1000, 1e5]
TAILS = [1e-60, 1e-12, 1e-8, 1e-5, 1e-4, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.2]
TAILS += [0.25, 0.2500001, 0.3, 0.4, 0.45, 0.6, 0.9, 0.999]


@pytest.mark.parametrize("df", DFS)
def test_t_quantile_against_scipy(df: float) -> None:
    for tail in TAILS:
        assert student_t_upper(tail, df) == pytest.approx(stats.t.isf(tail, df), rel=1e-9)


@pytest.mark.parametrize("df", DFS)
def test_t_quantile_undoes_the_tail_of_scipy(df: float) -> None:
    for t in (-40, -3.2, -1, -0.01, 0.001, 0.5, 1, 2, 3.5, 12, 60):
        tail = float(stats.t.sf(t, df))
        if 1e-100 <= tail < 1 - 1e-9:
            # A tail near 1 keeps few digits of how far below the middle t lies.
            digits = 1e-9 if tail < 0.9 else 1e-6
            assert student_t_upper(tail, df) == pytest.approx(t, rel=digits, abs=1e-11)


@pytest.mark.parametrize("a", [0.5, 1, 2.5, 7, 30, 400])
def test_t_quantile_undoes_the_incomplete_beta_of_scipy(a: float) -> None:
    """Abramowitz and Stegun 26.7.1 [memory]: P(|T| > t) is I_x(df/2, 1/2), x = df/(df + t^2)."""
    tried = 0
    for x in (1e-6, 0.01, 0.2, 0.5, 0.77, 0.99, 1):
        both = float(special.betainc(a, 0.5, x))
        if both >= 1e-99:
            tried += 1
            t = math.sqrt(2 * a * (1 - x) / x)
            assert student_t_upper(both / 2, 2 * a) == pytest.approx(t, rel=1e-9)
    assert tried >= 3


# Upper points of Student's t: df: (90 %, 95 %, 97.5 %, 99 %, 99.5 %) [memory].
T_TABLE = {
    1: (3.078, 6.314, 12.706, 31.821, 63.657),
    2: (1.886, 2.920, 4.303, 6.965, 9.925),
    3: (1.638, 2.353, 3.182, 4.541, 5.841),
    4: (1.533, 2.132, 2.776, 3.747, 4.604),
    5: (1.476, 2.015, 2.571, 3.365, 4.032),
    6: (1.440, 1.943, 2.447, 3.143, 3.707),
    7: (1.415, 1.895, 2.365, 2.998, 3.499),
    8: (1.397, 1.860, 2.306, 2.896, 3.355),
    9: (1.383, 1.833, 2.262, 2.821, 3.250),
    10: (1.372, 1.812, 2.228, 2.764, 3.169),
    15: (1.341, 1.753, 2.131, 2.602, 2.947),
    20: (1.325, 1.725, 2.086, 2.528, 2.845),
    30: (1.310, 1.697, 2.042, 2.457, 2.750),
    60: (1.296, 1.671, 2.000, 2.390, 2.660),
    120: (1.289, 1.658, 1.980, 2.358, 2.617),
}


@pytest.mark.parametrize(("df", "printed"), T_TABLE.items())
def test_printed_t_table(df: int, printed: tuple[float, ...]) -> None:
    for p, value in zip((0.90, 0.95, 0.975, 0.99, 0.995), printed, strict=True):
        assert round(student_t_upper(1 - p, df), 3) == value


def drawn(seed: int) -> list[float]:
    source = random.Random(seed)
    return [round(source.gauss(130, 12), 1) for _ in range(source.randint(3, 40))]


@pytest.mark.parametrize("seed", range(8))
def test_summary_against_the_statistics_module_and_numpy(seed: int) -> None:
    values = drawn(seed)
    found = survey(values)
    assert float(found.mean) == pytest.approx(statistics.fmean(values), rel=1e-14)
    assert float(found.typical) == pytest.approx(statistics.median(values), rel=1e-14)
    assert found.sd == pytest.approx(statistics.stdev(values), rel=1e-12)
    assert found.sd == pytest.approx(float(np.std(values, ddof=1)), rel=1e-12)
    assert float(found.spread) == pytest.approx(float(np.ptp(values)), rel=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_grubbs_statistic_against_scipy_z_scores(seed: int) -> None:
    values = drawn(seed)
    scores = np.abs(stats.zscore(values, ddof=1))
    (test,), _ = generalised_esd(values, alpha=0.05, at_most=1)
    assert test.statistic == pytest.approx(float(scores.max()), rel=1e-10)
    assert scores[test.index] == pytest.approx(float(scores.max()), rel=1e-10)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_mean_interval_against_scipy(confidence: float) -> None:
    values = drawn(3)
    found = interval_of(survey(values), confidence=confidence)
    low, high = stats.t.interval(
        confidence, len(values) - 1, loc=np.mean(values), scale=stats.sem(values)
    )
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-10)
    assert found.standard_uncertainty == pytest.approx(float(stats.sem(values)), rel=1e-10)


def test_grubbs_critical_is_the_rate_of_false_alarms() -> None:
    """20 000 panels of pure normal scatter: 5 % exceed the critical value, within four sigma."""
    source = np.random.default_rng(20)
    panels = source.normal(size=(20_000, 8))
    deviates = np.abs(panels - panels.mean(axis=1, keepdims=True)).max(axis=1)
    alarms = float(np.mean(deviates / panels.std(axis=1, ddof=1) > grubbs_critical(8, alpha=0.05)))
    assert abs(alarms - 0.05) < 4 * math.sqrt(0.05 * 0.95 / 20_000)
