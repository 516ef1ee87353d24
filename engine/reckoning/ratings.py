"""Condition ratings: from a measured share of the surface to a standard's grade, and across.

The tables are data and are passed in, rows from best to worst. Where a standard leaves a boundary
to two rows, `shared` says which row takes it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from engine.errors import ReckoningError
from engine.quantity import Kind
from engine.quantity import show as written
from engine.reckoning.inputs import Number, not_negative, percent, show
from engine.records import dataclass

Grade = int | str


@dataclass(frozen=True, slots=True)
class Band:
    """A grade and the percentages of surface it takes in; the flags say whether ends count."""

    grade: Grade
    low: Number
    low_included: bool
    high: Number
    high_included: bool

    def holds(self, share: Number) -> bool:
        low = percent("a band's lower end", self.low, "correct the table.")
        high = percent("a band's upper end", self.high, "correct the table.")
        above = share > low or (self.low_included and share == low)
        below = share < high or (self.high_included and share == high)
        return above and below


@dataclass(frozen=True, slots=True)
class Reference:
    """A grade and the percentage of surface its reference picture shows."""

    grade: int
    percent: Number


@dataclass(frozen=True, slots=True)
class CutRow:
    """One row of a table of adhesion tests: films over `over` up to `up_to` µm (None: no end).

    `base` limits the row to films on a "hard" base (metal, plastic) or a "soft" one; None: any.
    `cuts` and `spacing_mm` are None for an X-cut. `smooth_only` bars textured films.
    """

    method: str
    base: Literal["hard", "soft"] | None
    over: Number
    up_to: Number | None
    cuts: int | None
    spacing_mm: Number | None
    smooth_only: bool


def graded(share: Number, *, bands: Sequence[Band], shared: Literal["better", "worse"]) -> Grade:
    """The grade of a percentage of surface affected.

    Serves ASTM D610 (rust), and ISO 2409 and ASTM D3359 method B (area lost in the lattice).
    Raises ReckoningError for a share outside 0 to 100, or one no band takes in.
    """
    if shared not in ("better", "worse"):
        raise ReckoningError(f"A shared boundary goes to the better or the worse, not {shared!r}.")
    area = percent("the share of surface", share, "estimate it on the panel.")
    fitting = [band.grade for band in bands if band.holds(area)]
    if not fitting:
        raise ReckoningError(f"The table has no grade for {show(area)} %; correct the table.")
    return fitting[0] if shared == "better" else fitting[-1]


def rated_by_reference(share: Number, *, references: Sequence[Reference]) -> int:
    """The mildest rating whose reference picture shows at least this share; else the worst.

    Serves ISO 4628-3 (rust) and ISO 4628-5 (flaking), where a surface between two pictures gets
    the worse one here. Raises ReckoningError for a share outside 0 to 100 or an empty table.
    """
    area = percent("the share of surface", share, "estimate it on the panel.")
    if not references:
        raise ReckoningError("The table of reference pictures is empty; correct the table.")
    rising = sorted(references, key=lambda reference: reference.grade)
    for reference in rising:
        if area <= percent("a reference percentage", reference.percent, "correct the table."):
            return reference.grade
    return rising[-1].grade


def rust_grade(
    share: Number,
    *,
    distribution: str | None,
    bands: Sequence[Band],
    without_letter: Sequence[int],
    letters: Mapping[str, str],
) -> str:
    """A rust grade with its distribution letter, as in "3-S" (ASTM D610).

    `letters` maps each letter to its name; grades in `without_letter` carry none. Rust stains are
    not rust and are left out of `share`. Raises ReckoningError where the letter is missing or
    unknown.
    """
    grade = graded(share, bands=bands, shared="worse")
    if grade in without_letter:
        return str(grade)
    if distribution not in letters:
        known = ", ".join(f"{letter} ({name})" for letter, name in letters.items())
        found = "" if distribution is None else f", not {distribution!r}"
        raise ReckoningError(f"Say how the rust is spread, one of {known}{found}.")
    return f"{grade}-{distribution}"


def corresponding(grade: Grade, *, pairs: Sequence[tuple[Grade, Grade]]) -> Grade:
    """The grade that stands beside `grade` in a table of pairs; turn the pairs to go back.

    Serves ASTM D3359 method B to ISO 2409, whose scales run opposite ways, and ASTM D714 to
    ISO 4628-2. Raises ReckoningError for a grade the table lacks, such as a half grade.
    """
    for given, wanted in pairs:
        if given == grade and type(given) is type(grade):
            return wanted
    known = ", ".join(str(given) for given, _ in pairs)
    raise ReckoningError(f"{grade!r} has no counterpart; the grades here are {known}.")


def turned(pairs: Sequence[tuple[Grade, Grade]]) -> list[tuple[Grade, Grade]]:
    """The same pairs the other way round. Raises ReckoningError where a way back is ambiguous."""
    back = [(wanted, given) for given, wanted in pairs]
    if len({wanted for wanted, _ in back}) != len(back):
        raise ReckoningError("Several grades share a counterpart, so there is no one way back.")
    return back


def blister_rating(
    size: int,
    frequency: str | None,
    *,
    sizes: Sequence[tuple[Grade, Grade]],
    frequencies: Sequence[tuple[Grade, Grade]],
    none_size: int,
) -> str:
    """An ASTM D714 blister rating as ISO 4628-2 writes it: density and size, as in "3(S4)".

    `none_size` is the size that means no blisters and carries no frequency. Raises ReckoningError
    for a size or frequency the tables lack.
    """
    if size == none_size:
        if frequency is not None:
            raise ReckoningError(f"Size {none_size} means no blisters and takes no frequency.")
        return "0(S0)"
    if frequency is None:
        raise ReckoningError("Say how frequent the blisters are, by the pictures of ASTM D714.")
    density = corresponding(frequency, pairs=frequencies)
    return f"{density}(S{corresponding(size, pairs=sizes)})"


def adhesion_test(
    film_um: Number,
    *,
    base: Literal["hard", "soft"] | None,
    textured: bool,
    rows: Sequence[CutRow],
    unit: str = "um",
) -> CutRow:
    """The adhesion test that suits a measured film, of one standard's table.

    Serves ASTM D3359 and ISO 2409. The test destroys the film: it belongs where metal is going to
    be laid bare anyway. Raises ReckoningError for a textured or too thick film the table bars, or
    where the table needs to know whether the base is hard or soft, worded in `unit`.
    """
    film = not_negative("the film", film_um, "survey it.")
    fitting = [row for row in rows if _covers(row, film)]
    if not fitting:
        raise ReckoningError(
            f"No cut test of this table suits a film of "
            f"{written(film, Kind.THICKNESS, unit)}; use a pull-off test."
        )
    if textured:
        fitting = [row for row in fitting if not row.smooth_only]
        if not fitting:
            raise ReckoningError(
                "The cut tests of this table do not suit a textured film; use a pull-off test."
            )
    suited = [row for row in fitting if row.base in (None, base)]
    if not suited:
        raise ReckoningError(
            f"How a film of {written(film, Kind.THICKNESS, unit)} is cut depends on its base; "
            "say whether that is hard (metal, plastic) or soft."
        )
    return suited[0]


def _covers(row: CutRow, film: Number) -> bool:
    over = not_negative("a film in the table of tests", row.over, "correct the table.")
    if film < over or (film == over and over != 0):
        return False
    if row.up_to is None:
        return True
    return film <= not_negative("a film in the table of tests", row.up_to, "correct the table.")
