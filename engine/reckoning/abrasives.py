"""Abrasive grades: reading them, comparing their grain, and stepping from coarse to fine.

Two scales share the same numbers: P grades (FEPA 43-1, ISO 6344) and CAMI grades (ANSI B74.18).
They agree in the coarse range and part above it, so a bare number is refused. Grain sizes come
from the rule set's table, in um; no scratch depth is reckoned from them, because none is published.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from enum import Enum
from fractions import Fraction
from itertools import pairwise
from typing import Literal, Protocol

from engine.errors import ReckoningError, did_you_mean
from engine.reckoning.inputs import Number, positive, show, whole
from engine.reckoning.tables import TableLike, pick
from engine.records import dataclass

_TABLE = "give it in the rule set's table of abrasives"
_LIMIT = "set it in the rule set's limits"


class Scale(Enum):
    """Which grading a number belongs to."""

    P = "P"
    CAMI = "CAMI"


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade by its scale and number; prints as P400 or CAMI 400."""

    scale: Scale
    number: int

    def __str__(self) -> str:
        return f"P{self.number}" if self.scale is Scale.P else f"CAMI {self.number}"


_NUMBER = r"(?P<number>[1-9]\d{0,4})"
_GRIT = r"(?:\s*-?\s*(?:grit|grade))?"
_P_GRADE = re.compile(rf"p\s*-?\s*{_NUMBER}{_GRIT}", re.IGNORECASE)
_CAMI_GRADE = re.compile(
    rf"(?:cami\s*-?\s*{_NUMBER}{_GRIT}|{_NUMBER.replace('number', 'leading')}{_GRIT}\s*cami)",
    re.IGNORECASE,
)
_BARE = re.compile(rf"{_NUMBER}{_GRIT}", re.IGNORECASE)


def parse_grade(text: str) -> Grade:
    """A grade from what people write: "P400", "p 400 grit", "CAMI 400", "400 grit CAMI".

    Raises ReckoningError for a bare number, which could be either scale, and for anything else.
    """
    wanted = text.strip() if isinstance(text, str) else ""
    if found := _P_GRADE.fullmatch(wanted):
        return Grade(Scale.P, int(found["number"]))
    if found := _CAMI_GRADE.fullmatch(wanted):
        return Grade(Scale.CAMI, int(found["number"] or found["leading"]))
    if found := _BARE.fullmatch(wanted):
        bare = found["number"]
        raise ReckoningError(
            f"the grade {wanted!r} could be P{bare} or CAMI {bare}, which are different papers; "
            f"look for a P on the back of the sheet and write P{bare} or CAMI {bare}"
        )
    raise ReckoningError(f"{text!r} is not an abrasive grade; write it as P400 or CAMI 400")


class Grades:
    """The grades of a table with their median grain in um."""

    def __init__(
        self, median_um: Mapping[Grade, Number], nearest_p: Mapping[Grade, Grade] | None = None
    ) -> None:
        """`median_um` by grade; `nearest_p` names the P grade near a grade without a median.

        Raises ReckoningError for an empty table, a P scale whose grain does not fall as the
        number rises, or a near grade that is not in the table.
        """
        self._median = {
            grade: positive(f"median grain of {grade}", size, _TABLE)
            for grade, size in median_um.items()
        }
        self._nearest = dict(nearest_p or {})
        ladder = sorted((g for g in self._median if g.scale is Scale.P), key=lambda g: g.number)
        if not ladder:
            raise ReckoningError(f"the table of abrasives holds no P grade; {_TABLE}")
        for coarse, fine in pairwise(ladder):
            if self._median[fine] >= self._median[coarse]:
                raise ReckoningError(
                    f"the table gives {fine} a grain of {show(self._median[fine])} um, not finer "
                    f"than {coarse} at {show(self._median[coarse])} um; one of them is wrong"
                )
        for grade, near in self._nearest.items():
            if near not in self._median:
                raise ReckoningError(f"{grade} is put near {near}, which the table does not hold")
        self.p_ladder: tuple[Grade, ...] = tuple(ladder)
        """Every P grade of the table, from coarse to fine: what steps are counted on."""
        self.offered: tuple[Grade, ...] = self.p_ladder
        """The grades a sequence may choose among, from coarse to fine."""

    def median_um(self, grade: Grade) -> Fraction:
        """Median grain in um, by the near P grade where the grade has none of its own.

        Raises ReckoningError for a grade the table does not hold.
        """
        found = self._median.get(grade)
        if found is not None:
            return found
        near = self._nearest.get(grade)
        if near is not None:
            return self._median[near]
        known = [str(held) for held in (*self._median, *self._nearest)]
        suggestion = did_you_mean(str(grade), known)
        raise ReckoningError(
            f"{grade} is not in the table of abrasives" + (f". {suggestion}" if suggestion else "")
        )

    def as_p(self, grade: Grade) -> Grade:
        """The P grade itself, the one the table puts it near, or the nearest by grain ratio."""
        size = self.median_um(grade)
        if grade.scale is Scale.P:
            return grade
        if grade in self._nearest:
            return self._nearest[grade]
        return min(self.p_ladder, key=lambda p: abs(math.log(self._median[p] / size)))

    def only(self, stocked: Iterable[Grade]) -> Grades:
        """The same table, of which only the grades a shop stocks are offered.

        Steps are still counted on all of it: a poor stock makes no step smaller. Raises
        ReckoningError for a grade the table does not hold.
        """
        narrowed = Grades(self._median, self._nearest)
        narrowed.offered = tuple(sorted(set(stocked), key=self.median_um, reverse=True))
        return narrowed


