"""Film readings: what they come to, how many are due, whether they meet a specification."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cli.reckon.answer import Answer
from cli.reckon.kinds import Taken, amount
from cli.reckon.reckoning import RuleBook, choice_option, option, readings_option, reckoning
from engine.errors import ReckoningError
from engine.facts import Spots
from engine.quantity import Kind, Quantity, show
from engine.reckoning.film_acceptance import (
    Limits,
    RestrictionLevel,
    iso19840_acceptance,
    iso19840_corrected,
    pa2_acceptance,
)
from engine.reckoning.gauge import combined_accuracy, gauge_check, zero_check
from engine.reckoning.outliers import odd_spots, two_groups
from engine.reckoning.survey import (
    SQUARE_FOOT_M2,
    SizeStep,
    interval_of,
    spots_needed,
    stepped_count,
)
from engine.reckoning.survey import survey as survey_of
from engine.reckoning.tables import pick

_READ = "film readings, as in '4.9, 5.1, 5.0/5.2/5.1 mil'; commas part spots, slashes readings"
_PA2 = "SSPC-PA 2 (2012)"
_ISO = "ISO 19840 (2012)"


def _pa2_counts(book: RuleBook) -> dict[str, int]:
    return dict(pick(book.table("survey.pa2-counts"), "spots and readings", "count", "least"))


@reckoning("survey", readings_option("--readings", _READ, required=True))
def survey(book: RuleBook, readings: Taken) -> Answer:
    """Typical film, spread, how sure the mean is, odd spots, and whether there are two films."""
    answer = Answer(
        "Film survey",
        "spot = mean of its readings; typical = median of spots; mean +/- t * s / sqrt(n)",
        f"spots: {_PA2}, clause 3; interval and test for odd spots: NIST/SEMATECH e-Handbook "
        "1.3.5.2 and 1.3.5.17.3 (from memory); test for two films: derived, our own",
    )
    found, unit = survey_of(readings.spots), readings.unit
    answer.number("Spots", found.n)
    for what, film in (
        ("Typical film", found.typical),
        ("Lowest spot", found.low),
        ("Highest spot", found.high),
        ("Spread", found.spread),
        ("Mean", found.mean),
    ):
        answer.measure(what, film, Kind.THICKNESS, unit)
    if found.n < 2:
        answer.note("One spot says nothing of the scatter; read more.")
        return answer
    level = book.limit("film.confidence-level")
    sure = interval_of(found, confidence=level / 100)
    answer.measure(
        f"Mean at {show(level, Kind.PERCENT)} within", sure.half_width, Kind.THICKNESS, unit
    )
    groups = two_groups(
        found.spots,
        spread_limit=book.limit("film.spread-limit"),
        gap_limit=book.limit("film.gap-limit"),
        gap_ratio=book.limit("film.gap-ratio"),
    )
    answer.word(
        "Two films", "likely: look where the step is" if groups.divided else "no sign of them"
    )
    at_least = int(book.limit("film.spots-for-odd"))
    if found.n < at_least:
        answer.note(f"Odd spots are looked for from {at_least} spots on; below, the test is blind.")
        return answer
    odd = odd_spots(
        found.spots,
        alpha=book.limit("film.grubbs-significance") / 100,
        at_least=at_least,
        at_most_percent=book.limit("film.odd-share"),
        departure=book.limit("film.odd-departure"),
    )
    answer.word("Odd spots", ", ".join(str(place + 1) for place in odd) or "none")
    if odd:
        answer.note("Read an odd spot again before it counts for anything; none is left out here.")
    return answer


@reckoning("spots", option("--area", Kind.AREA, "surface to survey; measure it", required=True))
def spots(book: RuleBook, area: Quantity) -> Answer:
    """Spots to read on a surface by two standards, which differ."""
    answer = Answer(
        "Spots to read", "areas by size; spots per area; readings per spot", f"{_PA2}; {_ISO}"
    )
    columns = ("over-ft2", "up-to-ft2", "areas", "more", "per-ft2")
    steps = [SizeStep(*row) for row in pick(book.table("survey.pa2-areas"), "areas", *columns)]
    counts = _pa2_counts(book)
    found = spots_needed(
        area.amount,
        steps=steps,
        unit_m2=SQUARE_FOOT_M2,
        spots_per_area=counts["spots-per-area"],
        readings_per_spot=counts["readings-per-spot"],
    )
    answer.word(_PA2, f"{found.areas} areas, {found.spots} spots, {found.readings} gauge readings")
    iso = ("over-m2", "up-to-m2", "readings", "more", "per-m2")
    rows = [SizeStep(*row) for row in pick(book.table("survey.iso19840-counts"), "counts", *iso)]
    answer.word(_ISO, f"{stepped_count(area.amount, steps=rows)} readings")
    answer.note(
        "Both were written for structures; a vehicle panel takes at least the spots of one."
    )
    return answer


_LEVEL = "restriction level of SSPC-PA 2; see the specification"
_MINIMUM = "least film specified (ISO 19840: the nominal); see the specification"
_MAXIMUM = "largest film specified (ISO 19840: by agreement)"


@reckoning(
    "acceptance",
    choice_option("--by", ("pa2", "iso19840"), "whose way of judging", required=True),
    readings_option("--readings", f"{_READ}; once for each area", required=True, multiple=True),
    option("--minimum", Kind.THICKNESS, _MINIMUM, required=True),
    option("--maximum", Kind.THICKNESS, _MAXIMUM),
    option("--level", Kind.COUNT, _LEVEL),
    choice_option(
        "--profile",
        ("smooth", "fine", "medium", "coarse", "unknown"),
        "profile of the blasted steel under the film (ISO 19840); compare it by ISO 8503-1",
    ),
)
def acceptance(
    book: RuleBook,
    by: str,
    readings: tuple[Taken, ...],
    minimum: Quantity,
    maximum: Quantity | None,
    level: Quantity | None,
    profile: str | None,
) -> Answer:
    """Whether readings meet a specified film, by SSPC-PA 2 or by ISO 19840."""
    if by == "pa2":
        if profile is not None:
            raise ReckoningError("--profile belongs to ISO 19840; leave it out, or use its way")
        return _by_pa2(book, readings, minimum, maximum, level)
    if level is not None:
        raise ReckoningError("--level belongs to SSPC-PA 2; leave it out, or use its way")
    return _by_iso(book, readings, minimum, maximum, profile)


def _by_pa2(
    book: RuleBook,
    readings: Sequence[Taken],
    minimum: Quantity,
    maximum: Quantity | None,
    level: Quantity | None,
) -> Answer:
    if level is None:
        raise ReckoningError(f"--level is missing: {_LEVEL}")
    if maximum is None:
        raise ReckoningError(f"--maximum is missing: {_MAXIMUM}")
    if maximum.amount < minimum.amount:
        least = show(minimum.amount, Kind.THICKNESS, maximum.unit)
        raise ReckoningError(
            f"--maximum, {maximum.written}, is below --minimum, {least}; see the specification"
        )
    columns = (
        "level", "spot-min-percent", "spot-max-percent", "area-min-percent", "area-max-percent",
    )  # fmt: skip
    rows = pick(book.table("survey.pa2-levels"), "levels", *columns)
    found = pa2_acceptance(
        [taken.spots for taken in readings],
        minimum=minimum.amount,
        maximum=maximum.amount,
        level=int(level.amount),
        levels={row[0]: RestrictionLevel(*row[1:]) for row in rows},
        spots_per_area=_pa2_counts(book)["spots-per-area"],
    )
    unit = minimum.unit
    answer = Answer(
        "Film by SSPC-PA 2", "limits = percent of the specified minimum and maximum, by level",
        f"{_PA2}, clause 9 and Table 1 (levels from memory)",
    )  # fmt: skip
    answer.word("Verdict", "meets the specification" if found.accepted else "does not meet it")
    answer.word("Spot limits", _limits(found.spot_limits, unit))
    answer.word("Area limits", _limits(found.area_limits, unit))
    for place, area in enumerate(found.areas, start=1):
        answer.measure(f"Mean of area {place}", area.mean, Kind.THICKNESS, unit)
        if not area.mean_ok:
            answer.word(f"Area {place}", "its mean is outside the area limits")
        if area.spots_outside:
            named = ", ".join(str(spot + 1) for spot in area.spots_outside)
            answer.word(f"Area {place}", f"spots outside: {named}")
    return answer


def _limits(limits: Limits, unit: str) -> str:
    low = show(limits.low, Kind.THICKNESS, unit)
    if limits.high is None:
        return f"{low} and up"
    return f"{low} to {show(limits.high, Kind.THICKNESS, unit)}"


def _by_iso(
    book: RuleBook,
    readings: Sequence[Taken],
    nominal: Quantity,
    maximum: Quantity | None,
    profile: str | None,
) -> Answer:
    if profile is None:
        raise ReckoningError(
            "--profile is missing: compare the blasted steel with an ISO 8503-1 comparator; say "
            "`smooth` for sheet nobody blasted and `unknown` where nobody knows"
        )
    corrections = dict(
        pick(book.table("survey.iso19840-corrections"), "corrections", "profile", "correction-um")
    )
    asked = dict(pick(book.table("survey.iso19840-acceptance"), "acceptance", "quantity", "value"))
    every = [reading for taken in readings for reading in _single(taken.spots)]
    found = iso19840_acceptance(
        iso19840_corrected(every, profile=profile, corrections=corrections),
        nominal=nominal.amount,
        scope_from=asked["scope-from-um"],
        lowest_percent=asked["lowest-percent"],
        below_share_percent=asked["below-share-percent"],
        maximum=amount(maximum),
    )
    answer = Answer(
        "Film by ISO 19840", "corrected = reading - correction for the profile",
        f"{_ISO}, clause 8 and Table 1 (from memory)",
    )  # fmt: skip
    unit = nominal.unit
    answer.word("Verdict", "meets the specification" if found.accepted else "does not meet it")
    answer.measure("Mean, corrected", found.mean, Kind.THICKNESS, unit)
    less = Fraction(corrections[profile])
    answer.measure("Taken off each reading", less, Kind.THICKNESS, unit)
    answer.number("Readings below the nominal", len(found.below_nominal))
    for what, places in (("Too thin", found.too_thin), ("Too thick", found.too_thick)):
        if places:
            named = ", ".join(str(place + 1) for place in places)
            answer.word(what, f"readings {named}")
    return answer


def _single(spots: Spots) -> list[Fraction]:
    return [reading for spot in spots for reading in spot]


@reckoning(
    "gauge",
    readings_option(
        "--readings",
        "what the gauge shows on the shim, block or bare metal; below zero as it stands, "
        "as in '-0.1, 0.1 mil'",
        required=True,
        like=None,
        signed=True,
    ),
    option("--known", Kind.THICKNESS, "certified thickness; leave out for bare metal (zero)"),
    option("--tolerance", Kind.THICKNESS, "allowed error; see the gauge's and shim's certificates"),
    option("--gauge-accuracy", Kind.PERCENT, "instead of --tolerance; see the gauge's certificate"),
    option("--shim-accuracy", Kind.PERCENT, "with --gauge-accuracy; see the shim's certificate"),
)
def gauge(
    book: RuleBook,
    readings: Taken,
    known: Quantity | None,
    tolerance: Quantity | None,
    gauge_accuracy: Quantity | None,
    shim_accuracy: Quantity | None,
) -> Answer:
    """A gauge against a certified thickness, or against zero on bare metal of the same kind."""
    shown = _single(readings.spots)
    if known is None:
        allowed = book.limit("survey.zero-tolerance") if tolerance is None else tolerance.amount
        found = zero_check(shown, tolerance=allowed)
    else:
        if min(shown) < 0:
            raise ReckoningError(
                "a reading on a shim or block is below zero; only bare metal may read so: read the "
                "block again, or leave --known out for bare metal"
            )
        allowed = _allowed(known, tolerance, gauge_accuracy, shim_accuracy)
        found = gauge_check(shown, known=known.amount, tolerance=allowed)
    answer = Answer(
        "Gauge check",
        "error = mean of readings - known thickness; accuracies of gauge and shim together: the "
        "root of the sum of their squares",
        f"{_PA2}, clause 5; its note on accuracy from memory",
    )
    answer.word("Verdict", "passed" if found.passed else "failed: do not rely on it")
    answer.word("Held against", "bare metal, zero" if known is None else known.written)
    answer.measure("Mean", found.mean, Kind.THICKNESS, readings.unit)
    answer.measure("Error", found.error, Kind.THICKNESS, readings.unit)
    answer.measure("Allowed", found.tolerance, Kind.THICKNESS, readings.unit)
    if not found.passed:
        answer.note("Every reading since the last check that passed is suspect.")
    return answer


def _allowed(
    known: Quantity,
    tolerance: Quantity | None,
    gauge_accuracy: Quantity | None,
    shim_accuracy: Quantity | None,
) -> Fraction:
    if tolerance is not None:
        return tolerance.amount
    if gauge_accuracy is None or shim_accuracy is None:
        raise ReckoningError(
            "--tolerance is missing, or --gauge-accuracy with --shim-accuracy: take them from the "
            "certificates of gauge and shim"
        )
    together = combined_accuracy(gauge_accuracy.amount, shim_accuracy.amount)
    return known.amount * Fraction(together) / 100
