"""Checks that the order of the steps holds together: what comes before what, and what holds."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING

from engine.ruleset.depends import cycles
from engine.ruleset.model import Step
from engine.ruleset.report import Report

if TYPE_CHECKING:
    from engine.ruleset.entries import Entries

Before = Mapping[str, frozenset[str]]
"""For each step the steps that `needs` and `before` put before it."""


def told_before(steps: Iterable[Step]) -> Before:
    """What `needs` and `before` say between them, of the steps given alone."""
    found: dict[str, set[str]] = {step.id: set() for step in steps}
    for step in steps:
        found[step.id].update(need for need in step.work.needs if need in found)
        for later in step.work.before:
            if later in found:
                found[later].add(step.id)
    return {id: frozenset(needs) for id, needs in found.items()}


def check_order(steps: Mapping[str, Step], report: Report) -> None:
    """No step needs one of a later phase, and none, over others, itself."""
    before = told_before(steps.values())
    for id, needs in before.items():
        for need in sorted(needs):
            if steps[need].phase > steps[id].phase:
                report.add(
                    "needs-a-later-phase",
                    f"`{need}` is to come before `{id}`, but stands in phase "
                    f"{steps[need].phase}, after phase {steps[id].phase}",
                    steps[id].place,
                    "Steps of a lower phase always come first; change one of the two phases.",
                )
    for cycle in cycles(
        {("step", id): [("step", n) for n in needs] for id, needs in before.items()}
    ):
        ids = [node[1] for node in cycle]
        first = min(range(len(ids)), key=lambda index: steps[ids[index]].place)
        around = ids[first:] + ids[:first]
        hops = [
            f"`{id}` comes after `{need}`"
            for id, need in zip(around, (*around[1:], around[0]), strict=True)
        ]
        report.add(
            "steps-in-a-circle",
            f"these steps wait for each other in a circle: {', '.join(hops)}",
            steps[around[0]].place,
            "Take one `needs` or `before` of the circle out.",
        )


def check_blocks(holds: Entries, steps: Collection[str], report: Report) -> None:
    """The steps that hold points block exist."""
    for entry in holds.values():
        for index, step in enumerate(entry.get("blocks") or ()):
            if step not in steps:
                report.unknown("step", step, steps, entry.place("blocks", index))
