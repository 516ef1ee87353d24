"""Mixing two-pack paint and filler: by parts, by scale, by the percentage, within the pot life.

Volumes in L, masses in g, density in g/mL (the same number as kg/L), time in h. Mixed volumes are
taken as additive, which solvent blends are only nearly. Formulas are arithmetic from the ratio
printed on the product data sheet.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from enum import Enum
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import (
    Number,
    not_negative,
    percent,
    positive,
    positive_percent,
    show,
)
from engine.records import dataclass

_RATIO = "take the mixing ratio from the product data sheet"
_VOLUME = "give the ready-mixed volume wanted, in L"
_SHEET = "take it from the product data sheet"


class PercentOf(Enum):
    """What "2:1 + 10 %" takes its ten percent of; data sheets mean either."""

    WHOLE_MIX = "whole-mix"
    FIRST_PART = "first-part"


def mix_by_parts(volume_L: Number, parts: Mapping[str, Number]) -> dict[str, Fraction]:
    """Litres of each component in `volume_L` of mix; they sum to the volume exactly.

    Raises ReckoningError for an empty ratio or one whose parts are all zero.
    """
    volume = positive("volume_L", volume_L, _VOLUME)
    ratio = _ratio(parts)
    whole = sum(ratio.values())
    return {name: volume * part / whole for name, part in ratio.items()}


def add_percent(
    parts: Mapping[str, Number], *, name: str, percent: Number, of: PercentOf | None
) -> dict[str, Fraction]:
    """The ratio with `percent` more of a component `name` (a thinner, an additive).

    `of` must be chosen: `WHOLE_MIX` takes the percentage of all the parts so far, `FIRST_PART` of
    the first part alone. Raises ReckoningError where it is not, or where `name` is there already.
    """
    ratio = _ratio(parts)
    share = not_negative("percent", percent, _RATIO) / 100
    if name in ratio:
        raise ReckoningError(f"{name} is in the ratio already; give the addition another name")
    first = next(iter(ratio))
    if not isinstance(of, PercentOf):
        raise ReckoningError(
            f"+{show(100 * share)} % {name} can be taken of the whole mix "
            f"({show(share * sum(ratio.values()))} parts) or of {first} alone "
            f"({show(share * ratio[first])} parts); say which the product data sheet means"
        )
    base = ratio[first] if of is PercentOf.FIRST_PART else sum(ratio.values())
    return {**ratio, name: base * share}


def mixed_solids_percent(components: Iterable[tuple[Number, Number]]) -> Fraction:
    """Volume solids of the mix, percent, from (parts, volume solids percent) of each component."""
    parts = Fraction(0)
    solids = Fraction(0)
    for part, content in components:
        exact = not_negative("parts", part, _RATIO)
        parts += exact
        solids += exact * percent("volume_solids_percent", content, _SHEET)
    if parts == 0:
        raise ReckoningError(f"the mix has no parts; {_RATIO}")
    return solids / parts


@dataclass(frozen=True, slots=True)
class ScaleReading:
    """One pour on the scale: its own mass and what the scale shows after it, in g."""

    component: str
    mass_g: Fraction
    shown_g: Fraction


def scale_readings(
    volume_L: Number, parts: Mapping[str, Number], *, density_g_per_mL: Mapping[str, Number]
) -> tuple[ScaleReading, ...]:
    """Pours in the order of the ratio for mixing by scale from a ratio by volume.

    Raises ReckoningError naming a component without a density.
    """
    shown = Fraction(0)
    readings: list[ScaleReading] = []
    for name, litres in mix_by_parts(volume_L, parts).items():
        density = positive(f"density of {name}", density_g_per_mL.get(name), _SHEET)
        mass = litres * 1000 * density
        shown += mass
        readings.append(ScaleReading(name, mass, shown))
    return tuple(readings)


def hardener_mass_g(filler_g: Number, *, hardener_percent: Number) -> Fraction:
    """Grams of hardener for a mass of filler; the percentage is of the filler's mass."""
    filler = positive("filler_g", filler_g, "weigh the filler, in g")
    return filler * positive_percent("hardener_percent", hardener_percent, _SHEET) / 100


def hardener_percent(filler_g: Number, hardener_g: Number) -> Fraction:
    """Hardener as a percentage of the filler's mass."""
    filler = positive("filler_g", filler_g, "weigh the filler, in g")
    return 100 * not_negative("hardener_g", hardener_g, "weigh the hardener, in g") / filler


@dataclass(frozen=True, slots=True)
class Batches:
    """Equal batches, each sprayed out inside its usable pot life."""

    count: int
    volume_each_L: Fraction
    hours_each: Fraction
    most_per_batch_L: Fraction


def pot_life_batches(
    volume_L: Number,
    *,
    pot_life_h: Number,
    usable_percent: Number,
    application_rate_L_per_h: Number,
) -> Batches:
    """The fewest equal batches whose spraying each ends within the usable part of the pot life.

    `usable_percent` is the share of the pot life to plan on: mixing, straining and the way to the
    booth take the rest.
    """
    volume = positive("volume_L", volume_L, _VOLUME)
    usable = positive_percent(
        "usable_percent", usable_percent, "set the usable share of the pot life in the rule set"
    )
    hours = positive("pot_life_h", pot_life_h, _SHEET) * usable / 100
    rate = positive(
        "the litres sprayed in an hour",
        application_rate_L_per_h,
        "time a test pass and divide the litres by the hours",
    )
    most = hours * rate
    count = math.ceil(volume / most)
    each = volume / count
    return Batches(count, each, each / rate, most)


def _ratio(parts: Mapping[str, Number]) -> dict[str, Fraction]:
    ratio = {name: not_negative(f"part of {name}", part, _RATIO) for name, part in parts.items()}
    if not any(ratio.values()):
        raise ReckoningError(f"the mixing ratio has no parts; {_RATIO}")
    return ratio
