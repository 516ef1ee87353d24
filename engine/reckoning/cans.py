"""Rounding a volume up to whole cans."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, positive
from engine.records import dataclass

# Enough for any shop's order; past it the sizes share no sensible measure and a search would hang.
_MOST_VOLUMES = 200_000


@dataclass(frozen=True, slots=True)
class Cans:
    """What to buy: how many of each size (largest first), in all, and what stays over, in L."""

    counts: Mapping[Fraction, int]
    bought_L: Fraction
    left_over_L: Fraction

    @property
    def number(self) -> int:
        return sum(self.counts.values())


def cans_for(need_L: Number, *, can_sizes_L: Sequence[Number]) -> Cans:
    """The whole cans that cover `need_L` with least left over, then with fewest cans.

    Exact: every reachable volume below the need is tried. Raises ReckoningError without can sizes
    or when the sizes combine to too many volumes to search.
    """
    need = positive("need_L", need_L, "take it from the practical litres")
    sizes = sorted(
        {positive("can_sizes_L", size, "take the sizes from the product") for size in can_sizes_L},
        reverse=True,
    )
    if not sizes:
        raise ReckoningError("can_sizes_L is empty; list the sizes the product is sold in")
    scale = math.lcm(need.denominator, *(size.denominator for size in sizes))
    steps = _fewest_steps(int(need * scale), [int(size * scale) for size in sizes])
    best = min(total for total in steps if total >= need * scale)
    counts: dict[Fraction, int] = {}
    at = best
    while at:
        size = Fraction(steps[at], scale)
        counts[size] = counts.get(size, 0) + 1
        at -= steps[at]
    bought = Fraction(best, scale)
    ordered = {size: counts[size] for size in sizes if size in counts}
    return Cans(MappingProxyType(ordered), bought, bought - need)


def _fewest_steps(need: int, sizes: list[int]) -> dict[int, int]:
    """For each reachable total the size that reached it last, by the fewest cans.

    Adding one can per round finds every total by its fewest cans first. Totals at or past the
    need are not extended: the least total past the need, less any one of its cans, is below it.
    """
    steps: dict[int, int] = {0: 0}
    frontier = [0]
    while frontier:
        reached: list[int] = []
        for total in frontier:
            for size in sizes:
                if total + size not in steps:
                    steps[total + size] = size
                    if total + size < need:
                        reached.append(total + size)
        if len(steps) > _MOST_VOLUMES:
            raise ReckoningError(
                "the can sizes combine to too many volumes to search; leave out the smallest size "
                "or split the order"
            )
        frontier = reached
    return steps
