"""From gauge readings to what a panel typically carries.

A gauge reading is one reading at one point; a spot is the mean of the gauge readings taken
inside one small circle (SSPC-PA 2, clause 3). Lengths are in micrometres, but every function
here gives its result in whatever unit it is fed, as exact fractions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.averages import (
    in_whole,
    mean_of,
    measured_all,
    median_of_whole,
    sd_of,
)
from engine.reckoning.distributions import student_t_upper
from engine.reckoning.inputs import Number, not_negative, number, positive, whole
from engine.records import dataclass

SQUARE_FOOT_M2 = Fraction(9290304, 100_000_000)

Spot = Number | Sequence[Number]
"""The readings of one spot, or its mean."""

_READ_AGAIN = "check the gauge's zero on the same uncoated metal, then read the spot again."


@dataclass(frozen=True, slots=True)
class Survey:
    """The spots of one panel, summed up; `sd` is None where there is one spot only."""

    spots: tuple[Fraction, ...]
    typical: Fraction
    low: Fraction
    high: Fraction
    mean: Fraction
    sd: float | None

    @property
    def n(self) -> int:
        return len(self.spots)

    @property
    def spread(self) -> Fraction:
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class MeanInterval:
    """A mean with its standard uncertainty and the two-sided interval that holds it."""

    mean: Fraction
    standard_uncertainty: float
    half_width: float
    df: int

    @property
    def low(self) -> float:
        return float(self.mean) - self.half_width

    @property
    def high(self) -> float:
        return float(self.mean) + self.half_width


@dataclass(frozen=True, slots=True)
class Sampling:
    """How many areas, spots and gauge readings a surface needs."""

    areas: int
    spots: int
    readings: int


@dataclass(frozen=True, slots=True)
class SizeStep:
    """One row of a sampling table: over `over` up to and including `up_to` (None: no end).

    The count is `base`, and `add` more for every started `per` beyond `over`.
    """

    over: Number
    up_to: Number | None
    base: int
    add: int
    per: Number | None


def spot_mean(readings: Spot) -> Fraction:
    """The mean of the gauge readings of one spot; a lone number is its own mean.

    Source: SSPC-PA 2, clause 3. Raises ReckoningError for no, negative or non-finite readings.
    """
    several = readings if isinstance(readings, Sequence) else (readings,)
    taken = measured_all("film reading", several, _READ_AGAIN)
    return taken[0] if len(taken) == 1 else mean_of(taken)


def spot_means(readings: Sequence[Spot]) -> tuple[Fraction, ...]:
    """The mean of each spot, in the order given.

    Raises ReckoningError where there is no spot, or naming the spot whose readings are wrong.
    """
    if not readings:
        raise ReckoningError(
            "No film readings were given; read the panel with a gauge that suits its metal."
        )
    means = []
    for place, spot in enumerate(readings, start=1):
        try:
            means.append(spot_mean(spot))
        except ReckoningError as error:
            raise ReckoningError(f"Spot {place}: {error}") from error
    return tuple(means)


def survey(readings: Sequence[Spot]) -> Survey:
    """Sum up the spots of one panel; `typical` is the median, which one odd spot cannot move far.

    Raises ReckoningError as `spot_means` does.
    """
    spots = spot_means(readings)
    whole_spots, unit = in_whole(spots)
    return Survey(
        spots=spots,
        typical=median_of_whole(whole_spots) / unit,
        low=Fraction(min(whole_spots), unit),
        high=Fraction(max(whole_spots), unit),
        mean=Fraction(sum(whole_spots), unit * len(spots)),
        sd=sd_of(spots) if len(spots) > 1 else None,
    )


def interval_of(surveyed: Survey, *, confidence: Number) -> MeanInterval:
    """The mean of the spots, its standard uncertainty s/sqrt(n), and the Student t interval.

    `confidence` is the two-sided level as a share, above 0 and below 1. Raises ReckoningError
    where fewer than two spots were read. Source: NIST/SEMATECH e-Handbook 1.3.5.2 (from memory).
    """
    level = number("the confidence level", confidence, "give a share such as 0.9.")
    if not 0 < level < 1:
        raise ReckoningError("The confidence level must lie above 0 and below 1.")
    if surveyed.sd is None:
        raise ReckoningError("One spot says nothing of the scatter; read at least two spots.")
    df = surveyed.n - 1
    uncertainty = surveyed.sd / math.sqrt(surveyed.n)
    half_width = student_t_upper(float((1 - level) / 2), df) * uncertainty
    return MeanInterval(surveyed.mean, uncertainty, half_width, df)


def stepped_count(size: Number, *, steps: Sequence[SizeStep]) -> int:
    """The count a sampling table gives for `size`, in the table's own unit.

    Raises ReckoningError for a negative size, or one no row covers.
    """
    wanted = not_negative("the surface", size, "measure it.")
    for step in steps:
        start = number("a size in the sampling table", step.over, "correct the table.")
        if wanted < start or (wanted == start and start != 0):
            continue
        if step.up_to is not None and wanted > number(
            "a size in the sampling table", step.up_to, "correct the table."
        ):
            continue
        if not step.add:
            return step.base
        stride = positive("a stride in the sampling table", step.per, "correct the table.")
        return step.base + step.add * math.ceil((wanted - start) / stride)
    raise ReckoningError(f"No row of the sampling table covers a surface of {float(wanted):g}.")


def spots_needed(
    area_m2: Number,
    *,
    steps: Sequence[SizeStep],
    unit_m2: Number,
    spots_per_area: int,
    readings_per_spot: int,
) -> Sampling:
    """How many areas, spots and gauge readings a surface of `area_m2` square metres needs.

    `steps` counts areas over surfaces in units of `unit_m2` (SQUARE_FOOT_M2 where the table is in
    square feet). Source of the way of counting: SSPC-PA 2. Raises ReckoningError for an area of
    zero or less, or one the table leaves out.
    """
    area = positive("the area", area_m2, "measure the panel.")
    unit = positive("the unit of the sampling table", unit_m2, "state the table's unit.")
    areas = stepped_count(area / unit, steps=steps)
    spots = areas * whole("the number of spots per area", spots_per_area, "see the table.")
    readings = spots * whole("the number of readings per spot", readings_per_spot, "see the table.")
    return Sampling(areas, spots, readings)
