"""Work that a task has to follow in time: coats it goes over, and surfaces that do not keep."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.plan.drying import Waits, Window
from engine.plan.merge import Due, Subject, Task
from engine.plan.setting import Setting
from engine.records import dataclass
from engine.ruleset.model import Step
from engine.words import sentence


@dataclass(frozen=True, slots=True)
class Timed:
    """Earlier work on one panel and the window for what follows.

    `what` names it: the product put on, or the step. It is still to come in the task `key`, or
    done as `due`.
    """

    what: str
    panel: str
    window: Window
    key: str | None
    due: Due | None


_Windows = Callable[[Task, Step], Iterable[tuple[str, Window]]]


class Recoats:
    """Finds what tasks have to follow in time. `tasks` in working order, without what is done."""

    def __init__(
        self, setting: Setting, waits: Waits, tasks: Sequence[Task], done: Iterable[Due]
    ) -> None:
        self._setting = setting
        self._waits = waits
        self._tasks = tasks
        self._done: Mapping[tuple[str, Subject], Due] = {due.key: due for due in done}

    def under(self, task: Task) -> tuple[Timed, ...]:
        """The coats a task goes over, and the work it has to follow soon."""
        work = task.step.work
        found: list[Timed] = []
        if work.recoat is not None:
            for step in work.recoat.after:
                for panel in task.panels:
                    if not self._gone_over(step, panel, task):
                        found += self._each(task, step, panel, self._coats)
        if work.within is not None:
            window = Window(Fraction(0), work.within.time_h, work.within.otherwise)
            for step in work.within.after:
                for panel in task.panels:
                    found += self._each(task, step, panel, lambda _, step: [(step.title, window)])
        return tuple(found)

    def _each(self, task: Task, step: str, panel: str, windows: _Windows) -> Iterator[Timed]:
        for other in self._tasks:
            # What is done to the car is done to each of its panels.
            if other.step.id == step and (panel in other.panels or not other.panels):
                for what, window in windows(task, other.step):
                    yield Timed(what, panel, window, other.key, None)
        due = self._done.get((step, panel)) or self._done.get((step, None))
        if due is not None:
            for what, window in windows(task, due.step):
                yield Timed(what, panel, window, None, due)

    def _gone_over(self, step: str, panel: str, task: Task) -> bool:
        """Whether other work has gone over that coat before this task does."""
        for other in self._tasks:
            if other is task:
                break
            if panel in other.panels and _goes_over(other.step, step):
                return True
        return any(due.panel == panel and _goes_over(due.step, step) for due in self._done.values())

    def _coats(self, task: Task, step: Step) -> Iterator[tuple[str, Window]]:
        for use in step.work.products:
            product = self._setting.ruleset.products[use.product]
            if product.handling.drying is None and not use.as_film:
                continue
            try:
                window = self._waits.window(product)
            except ReckoningError as error:
                about = self._setting.work(task.step.title, task.panels)
                self._setting.notes.lack(about, sentence("recoat window"), error.format_message())
                continue
            if window is not None:
                yield product.title, window


def _goes_over(step: Step, earlier: str) -> bool:
    return step.work.recoat is not None and earlier in step.work.recoat.after
