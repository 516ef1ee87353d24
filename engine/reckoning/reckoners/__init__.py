"""Reckoned facts: which told facts and limits each needs, and the calculation it hands them to.

The calculations live in the modules of `engine.reckoning` and take every number as a parameter;
here they are given the rule set's limits, tables and paint systems.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.errors import ReckoningError
from engine.reckoning.reckoners import air, build, condition, cure, filler, film, panels
from engine.reckoning.reckoners.base import Given, Reckoned, Reckoner, StillOpen

RECKONERS: Mapping[str, Reckoner] = {
    **film.RECKONERS,
    **panels.RECKONERS,
    **build.RECKONERS,
    **condition.RECKONERS,
    **filler.RECKONERS,
    **air.RECKONERS,
    **cure.RECKONERS,
}
"""Every reckoning a rule set may name, by the id it is named by."""

__all__ = ["RECKONERS", "Given", "Reckoned", "Reckoner", "ReckoningError", "StillOpen"]
