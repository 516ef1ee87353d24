"""Adding up rates over panels, and the amounts that cannot be added up."""

from __future__ import annotations

from collections.abc import Sequence

from engine.errors import ReckoningError
from engine.plan.setting import Setting
from engine.ruleset.work import Rates, Span
from engine.words import within


def over_panels(rates: Rates, panels: Sequence[str], setting: Setting) -> Span:
    """What rates come to once over these panels.

    Raises ReckoningError naming the panel and what is not known of it.
    """
    total = rates.fixed + rates.per_panel.times(len(panels))
    for panel in panels:
        if rates.by_area:
            area = setting.area(panel)
            if area is None:
                raise ReckoningError(f"the area of {panel} is not known; measure and tell it")
            total += rates.per_m2 * area
        for fact, each in rates.per_fact:
            count = setting.number(fact, panel)
            if count is None:
                title = within(setting.ruleset.facts[fact].title)
                raise ReckoningError(f"{title} on {panel}: not known; count and tell them")
            total += each.times(count)
    return total
