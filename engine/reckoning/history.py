"""What a film survey says of a panel's past.

There is no thickness that proves a factory finish: the pattern within the panel and the other
panels of the same car (`engine.reckoning.reckoners.panels`) weigh more than any table. Lengths in
micrometres.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, not_negative, positive, show, whole
from engine.reckoning.outliers import TwoGroups, odd_spots, two_groups
from engine.reckoning.survey import Survey
from engine.records import dataclass

Kind = Literal["factory-like", "repainted", "mixed", "thin"]


@dataclass(frozen=True, slots=True)
class FilmHistory:
    """The kind of film and what it was told by.

    `odd_spots` are the places (from 0) of spots that stand apart; None where there were too few
    spots to test for them.
    """

    kind: Kind
    groups: TwoGroups
    odd_spots: tuple[int, ...] | None


def film_history(
    survey: Survey,
    *,
    thin_below: Number,
    factory_high: Number,
    spread_limit: Number,
    gap_limit: Number,
    gap_ratio: Number,
    alpha: Number,
    fewest_spots: int,
    fewest_for_odd: int,
    odd_percent: Number,
    odd_departure: Number,
) -> FilmHistory:
    """Name the kind of film a panel carries, uneven films first.

    'mixed' where the spots fall into two groups (`two_groups`) or some stand apart (`odd_spots`,
    made from `fewest_for_odd` spots up); else 'thin' where the typical film is below
    `thin_below`, 'repainted' where it is above `factory_high`, and 'factory-like' between, both
    ends in. Raises ReckoningError for fewer than `fewest_spots` spots, or a `thin_below` above
    `factory_high`.
    """
    fewest = max(2, whole("the fewest spots for a film history", fewest_spots, "see the rule set."))
    if survey.n < fewest:
        raise ReckoningError(
            f"It takes {fewest} spots to show how even the film is, and {survey.n} were read; "
            f"read {fewest - survey.n} more."
        )
    for_odd = whole("the fewest spots for the odd-spot test", fewest_for_odd, "see the rule set.")
    thin = not_negative("the limit of a thin film", thin_below, "see the rule set.")
    high = positive("the top of a factory film", factory_high, "see the rule set.")
    if thin > high:
        raise ReckoningError(
            f"The limit of a thin film, {show(thin)} µm, is above the top of a factory film, "
            f"{show(high)} µm; correct the limits."
        )

    groups = two_groups(
        survey.spots, spread_limit=spread_limit, gap_limit=gap_limit, gap_ratio=gap_ratio
    )
    odd: tuple[int, ...] | None = None
    if survey.n >= for_odd:
        odd = odd_spots(
            survey.spots,
            alpha=alpha,
            at_least=for_odd,
            at_most_percent=odd_percent,
            departure=odd_departure,
        )
    uneven = groups.divided or bool(odd)
    return FilmHistory("mixed" if uneven else _level(survey.typical, thin, high), groups, odd)


def _level(typical: Fraction, thin: Fraction, high: Fraction) -> Kind:
    if typical < thin:
        return "thin"
    return "repainted" if typical > high else "factory-like"
