"""Which task comes after which, and one order in which all can be done.

On every panel a lower phase comes first, and a task of the car stands between the panels' lower
and higher phases. Inside a phase `needs` and `before` decide. Ties keep the order of phase, rule
set and panels, so the same job always gives the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from heapq import heappop, heappush
from itertools import pairwise

from engine.errors import Problem, RuleSetError
from engine.plan.merge import Task
from engine.ruleset.link_work import told_before
from engine.ruleset.model import RuleSet, Step

After = Mapping[str, tuple[str, ...]]
"""For each task, by key, tasks that come before it."""


def prerequisites(tasks: Sequence[Task], steps: Iterable[Step]) -> After:
    """What each task waits for; some of it may follow from the rest.

    Within a phase a step that is not due still hands on its order: where it needs one and is
    needed by another, the one comes before the other.
    """
    found: dict[str, dict[str, None]] = {task.key: {} for task in tasks}
    for around in _subjects(tasks):
        for lower, higher in _neighbours(around):
            for later in higher:
                found[later.key].update(dict.fromkeys(task.key for task in lower))
    earlier = _closed(told_before(steps))
    of_phase: dict[int, list[Task]] = {}
    for task in tasks:
        of_phase.setdefault(task.step.phase, []).append(task)
    for task in tasks:
        for other in of_phase[task.step.phase]:
            first = other.step.id in earlier[task.step.id] and other is not task
            if first and task.meets(other):
                found[task.key].setdefault(other.key)
    return {key: tuple(before) for key, before in found.items()}


def _subjects(tasks: Sequence[Task]) -> Iterable[list[Task]]:
    """For the car and each panel the tasks that touch it."""
    panels = dict.fromkeys(panel for task in tasks for panel in task.panels)
    yield [task for task in tasks if not task.panels]
    for panel in panels:
        yield [task for task in tasks if not task.panels or panel in task.panels]


def _neighbours(tasks: list[Task]) -> Iterable[tuple[list[Task], list[Task]]]:
    """The tasks of each phase with those of the next phase there is."""
    phases = sorted({task.step.phase for task in tasks})
    by_phase = {phase: [t for t in tasks if t.step.phase == phase] for phase in phases}
    for lower, higher in pairwise(phases):
        yield by_phase[lower], by_phase[higher]


def _closed(before: Mapping[str, frozenset[str]]) -> dict[str, frozenset[str]]:
    """Everything that comes before each step, also by way of others."""
    found: dict[str, frozenset[str]] = {}
    for start in before:
        reached: set[str] = set()
        waiting = list(before[start])
        while waiting:
            step = waiting.pop()
            if step not in reached:
                reached.add(step)
                waiting.extend(before[step])
        found[start] = frozenset(reached)
    return found


def in_order(tasks: Sequence[Task], after: After, ruleset: RuleSet) -> tuple[Task, ...]:
    """The tasks in an order in which they can be done.

    Raises RuleSetError naming the steps where they wait for each other in a circle.
    """
    by_key = {task.key: task for task in tasks}
    steps = {step: rank for rank, step in enumerate(ruleset.steps)}
    rank = {
        task.key: (task.step.phase, steps[task.step.id], place) for place, task in enumerate(tasks)
    }
    sorter: TopologicalSorter[str] = TopologicalSorter(after)
    try:
        sorter.prepare()
    except CycleError as error:
        raise _circle([by_key[key] for key in reversed(error.args[1])]) from None
    ready: list[tuple[tuple[int, int, int], str]] = []
    found: list[Task] = []
    while sorter.is_active():
        for key in sorter.get_ready():
            heappush(ready, (rank[key], key))
        _, key = heappop(ready)
        found.append(by_key[key])
        sorter.done(key)
    return tuple(found)


def direct(tasks: Sequence[Task], after: After) -> After:
    """`after` without what follows from the rest of it, for tasks in working order."""
    above: dict[str, frozenset[str]] = {}
    found: dict[str, tuple[str, ...]] = {}
    for task in tasks:
        before = after[task.key]
        implied = frozenset().union(*(above[key] for key in before))
        found[task.key] = tuple(key for key in before if key not in implied)
        above[task.key] = implied.union(before)
    return found


def _circle(around: list[Task]) -> RuleSetError:
    hops = [f"`{task.step.id}` comes after `{before.step.id}`" for task, before in pairwise(around)]
    return RuleSetError(
        Problem(
            "steps-in-a-circle",
            f"these steps wait for each other in a circle: {', '.join(hops)}",
            around[0].step.place,
            "Take one `needs` or `before` of the circle out.",
        )
    )
