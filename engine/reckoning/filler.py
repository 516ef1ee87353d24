"""Body filler: how deep, how much, how many layers, how much hardener, how long to wait.

Depths in millimetres, areas in square metres, volumes in litres (1 m² x 1 mm is 1 L exactly),
masses in grams, times in minutes; results exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from engine.errors import ReckoningError
from engine.reckoning.averages import measured_all
from engine.reckoning.inputs import Number, not_negative, percent, positive, show

Shape = Literal["even", "dish", "valley", "cone"]

FILLED_SHARE: dict[Shape, Fraction] = {
    "even": Fraction(1),
    "dish": Fraction(1, 2),
    "valley": Fraction(1, 2),
    "cone": Fraction(1, 3),
}
"""Mean depth over peak depth: a slab, a paraboloid, a V-shaped trough, a cone (geometry)."""

_MEASURE = "measure the filler depth."


def deepest(depths_mm: Sequence[Number]) -> Fraction:
    """The deepest of the filler depths. Raises ReckoningError where none was measured."""
    return max(measured_all("filler depth", depths_mm, _MEASURE))


def rework_metal(depth_mm: Number, *, limit_mm: Number) -> bool:
    """Whether the depth is over `limit_mm`, so that the metal is worked instead; at it, not."""
    depth = not_negative("the filler depth", depth_mm, _MEASURE)
    return depth > positive("the filler limit", limit_mm, "see the rule set.")


def layers(depth_mm: Number, *, layer_limit_mm: Number) -> int:
    """The fewest layers, none thicker than `layer_limit_mm`, that reach the depth; 0 for none."""
    depth = not_negative("the filler depth", depth_mm, _MEASURE)
    thickest = positive("the thickest layer", layer_limit_mm, "see the filler's data sheet.")
    return math.ceil(depth / thickest)


def volume(
    area_m2: Number, *, depth_mm: Number, shape: Shape, sanded_away_percent: Number
) -> Fraction:
    """Litres of filler to apply over an area.

    `depth_mm` is the peak depth of a hollow of the given shape, or with the shape "even" the mean
    depth. `sanded_away_percent` of what is applied, below 100, is lost in shaping. Raises
    ReckoningError for another shape.
    """
    if shape not in FILLED_SHARE:
        raise ReckoningError(
            f"{shape!r} is no shape of hollow; give one of {', '.join(FILLED_SHARE)}."
        )
    area = not_negative("the filled area", area_m2, "measure it.")
    depth = not_negative("the filler depth", depth_mm, _MEASURE)
    lost = percent("the share sanded away", sanded_away_percent, "see the rule set.")
    if lost == 100:
        raise ReckoningError("The share sanded away is 100 %, which leaves no filler.")
    return area * depth * FILLED_SHARE[shape] / (1 - lost / 100)


def mass(volume_l: Number, *, density_g_per_ml: Number) -> Fraction:
    """Grams of filler for a volume in litres."""
    litres = not_negative("the filler volume", volume_l, "reckon it from area and depth.")
    density = positive("the filler's density", density_g_per_ml, "see its data sheet.")
    return litres * 1000 * density


def hardener(
    filler_g: Number, *, percent_by_mass: Number, least_percent: Number, most_percent: Number
) -> Fraction:
    """Grams of hardener for grams of filler.

    Raises ReckoningError for a share outside what the filler allows: too little stays soft, too
    much bleeds through the paint.
    """
    grams = not_negative("the filler mass", filler_g, "weigh it.")
    share = positive("the hardener share", percent_by_mass, "see the filler's data sheet.")
    least = positive("the least hardener share", least_percent, "see the filler's data sheet.")
    most = percent("the largest hardener share", most_percent, "see the filler's data sheet.")
    if not least <= share <= most:
        raise ReckoningError(
            f"{show(share)} % hardener is outside {show(least)} to {show(most)} %; "
            "see the filler's data sheet."
        )
    return grams * share / 100


def filling_minutes(layer_count: int, *, between_layers: Number, before_primer: Number) -> Fraction:
    """Waiting time from the first layer until primer: between layers, and after the last one."""
    count = not_negative("the number of layers", layer_count, "reckon it from the depth.")
    if count.denominator != 1:
        raise ReckoningError("The number of layers must be a whole number.")
    how = "see the filler's data sheet."
    between = not_negative("the wait between layers", between_layers, how)
    before = not_negative("the wait before primer", before_primer, how)
    return (count - 1) * between + before if count else Fraction(0)
