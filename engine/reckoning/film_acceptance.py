"""Whether a measured film meets a specified thickness, by SSPC-PA 2 or by ISO 19840.

Every limit comes from a table row that is passed in. Lengths in micrometres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.averages import mean_of, measured_all
from engine.reckoning.inputs import Number, not_negative, number, percent, positive, show, whole
from engine.reckoning.survey import Spot, spot_means


@dataclass(frozen=True, slots=True)
class RestrictionLevel:
    """One row of SSPC-PA 2, Table 1: percent of the specified minimum or maximum; None: no end."""

    spot_min_percent: Number
    spot_max_percent: Number | None
    area_min_percent: Number
    area_max_percent: Number | None


@dataclass(frozen=True, slots=True)
class Limits:
    """Lowest and highest value allowed, both still allowed; None: no end."""

    low: Fraction
    high: Fraction | None

    def hold(self, value: Fraction) -> bool:
        return self.low <= value and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class AreaResult:
    """One area: its mean, and the places (from 0) of the spots outside the spot limits."""

    mean: Fraction
    mean_ok: bool
    spots_outside: tuple[int, ...]

    @property
    def accepted(self) -> bool:
        return self.mean_ok and not self.spots_outside


@dataclass(frozen=True, slots=True)
class Pa2Result:
    """Every area with the limits it was held against."""

    spot_limits: Limits
    area_limits: Limits
    areas: tuple[AreaResult, ...]

    @property
    def accepted(self) -> bool:
        return all(area.accepted for area in self.areas)


@dataclass(frozen=True, slots=True)
class Iso19840Result:
    """What ISO 19840 asks of corrected readings, point by point."""

    mean: Fraction
    mean_ok: bool
    too_thin: tuple[int, ...]
    below_nominal: tuple[int, ...]
    share_below_ok: bool
    too_thick: tuple[int, ...]

    @property
    def accepted(self) -> bool:
        return self.mean_ok and self.share_below_ok and not self.too_thin and not self.too_thick


def pa2_limits(
    *, minimum: Number, maximum: Number, level: int, levels: Mapping[int, RestrictionLevel]
) -> tuple[Limits, Limits]:
    """Spot limits and area limits for a specified range at one restriction level.

    Source: SSPC-PA 2, clause 9 and Table 1. Raises ReckoningError for an unknown level or a
    specified maximum below the minimum.
    """
    low = not_negative("the specified minimum", minimum, "see the specification.")
    high = not_negative("the specified maximum", maximum, "see the specification.")
    if high < low:
        raise ReckoningError(
            f"The specified maximum {show(high)} is below the minimum {show(low)}; "
            "see the specification."
        )
    if level not in levels:
        known = ", ".join(str(known) for known in sorted(levels))
        raise ReckoningError(f"There is no restriction level {level}; give one of {known}.")
    row = levels[level]
    return (
        _limits(low, high, row.spot_min_percent, row.spot_max_percent),
        _limits(low, high, row.area_min_percent, row.area_max_percent),
    )


def pa2_acceptance(
    areas: Sequence[Sequence[Spot]],
    *,
    minimum: Number,
    maximum: Number,
    level: int,
    levels: Mapping[int, RestrictionLevel],
    spots_per_area: int,
) -> Pa2Result:
    """Hold each area, given as its spots, against a specified range; single readings never count.

    Source: SSPC-PA 2, clause 9. Raises ReckoningError for no area, or too few spots in one.
    """
    spot_limits, area_limits = pa2_limits(
        minimum=minimum, maximum=maximum, level=level, levels=levels
    )
    wanted = whole("the number of spots per area", spots_per_area, "see the table.")
    if not areas:
        raise ReckoningError("No area was measured; read the spots of at least one area.")
    results = []
    for place, area in enumerate(areas, start=1):
        if len(area) < wanted:
            raise ReckoningError(
                f"Area {place} has {len(area)} spots and needs {wanted}; "
                f"read {wanted - len(area)} more."
            )
        means = spot_means(area)
        outside = tuple(i for i, spot in enumerate(means) if not spot_limits.hold(spot))
        results.append(AreaResult(mean_of(means), area_limits.hold(mean_of(means)), outside))
    return Pa2Result(spot_limits, area_limits, tuple(results))


def iso19840_corrected(
    readings: Sequence[Number], *, profile: str, corrections: Mapping[str, Number]
) -> tuple[Fraction, ...]:
    """Each reading less the correction for the profile of the blasted steel under it.

    A result below zero stays below zero: the reading lies inside the profile. Source: ISO 19840,
    Table 1. Raises ReckoningError for a profile the table leaves out; an unknown profile is a row
    of its own, never assumed.
    """
    if profile not in corrections:
        raise ReckoningError(
            f"There is no correction for a {profile!r} profile; compare the steel with an "
            f"ISO 8503-1 comparator and give one of {', '.join(corrections)}."
        )
    less = not_negative("the correction", corrections[profile], "correct the table.")
    taken = measured_all("film reading", readings, "read the place again.")
    return tuple(reading - less for reading in taken)


def iso19840_acceptance(
    corrected: Sequence[Number],
    *,
    nominal: Number,
    scope_from: Number,
    lowest_percent: Number,
    below_share_percent: Number,
    maximum: Number | None,
) -> Iso19840Result:
    """Hold corrected readings against a nominal dry film thickness.

    The mean must reach the nominal, each reading `lowest_percent` of it, and fewer than
    `below_share_percent` of the readings may lie below the nominal; no reading may pass
    `maximum` (None: none agreed). Source: ISO 19840, clause 8. Raises ReckoningError for no
    readings or a nominal thickness below `scope_from`, which the method does not cover.
    """
    target = positive("the nominal thickness", nominal, "see the specification.")
    start = not_negative("the method's lowest nominal thickness", scope_from, "see the table.")
    if target < start:
        raise ReckoningError(
            f"A nominal thickness of {show(target)} µm is below {show(start)} µm, where this "
            "method starts; use another one."
        )
    lowest = percent("the lowest reading allowed", lowest_percent, "see the table.") * target / 100
    share = percent("the share below the nominal", below_share_percent, "see the table.")
    if not corrected:
        raise ReckoningError("No readings were given; read the surface.")
    taken = tuple(number("a corrected reading", value, "read again.") for value in corrected)
    top = None if maximum is None else positive("the maximum", maximum, "see the agreement.")
    below = tuple(i for i, value in enumerate(taken) if value < target)
    return Iso19840Result(
        mean=mean_of(taken),
        mean_ok=mean_of(taken) >= target,
        too_thin=tuple(i for i in below if taken[i] < lowest),
        below_nominal=below,
        share_below_ok=not below or Fraction(100 * len(below), len(taken)) < share,
        too_thick=tuple(i for i, value in enumerate(taken) if top is not None and value > top),
    )


def _limits(
    low: Fraction, high: Fraction, low_percent: Number, high_percent: Number | None
) -> Limits:
    how = "correct the table of levels."
    least = low * not_negative("a lower percentage", low_percent, how) / 100
    if high_percent is None:
        return Limits(least, None)
    return Limits(least, high * not_negative("an upper percentage", high_percent, how) / 100)
