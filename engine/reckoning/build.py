"""How thick the film will be once the new coats are on, and what must come off before.

T = E - S + sum(N): existing film, less what is sanded off, plus the new coats (arithmetic; the
limits it is held against are common practice). Lengths in micrometres, results exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.quantity import Kind, show, show_against
from engine.reckoning.inputs import Number, not_negative, positive
from engine.records import dataclass

_SURVEY = "survey the film."
_SHEET = "see the coat's data sheet."


@dataclass(frozen=True, slots=True)
class EcoatGuard:
    """How far sanding may go before the factory e-coat is in reach.

    `floor` is the film at which machine sanding ends; `above` is what lies above it (negative:
    already below).
    """

    floor: Fraction
    above: Fraction

    @property
    def near(self) -> bool:
        return self.above <= 0


def new_film(coats: Sequence[Number]) -> Fraction:
    """The thickness of all new coats together; no coats make none."""
    return sum(
        (not_negative(f"new coat {i}", coat, _SHEET) for i, coat in enumerate(coats, 1)),
        Fraction(0),
    )


def forecast(
    existing: Number, coats: Sequence[Number], *, sanded: Number, unit: str = "um"
) -> Fraction:
    """T = E - S + sum(N). Raises ReckoningError, in `unit`, for more than there is."""
    film = not_negative("the existing film", existing, _SURVEY)
    off = not_negative("what is sanded off", sanded, "state how much sanding takes.")
    if off > film:
        raise ReckoningError(
            f"Sanding {show(off, Kind.THICKNESS, unit)} off a film of "
            f"{show(film, Kind.THICKNESS, unit)} goes through to the substrate; "
            "plan less sanding, or strip the panel."
        )
    return film - off + new_film(coats)


def forecast_partly_stripped(
    existing: Number, coats: Sequence[Number], *, undercoat: Number
) -> Fraction:
    """The film after a strip down to an `undercoat` that stays, and the new coats on it.

    A film thinner than the undercoat stays whole: a strip adds nothing.
    """
    film = not_negative("the existing film", existing, _SURVEY)
    kept = not_negative("the undercoat that stays", undercoat, "read it where it lies bare.")
    return min(film, kept) + new_film(coats)


def forecast_stripped(coats: Sequence[Number]) -> Fraction:
    """The film after a strip to the substrate: the new coats alone."""
    return new_film(coats)


def over_limit(total: Number, *, limit: Number) -> Fraction:
    """How far a film lies above its limit; 0 at the limit and below it."""
    film = not_negative("the film", total, _SURVEY)
    return max(Fraction(0), film - positive("the film limit", limit, "see the rule set."))


def must_come_off(
    existing: Number, coats: Sequence[Number], *, limit: Number, unit: str = "um"
) -> Fraction:
    """The least that must come off so that the new coats end at or under `limit`; 0 if none.

    Raises ReckoningError, worded in `unit`, where the new coats alone exceed the limit.
    """
    film = not_negative("the existing film", existing, _SURVEY)
    added, top = new_film(coats), positive("the film limit", limit, "see the rule set.")
    if added > top:
        made, most = show_against(added, top, Kind.THICKNESS, unit)
        raise ReckoningError(
            f"The new coats alone make {made}, over the limit of {most}; "
            "plan fewer or thinner coats."
        )
    return over_limit(film + added, limit=top)


def ecoat_guard(existing: Number, *, ecoat: Number, zinc: Number, margin: Number) -> EcoatGuard:
    """Whether the film is within `margin` of the e-coat (`zinc` lies under it and is read too).

    At the floor the e-coat is already near. Raises ReckoningError for a negative thickness.
    """
    film = not_negative("the existing film", existing, _SURVEY)
    how = "see the rule set."
    floor = (
        not_negative("the expected e-coat", ecoat, how)
        + not_negative("the zinc under it", zinc, how)
        + not_negative("the margin over the e-coat", margin, how)
    )
    return EcoatGuard(floor, film - floor)
