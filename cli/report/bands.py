"""Bands of film thickness between the limits of the rule set, each with a pattern of its own."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from cli.output.plan_words import either
from engine.plan.setting import Setting
from engine.quantity import Kind
from engine.ruleset.model import RuleSet
from engine.words import say

FILM = "film.typical"
FILM_READINGS = "film.readings"
FILM_LIMITS = ("film.thin-below", "film.factory-high", "film.sign-off-from", "film.overcoat-limit")
BUILD_LIMIT = "film.overcoat-limit"

# From the lightest to the heaviest; a page knows how to draw each.
PATTERNS = ("plain", "dots", "lines", "hatch", "cross")


@dataclass(frozen=True, slots=True)
class LimitLine:
    """A limit to draw; `amount` in the base unit of its kind."""

    id: str
    amount: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Band:
    """Film up to and including `most`, which is None for the last band."""

    most: Fraction | None
    text: str
    pattern: str


def limit_lines(
    ruleset: RuleSet, setting: Setting, names: Iterable[str], kind: Kind = Kind.THICKNESS
) -> tuple[LimitLine, ...]:
    """Those of the named limits that the rule set has, lowest first, shown as `kind` is."""
    found = [ruleset.limits[name] for name in names if name in ruleset.limits]
    return tuple(
        LimitLine(limit.id, limit.amount, setting.amount(limit.amount, kind))
        for limit in sorted(found, key=lambda limit: limit.amount)
        if limit.amount > 0
    )


def film_bands(limits: Iterable[LimitLine]) -> tuple[Band, ...]:
    """The bands that limits part, thinnest first; the one above every limit is drawn heaviest."""
    by_amount = {limit.amount: limit.text for limit in limits}
    edges = sorted(by_amount)
    if not edges:
        return (Band(None, say("any film"), PATTERNS[0]),)
    patterns = _patterns(len(edges) + 1)
    bands = [Band(edges[0], say("up to {by_amount}", by_amount=by_amount[edges[0]]), patterns[0])]
    bands += [
        Band(
            high,
            say("over {either}", either=either(by_amount[low], by_amount[high])),
            patterns[number],
        )
        for number, (low, high) in enumerate(pairwise(edges), 1)
    ]
    return (
        *bands,
        Band(None, say("over {by_amount}", by_amount=by_amount[edges[-1]]), patterns[-1]),
    )


def _patterns(count: int) -> list[str]:
    """So many patterns, each heavier than the one before, the heaviest last."""
    return [PATTERNS[round(each * (len(PATTERNS) - 1) / (count - 1))] for each in range(count)]


def band_of(film: Fraction, bands: tuple[Band, ...]) -> Band:
    """The band a film lies in; at a limit it is the one below, since rules ask for more than it."""
    edges = [band.most for band in bands if band.most is not None]
    return bands[bisect_left(edges, film)]


def thickness(setting: Setting, amount: Fraction) -> str:
    """A thickness in um, in the units of the region."""
    return setting.amount(amount, Kind.THICKNESS)
