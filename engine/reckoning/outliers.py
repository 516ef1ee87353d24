"""Spots that stand apart from the rest of their panel.

Nothing here removes a reading: a spot that stands apart is named, to be read again first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from engine.errors import ReckoningError
from engine.reckoning.averages import (
    exact_all,
    in_whole,
    mean_of,
    median_of,
    median_of_whole,
    variance_of,
)
from engine.reckoning.distributions import student_t_upper
from engine.reckoning.inputs import Number, not_negative, number, percent, whole
from engine.records import dataclass

_MORE = "read more spots."


@dataclass(frozen=True, slots=True)
class Grubbs:
    """Grubbs' test on the furthest value, either way, which stands at `index`."""

    statistic: float
    critical: float
    index: int

    @property
    def outlying(self) -> bool:
        return self.statistic > self.critical


@dataclass(frozen=True, slots=True)
class TwoGroups:
    """Whether values fall into two groups; `low` and `high` are their places (from 0).

    The groups are those the largest gap divides, also where it was not large enough to count.
    """

    spread: Fraction
    spread_over: bool
    largest_gap: Fraction
    median_gap: Fraction
    gap_over: bool
    low: tuple[int, ...]
    high: tuple[int, ...]

    @property
    def divided(self) -> bool:
        return self.spread_over or self.gap_over


@lru_cache(maxsize=1024)
def grubbs_critical(n: int, *, alpha: Number) -> float:
    """The value Grubbs' statistic exceeds by chance with probability `alpha`, for n values.

    Two-sided: the furthest value may lie either way. With t the upper alpha/(2n) point of Student's
    t for n - 2 degrees of freedom it is (n-1)/sqrt(n) sqrt(t^2 / (n-2+t^2)). Source: NIST/SEMATECH
    e-Handbook 1.3.5.17.1 (from memory), ASTM E178. Raises ReckoningError for n below 3 or alpha
    outside 0 to 1.
    """
    if n < 3:
        raise ReckoningError(f"Grubbs' test needs three spots, got {n}; {_MORE}")
    t = student_t_upper(float(_significance(alpha)) / (2 * n), n - 2)
    return (n - 1) / math.sqrt(n) / math.sqrt((n - 2) / t / t + 1)


def generalised_esd(
    values: Sequence[Number], *, alpha: Number, at_most: int
) -> tuple[tuple[Grubbs, ...], tuple[int, ...]]:
    """Rosner's generalised extreme Studentised deviate test for up to `at_most` outliers.

    Returns each step's test and the places (from 0, rising) of the outliers: all values set aside
    up to the last step that exceeded its critical value, since an earlier step may have failed
    only because outliers mask one another. Source: NIST/SEMATECH e-Handbook 1.3.5.17.3 (from
    memory). Raises ReckoningError where fewer than three values would be left for a step.
    """
    taken = exact_all("spot", values, _MORE)
    steps = whole("the number of outliers to look for", at_most, "give one or more.")
    if len(taken) - steps + 1 < 3:
        raise ReckoningError(
            f"{len(taken)} spots are too few to look for {steps} odd ones; {_MORE}"
        )
    left = list(range(len(taken)))
    tests: list[Grubbs] = []
    for _ in range(steps):
        statistic, index = _furthest(taken, left)
        tests.append(Grubbs(statistic, grubbs_critical(len(left), alpha=alpha), index))
        left.remove(index)
    last = max((place for place, test in enumerate(tests, 1) if test.outlying), default=0)
    return tuple(tests), tuple(sorted(test.index for test in tests[:last]))


def odd_spots(
    means: Sequence[Number],
    *,
    alpha: Number,
    at_least: int,
    at_most_percent: Number,
    departure: Number,
) -> tuple[int, ...]:
    """Places (from 0) of the spots that do not belong with the rest of their panel.

    Rosner's test, two-sided, for up to `at_most_percent` of the spots (one at the least), of which
    only those count that lie `departure` or more from the median: a gauge on a very even film
    would else call its own last digit odd. Raises ReckoningError for fewer than `at_least` spots,
    since the test is blind there; never removes anything.
    """
    taken = exact_all("spot", means, _MORE)
    fewest = max(3, whole("the fewest spots for the test", at_least, "see the rule set."))
    if len(taken) < fewest:
        raise ReckoningError(
            f"{len(taken)} spots are too few to tell an odd one; read {fewest - len(taken)} more."
        )
    share = percent("the largest share of odd spots", at_most_percent, "see the rule set.")
    least = not_negative("the least departure", departure, "see the rule set.")
    at_most = min(max(1, math.floor(share * len(taken) / 100)), len(taken) - 2)
    _, found = generalised_esd(taken, alpha=alpha, at_most=at_most)
    centre = median_of(taken)
    return tuple(index for index in found if abs(taken[index] - centre) >= least)


def two_groups(
    values: Sequence[Number], *, spread_limit: Number, gap_limit: Number, gap_ratio: Number
) -> TwoGroups:
    """Whether the values are two films rather than one.

    They are where their spread exceeds `spread_limit`, or where the largest gap between
    neighbours exceeds both `gap_limit` and `gap_ratio` times the median gap. Grubbs' test cannot
    see two groups, because each widens the scatter that would betray the other. Raises
    ReckoningError for fewer than two values. Source of the test: derived, our own.
    """
    taken = exact_all("spot", values, _MORE)
    if len(taken) < 2:
        raise ReckoningError(f"One spot cannot show two films; {_MORE}")
    widest = not_negative("the spread limit", spread_limit, "see the rule set.")
    gap_from = not_negative("the gap limit", gap_limit, "see the rule set.")
    ratio = not_negative("the gap ratio", gap_ratio, "see the rule set.")
    values_, unit = in_whole(taken)
    ordered = sorted(values_)
    gaps = [above - below for below, above in pairwise(ordered)]
    edge = ordered[gaps.index(max(gaps))]
    spread, largest = Fraction(ordered[-1] - ordered[0], unit), Fraction(max(gaps), unit)
    usual = median_of_whole(gaps) / unit
    return TwoGroups(
        spread=spread,
        spread_over=spread > widest,
        largest_gap=largest,
        median_gap=usual,
        gap_over=largest > gap_from and largest > ratio * usual,
        low=tuple(index for index, value in enumerate(values_) if value <= edge),
        high=tuple(index for index, value in enumerate(values_) if value > edge),
    )


def _significance(alpha: Number) -> Fraction:
    level = number("the significance level", alpha, "give a share such as 0.05.")
    if not 0 < level < 1:
        raise ReckoningError("The significance level must lie above 0 and below 1.")
    return level


def _furthest(taken: Sequence[Fraction], among: Sequence[int]) -> tuple[float, int]:
    """G = |x - mean| / s of the furthest value, and its place; of two equally far, the higher.

    G is 0 where all values are equal. Source: ASTM E178.
    """
    values = [taken[index] for index in among]
    centre, variance = mean_of(values), variance_of(values)
    index = max(among, key=lambda place: (abs(taken[place] - centre), taken[place]))
    if not variance:
        return 0.0, index
    return math.sqrt((taken[index] - centre) ** 2 / variance), index