def grades_from_tables(p_table: TableLike, cami_table: TableLike | None) -> Grades:
    """Grades from the rule set's tables.

    The P table has the columns grade and median-um; the CAMI table grade and nearest-p.
    Raises ReckoningError naming what is wrong, a grade given twice included.
    """
    medians: dict[Grade, Number] = {}
    for text, size in pick(p_table, "P grades", "grade", "median-um"):
        _once(parse_grade(text), medians)
        medians[parse_grade(text)] = size
    nearest: dict[Grade, Grade] = {}
    for text, near in pick(cami_table, "CAMI grades", "grade", "nearest-p") if cami_table else ():
        _once(parse_grade(text), nearest)
        nearest[parse_grade(text)] = parse_grade(near)
    return Grades(medians, nearest)


def number_rule_from_table(table: TableLike) -> NumberRule:
    """The number rule from a table with the columns quantity and value.

    Raises ReckoningError naming a quantity that is missing.
    """
    rows = dict(pick(table, "the number rule", "quantity", "value"))
    wanted = "numbers-at-most", "coarse-up-to", "grades-when-fine"
    missing = [quantity for quantity in wanted if quantity not in rows]
    if missing:
        raise ReckoningError(f"the number rule lacks {', '.join(missing)}; {_TABLE}")
    return NumberRule(*(rows[quantity] for quantity in wanted))


def planned_by_numbers(table: TableLike) -> bool:
    """Whether a shop wants its plans stepped by the number rule instead of by grain."""
    rows = dict(pick(table, "the number rule", "quantity", "value"))
    return rows.get("in-the-plan") is True


def _once(grade: Grade, held: Mapping[Grade, object]) -> None:
    if grade in held:
        raise ReckoningError(f"the table gives {grade} twice; keep one row")


def grain_ratio(coarse: Grade, fine: Grade, grades: Grades) -> Fraction:
    """Median grain of the first over that of the second.

    Raises ReckoningError where the second is coarser: that is no step toward a finish.
    """
    before, after = grades.median_um(coarse), grades.median_um(fine)
    if after > before:
        raise ReckoningError(
            f"{fine} ({show(after)} um) is coarser than {coarse} ({show(before)} um); sand from "
            "coarse to fine"
        )
    return before / after


@dataclass(frozen=True, slots=True)
class Step:
    """One step from a grade to a finer one as a rule measures it, in what `of` counts."""

    taken: Fraction
    most: Fraction
    of: Literal["grain ratio", "numbers", "grades"]

    @property
    def ok(self) -> bool:
        """Whether it is small enough; on the limit it still is."""
        return self.taken <= self.most


class StepRule(Protocol):
    """What makes a step from one grade to the next small enough.

    `step` raises ReckoningError where the second grade is the coarser one.
    """

    def step(self, coarse: Grade, fine: Grade, grades: Grades) -> Step: ...

    def describe(self) -> str: ...


