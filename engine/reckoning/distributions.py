"""Student's t distribution, by the regularised incomplete beta function and its inversion.

Formulae: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.5 and 26.7 (from memory);
continued fraction 26.5.8, evaluated by Lentz's method.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

from engine.errors import ReckoningError

_SMALLEST_TAIL = 1e-100
_TINY = 1e-300


@lru_cache(maxsize=4096)
def student_t_upper(tail: float, df: float) -> float:
    """The t that is exceeded with probability `tail`; 1e-100 <= tail < 1, df >= 1.

    Raises ReckoningError outside that range. Relative accuracy about 1e-12.
    """
    _check_df(df)
    if not _SMALLEST_TAIL <= tail < 1:
        raise ReckoningError(
            f"A tail probability of {tail} has no usable t: give one between 0 and 1."
        )
    if tail > 0.5:
        return -student_t_upper(1 - tail, df)
    if tail == 0.5:
        return 0.0
    if tail > 0.25:
        # Near the middle the tail hardly changes with t; the area about zero does.
        area = 1 - 2 * tail
        return _solve(lambda t: _central_area(t, df) / area, df, sign=2 / area)
    return _solve(lambda t: _upper_tail(t, df) / tail, df, sign=-1 / tail)


def _check_df(df: float) -> None:
    if not (math.isfinite(df) and df >= 1):
        raise ReckoningError(
            f"Student's t needs at least 1 degree of freedom, got {df}: take more readings."
        )


def _split(t: float, df: float) -> tuple[float, float]:
    """x = df / (df + t^2) and its complement, each without cancellation."""
    ratio = df / t / t
    return ratio / (1 + ratio), 1 / (1 + ratio)


def _upper_tail(t: float, df: float) -> float:
    x, y = _split(t, df)
    return 0.5 * _beta(x, y, df / 2, 0.5)


def _central_area(t: float, df: float) -> float:
    x, y = _split(t, df)
    return _beta(y, x, 0.5, df / 2)


def _density(t: float, df: float) -> float:
    log_density = (
        _log_gamma_step(df / 2)
        - 0.5 * math.log(df * math.pi)
        - (df + 1) / 2 * math.log1p(t / df * t)
    )
    return math.exp(log_density)


def _log_gamma_step(a: float) -> float:
    """ln Gamma(a + 1/2) - ln Gamma(a)."""
    if a < 20:
        return math.lgamma(a + 0.5) - math.lgamma(a)
    # The difference of two large logarithms loses digits; its asymptotic series does not.
    inverse = 1 / a
    square = inverse * inverse
    series = inverse * (-1 / 8 + square * (1 / 192 + square * (-1 / 640 + square * 17 / 14336)))
    return 0.5 * math.log(a) + series


def _log_beta(a: float, b: float) -> float:
    """ln B(a, b) where one of both is 1/2, as it always is for Student's t."""
    return math.lgamma(0.5) - _log_gamma_step(a if b == 0.5 else b)


def _log(value: float, complement: float) -> float:
    return math.log(value) if value < 0.5 else math.log1p(-complement)


def _beta(x: float, y: float, a: float, b: float) -> float:
    """I_x(a, b) with y = 1 - x given, so that neither end loses digits; a or b is 1/2."""
    if x <= 0:
        return 0.0
    if y <= 0:
        return 1.0
    front = math.exp(a * _log(x, y) + b * _log(y, x) - _log_beta(a, b))
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(x, a, b) / a
    return 1 - front * _continued_fraction(y, b, a) / b


def _continued_fraction(x: float, a: float, b: float) -> float:
    c, d = 1.0, 1 / _away_from_zero(1 - (a + b) * x / (a + 1))
    result = d
    for m in range(1, 100_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / _away_from_zero(1 + term * d)
            c = _away_from_zero(1 + term / c)
            change = c * d
            result *= change
        if abs(change - 1) < 1e-16:
            return result
    raise ReckoningError(f"The incomplete beta function did not settle at {x}, {a}, {b}.")


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _solve(ratio: Callable[[float], float], df: float, *, sign: float) -> float:
    """The t > 0 at which `ratio` is 1; d ratio / dt is `sign` times the density.

    Newton's method on logarithms of both, kept inside a bracket that shrinks.
    """
    rising = sign > 0
    low = high = 0.0
    step = 1.0
    while (ratio(math.exp(low)) < 1) != rising:
        low, step = low - step, step * 2
    step = 1.0
    while (ratio(math.exp(high)) > 1) != rising:
        high, step = high + step, step * 2
    s = (low + high) / 2
    for _ in range(200):
        t = math.exp(s)
        value = ratio(t)
        if value == 1:
            break
        if (value < 1) == rising:
            low = s
        else:
            high = s
        slope = sign * _density(t, df) * t / value if value > 0 else 0.0
        proposal = s - math.log(value) / slope if slope else math.inf
        following = proposal if low < proposal < high else (low + high) / 2
        if abs(following - s) <= 1e-15 * max(1.0, abs(s)):
            s = following
            break
        s = following
    return math.exp(s)
