"""Whether a film gauge can be believed: its checks, and what it reads on the bare metal.

Sources: SSPC-PA 2, clause 5 (verification, base metal reading); ASTM D7091, clause 7 (checks
before and after each period of work), the latter from memory. Lengths in micrometres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from engine.errors import ReckoningError
from engine.reckoning.averages import exact_all, mean_of
from engine.reckoning.inputs import Number, not_negative, positive
from engine.reckoning.survey import Spot
from engine.records import dataclass

_BARE = "read the bare, prepared metal with the same gauge."


@dataclass(frozen=True, slots=True)
class GaugeCheck:
    """A gauge held against a known thickness; at the tolerance it still passes."""

    mean: Fraction
    error: Fraction
    tolerance: Fraction

    @property
    def passed(self) -> bool:
        return abs(self.error) <= self.tolerance


@dataclass(frozen=True, slots=True)
class Checked:
    """In a log of work: the gauge was checked here."""

    passed: bool


@dataclass(frozen=True, slots=True)
class Taken:
    """In a log of work: a reading was taken here."""

    value: Number


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading that no pair of passed checks covers; `index` counts readings from 0."""

    index: int
    value: Number
    why: Literal["no-check-before", "failed-before", "failed-after", "no-check-after"]


def combined_accuracy(gauge_percent: Number, standard_percent: Number) -> float:
    """Accuracy of gauge and standard together: the root of the sum of squares, in percent.

    Source: SSPC-PA 2, note on verification (from memory).
    """
    how = "read it from the certificate."
    return math.hypot(
        not_negative("the gauge's accuracy", gauge_percent, how),
        not_negative("the standard's accuracy", standard_percent, how),
    )


def gauge_check(readings: Sequence[Number], *, known: Number, tolerance: Number) -> GaugeCheck:
    """The mean of the readings on a certified thickness `known`, against an absolute tolerance.

    Raises ReckoningError for no readings, a known thickness of zero (see `zero_check`) or below,
    or a negative tolerance.
    """
    thickness = positive("the certified thickness", known, "read it from the shim or block.")
    taken = exact_all("check reading", readings, "read the shim or block.")
    allowed = not_negative("the tolerance", tolerance, "see the gauge's certificate.")
    return GaugeCheck(mean_of(taken), mean_of(taken) - thickness, allowed)


def zero_check(readings: Sequence[Number], *, tolerance: Number) -> GaugeCheck:
    """The mean of the readings on uncoated metal of the same kind, against zero.

    Negative readings are ordinary here. Raises ReckoningError for no readings.
    """
    taken = exact_all("zero reading", readings, _BARE)
    allowed = not_negative("the tolerance", tolerance, "see the gauge's certificate.")
    return GaugeCheck(mean_of(taken), mean_of(taken), allowed)


def suspect_readings(log: Sequence[Checked | Taken]) -> tuple[Suspect, ...]:
    """The readings of a log, in the order things happened, that cannot be relied on.

    A reading stands only between two passed checks: after a failed check everything since the
    last passed one is suspect (SSPC-PA 2, clause 5.5), and so is a reading nothing has checked
    yet. A failed check counts in both directions.
    """
    suspects: list[Suspect] = []
    pending: list[tuple[int, Number]] = []
    before: Checked | None = None
    count = 0
    for entry in log:
        if isinstance(entry, Taken):
            pending.append((count, entry.value))
            count += 1
            continue
        suspects += _doubted(pending, before, entry)
        pending, before = [], entry
    return tuple(suspects + _doubted(pending, before, None))


def less_correction(
    readings: Sequence[Spot], *, correction: Number
) -> list[Fraction | list[Fraction]]:
    """The readings less what the metal under the film adds to each; nested spots stay nested.

    `correction` is the base metal reading of a pull-off (type 1) gauge, which is not set to zero on
    bare steel (SSPC-PA 2, clause 5), or that for the profile of blasted steel (ISO 19840).
    Raises ReckoningError where a reading is below it: there is no such film.
    """
    less = not_negative("the correction for the metal", correction, _BARE)
    return [
        [_less(reading, less) for reading in spot]
        if isinstance(spot, Sequence)
        else _less(spot, less)
        for spot in readings
    ]


def _less(reading: Number, less: Fraction) -> Fraction:
    taken = not_negative("the film reading", reading, "read the spot again.")
    if taken < less:
        raise ReckoningError(
            f"A film reading of {float(taken):g} µm is below the {float(less):g} µm that is taken "
            "off for the metal under it; read the film and the bare metal again."
        )
    return taken - less


def _doubted(
    pending: Sequence[tuple[int, Number]], before: Checked | None, after: Checked | None
) -> list[Suspect]:
    why: Literal["no-check-before", "failed-before", "failed-after", "no-check-after"]
    if after is not None and not after.passed:
        why = "failed-after"
    elif before is None:
        why = "no-check-before"
    elif not before.passed:
        why = "failed-before"
    elif after is None:
        why = "no-check-after"
    else:
        return []
    return [Suspect(index, value, why) for index, value in pending]