@dataclass(frozen=True, slots=True)
class RatioRule:
    """A step is small enough where the grain shrinks no more than `max_ratio` times."""

    max_ratio: Number

    def __post_init__(self) -> None:
        if positive("max_ratio", self.max_ratio, _LIMIT) <= 1:
            raise ReckoningError(
                f"max_ratio must be more than 1, not {show(self.max_ratio)}; {_LIMIT}"
            )

    def step(self, coarse: Grade, fine: Grade, grades: Grades) -> Step:
        limit = positive("max_ratio", self.max_ratio, _LIMIT)
        return Step(grain_ratio(coarse, fine, grades), limit, "grain ratio")

    def describe(self) -> str:
        return f"a grain ratio of at most {show(self.max_ratio)}"


@dataclass(frozen=True, slots=True)
class NumberRule:
    """A step is small enough by P number while coarse, by grades of the table once fine.

    From a grade up to and including `coarse_up_to` the number rises no more than
    `max_number_jump`; from a finer one the step is no more than `max_grades_when_fine` grades.
    """

    max_number_jump: int
    coarse_up_to: int
    max_grades_when_fine: int

    def __post_init__(self) -> None:
        whole("max_number_jump", self.max_number_jump, _LIMIT)
        whole("coarse_up_to", self.coarse_up_to, _LIMIT)
        whole("max_grades_when_fine", self.max_grades_when_fine, _LIMIT)

    def step(self, coarse: Grade, fine: Grade, grades: Grades) -> Step:
        grain_ratio(coarse, fine, grades)
        before, after = grades.as_p(coarse), grades.as_p(fine)
        if before.number <= self.coarse_up_to:
            jump = Fraction(after.number - before.number)
            return Step(jump, Fraction(self.max_number_jump), "numbers")
        ladder = grades.p_ladder
        passed = Fraction(ladder.index(after) - ladder.index(before))
        return Step(passed, Fraction(self.max_grades_when_fine), "grades")

    def describe(self) -> str:
        return (
            f"a jump of at most {self.max_number_jump} numbers up to P{self.coarse_up_to} and "
            f"{self.max_grades_when_fine} grades above"
        )


def furthest(start: Grade, grades: Grades, *, rule: StepRule) -> Grade | None:
    """The finest grade offered that one step reaches; None where none finer is near enough."""
    size = grades.median_um(start)
    finer = [grade for grade in grades.offered if grades.median_um(grade) < size]
    return next((each for each in reversed(finer) if rule.step(start, each, grades).ok), None)


def sequence(start: Grade, finish: Grade, grades: Grades, *, rule: StepRule) -> tuple[Grade, ...]:
    """Grades from start to finish, both included, never stepping further than the rule allows.

    Fewest grades first; among those the most even grain ratios (least sum of squared logarithms).
    Raises ReckoningError where finish is coarser than start, a grade is unknown, or the table has
    a gap the rule cannot step over.
    """
    grain_ratio(start, finish, grades)
    if start == finish:
        return (start,)
    first, last = grades.median_um(start), grades.median_um(finish)
    between = [each for each in grades.offered if last < grades.median_um(each) < first]
    nodes = [start, *between, finish]
    # Per node: steps taken, unevenness so far, where it was stepped from.
    best: dict[int, tuple[int, float, int]] = {0: (0, 0.0, 0)}
    for here in range(1, len(nodes)):
        options = [
            (best[back][0] + 1, best[back][1] + _unevenness(nodes[back], nodes[here], grades), back)
            for back in range(here)
            if back in best and rule.step(nodes[back], nodes[here], grades).ok
        ]
        if options:
            best[here] = min(options)
    at = len(nodes) - 1
    if at not in best:
        reached = nodes[max(best)]
        missing = nodes[max(best) + 1]
        raise ReckoningError(
            f"no way from {start} to {finish} by {rule.describe()}: after {reached} the next grade "
            f"to choose from is {missing}; add a grade between them or widen the limit"
        )
    chosen = [nodes[at]]
    while at:
        at = best[at][2]
        chosen.append(nodes[at])
    return tuple(reversed(chosen))


def _unevenness(coarse: Grade, fine: Grade, grades: Grades) -> float:
    return math.log(grain_ratio(coarse, fine, grades)) ** 2
