"""How long each task takes: hands on, standing by between coats, and waiting afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from engine.errors import ReckoningError
from engine.plan.amounts import over_panels
from engine.plan.drying import Waits
from engine.plan.merge import Task
from engine.plan.setting import Setting
from engine.records import dataclass
from engine.ruleset.work import NOTHING, Dryness, Labour, ProductUse, Rates, Span
from engine.words import say, sentence


@dataclass(frozen=True, slots=True)
class Times:
    """The times of a task in h; None where one could not be reckoned.

    People are there while hands are on and while they stand by for a coat to flash; nobody is
    needed while the work waits.
    """

    hands_on: Span | None
    standing_by: Span | None
    waiting: Span | None
    people: int

    @property
    def attended(self) -> Span | None:
        """How long people are there."""
        if self.hands_on is None or self.standing_by is None:
            return None
        return self.hands_on + self.standing_by

    @property
    def person_hours(self) -> Span | None:
        """What is paid for: the attended time of everybody it takes."""
        attended = self.attended
        return None if attended is None else attended.times(self.people)


@dataclass(frozen=True, slots=True)
class HoursInAll:
    """The hours of a whole plan; sums over what could be reckoned, with what could not."""

    hands_on: Span
    standing_by: Span
    waiting: Span
    person_hours: Span
    left_out: tuple[str, ...]


class Hours:
    """Reckons the times of tasks for one job."""

    def __init__(self, setting: Setting, labour: Labour | None, waits: Waits) -> None:
        self._setting = setting
        self._labour = labour
        self._waits = waits

    def times(self, task: Task, used_so_far: Iterable[str]) -> Times:
        """The times of one task; what cannot be reckoned is noted and left open.

        `used_so_far` are the products put on by this task and those before it.
        """
        return Times(
            hands_on=self._hands_on(task),
            standing_by=self._standing_by(task),
            waiting=self._waiting(task, used_so_far),
            people=task.step.work.people,
        )

    def attended(self, task: Task) -> Span | None:
        """How long people are at a task; None where that cannot be reckoned."""
        hands_on, standing_by = self._hands_on(task), self._standing_by(task)
        return None if hands_on is None or standing_by is None else hands_on + standing_by

    def _hands_on(self, task: Task) -> Span | None:
        rates = self._rates(task)
        if rates is None:
            return None
        try:
            return over_panels(rates, self._counted(task), self._setting)
        except ReckoningError as error:
            self._lack(task, sentence("time"), error.format_message())
            return None

    def _counted(self, task: Task) -> Sequence[str]:
        """The panels its time runs over; the time of any step knows nothing of the whole car."""
        own = self._labour is not None and task.step.id in self._labour.times
        return self._setting.counted(task.panels) if own else task.panels

    def _rates(self, task: Task) -> Rates | None:
        if self._labour is None:
            self._lack(
                task, sentence("time"), say("the rule set has no labour.yaml; add the shop's times")
            )
            return None
        own = self._labour.times.get(task.step.id)
        if own is not None:
            return own
        if self._labour.otherwise is None:
            self._lack(
                task,
                sentence("time"),
                say("labour.yaml gives no time for `{id}`; put the shop's in", id=task.step.id),
            )
        else:
            self._setting.notes.assume(
                task.step.title,
                say("takes what labour.yaml says of steps without a time of their own"),
                say("put the shop's time for `{id}` into labour.yaml", id=task.step.id),
            )
        return self._labour.otherwise

    def _standing_by(self, task: Task) -> Span | None:
        total = NOTHING
        for use in coats_of(task):
            flashes = (use.coats or 1) - 1
            if not flashes:
                continue
            product = self._setting.ruleset.products[use.product]
            try:
                total += Span.exactly(self._waits.time(product, Dryness.FLASH)).times(flashes)
            except ReckoningError as error:
                self._lack(task, sentence("time between coats"), error.format_message())
                return None
        return total

    def _waiting(self, task: Task, used_so_far: Iterable[str]) -> Span | None:
        work = task.step.work
        if work.waits is not None:
            return work.waits
        if work.waits_for is None:
            return NOTHING
        try:
            return self._waits.wait(work.waits_for, used_so_far)
        except ReckoningError as error:
            self._lack(task, sentence("waiting time"), error.format_message())
            return None

    def _lack(self, task: Task, what: str, why: str) -> None:
        self._setting.notes.lack(self._setting.work(task.step.title, task.panels), what, why)


def coats_of(task: Task) -> tuple[ProductUse, ...]:
    """The products a task puts on as a film."""
    return tuple(use for use in task.step.work.products if use.as_film)


def total_hours(times: Sequence[tuple[Task, Times]]) -> HoursInAll:
    """The hours of a whole plan."""
    hands_on = standing_by = waiting = person_hours = NOTHING
    left_out: list[str] = []
    for task, each in times:
        paid = each.person_hours
        if paid is None or each.hands_on is None or each.standing_by is None:
            left_out.append(task.key)
            continue
        hands_on += each.hands_on
        standing_by += each.standing_by
        person_hours += paid
        if each.waiting is None:
            left_out.append(task.key)
        else:
            waiting += each.waiting
    return HoursInAll(hands_on, standing_by, waiting, person_hours, tuple(left_out))
