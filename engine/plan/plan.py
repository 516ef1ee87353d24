"""Makes the plan of a decided job: tasks in order, materials, hours, calendar, cost, what is next.

What is settled is planned; what is open is named. Nothing is reckoned from a value nobody gave:
an amount that lacks an input is left out and listed under `missing`, and what is taken for granted
stands under `assumptions`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from fractions import Fraction

from engine.decision import Decision
from engine.plan.calendar import Layout
from engine.plan.clock import on_one_clock
from engine.plan.cost import Cost, cost
from engine.plan.drying import Waits
from engine.plan.holds import HoldPoint, Holds
from engine.plan.hours import Hours, HoursInAll, Times, total_hours
from engine.plan.materials import Abrasive, Material, Materials, Used
from engine.plan.merge import Due, Progress, Task, dues, merge, parted
from engine.plan.next import Next, Outlook, next_up
from engine.plan.notes import Assumption, Conflict, Missing, Notes
from engine.plan.order import direct, in_order, prerequisites
from engine.plan.recoat import Recoats, Timed
from engine.plan.schedule import Schedule
from engine.plan.setting import Setting
from engine.plan.solvent import Solvent, solvent
from engine.plan.worktime import WorkTime
from engine.reckoning.mixing import Batches
from engine.records import dataclass
from engine.ruleset.model import RuleSet
from engine.ruleset.work import Gear, Labour
from engine.words import in_its_tongue, say, sentence


@dataclass(frozen=True, slots=True)
class PlannedTask:
    """One task with all that a crew needs to do it; `number` counts from 1 in working order."""

    number: int
    task: Task
    after: tuple[str, ...]
    holds: tuple[HoldPoint, ...]
    grits: tuple[str, ...]
    used: tuple[Used, ...]
    batches: Mapping[str, Batches]
    gear: tuple[Gear, ...]
    times: Times
    coats: tuple[Timed, ...]

    @property
    def key(self) -> str:
        return self.task.key


@dataclass(frozen=True, slots=True)
class Calendar:
    """The tasks on the shop's working hours, laid with the longest times reckoned.

    `at_best` lays the shortest times. Minutes in both count from midnight of the first day.
    """

    worktime: WorkTime
    layout: Layout
    at_best: Layout


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. `done` is what was due and is done; it is in no task any more."""

    tasks: tuple[PlannedTask, ...]
    done: tuple[Due, ...]
    materials: tuple[Material, ...]
    abrasives: tuple[Abrasive, ...]
    hours: HoursInAll
    cost: Cost
    calendar: Calendar | None
    next: Next
    assumptions: tuple[Assumption, ...]
    missing: tuple[Missing, ...]
    conflicts: tuple[Conflict, ...]
    labour: Labour | None
    setting: Setting
    solvent: Solvent | None

    def task(self, key: str) -> PlannedTask:
        """The task of that key. Raises KeyError where there is none."""
        return next(planned for planned in self.tasks if planned.key == key)


@in_its_tongue
def make_plan(
    ruleset: RuleSet,
    decision: Decision,
    *,
    labour: Labour | None = None,
    progress: Progress | None = None,
    start: datetime | None = None,
) -> Plan:
    """Plan a decided job.

    `labour` is the rule set's where none is given. `progress` is what is done and released
    already. The calendar begins at `start` (local time of the shop); without it, it begins on a
    Monday without a date. Raises RuleSetError where steps wait for each other in a circle and
    UsageError where times with and without a time zone are mixed.
    """
    told, begin = on_one_clock(progress or Progress.none(), start)
    return _Planner(ruleset, decision, labour or ruleset.labour, told, begin).plan()


class _Planner:
    def __init__(
        self,
        ruleset: RuleSet,
        decision: Decision,
        labour: Labour | None,
        progress: Progress,
        start: datetime | None,
    ) -> None:
        self._ruleset = ruleset
        self._decision = decision
        self._labour = labour
        self._progress = progress
        self._start = start
        self._notes = Notes()
        self._setting = Setting(ruleset, decision, self._notes)
        self._waits = Waits(self._setting)
        self._materials = Materials(self._setting)
        self._hours = Hours(self._setting, labour, self._waits)
        self._holds = Holds(ruleset, decision, progress)

    def plan(self) -> Plan:
        self._note_open_panels()
        due = dues(self._ruleset, self._decision)
        done = tuple(each for each in due if each.key in self._progress.done)
        tasks = merge((each for each in due if each.key not in self._progress.done), self._setting)
        tasks = self._in_days(tasks)
        after = prerequisites(tasks, self._ruleset.steps.values())
        tasks = in_order(tasks, after, self._ruleset)
        after = direct(tasks, after)
        recoats = Recoats(self._setting, self._waits, tasks, done)
        put_on = _products(done)
        planned: list[PlannedTask] = []
        for number, task in enumerate(tasks, 1):
            put_on |= _products((task,))
            coats = recoats.under(task)
            planned.append(self._planned(number, task, after[task.key], put_on, coats))
        self._note_coats_left_out((*tasks, *done))
        return self._whole(tuple(planned), done)

    def _in_days(self, tasks: Iterable[Task]) -> tuple[Task, ...]:
        """The tasks, those parted that have to end on one day and take longer than any."""
        if self._labour is None:
            return tuple(tasks)
        day = Fraction(WorkTime(self._labour, self._start).longest_day, 60)
        found: list[Task] = []
        for task in tasks:
            found += parted(task, self._hours.attended, day) if task.step.work.same_day else (task,)
        return tuple(found)

    def _planned(
        self,
        number: int,
        task: Task,
        after: Sequence[str],
        put_on: Mapping[str, None],
        coats: tuple[Timed, ...],
    ) -> PlannedTask:
        used = self._materials.used(task)
        times = self._hours.times(task, put_on)
        batches = {
            each.product.id: batches
            for each in used
            if (batches := self._materials.batches(each, times.attended)) is not None
        }
        return PlannedTask(
            number=number,
            task=task,
            after=tuple(after),
            holds=self._holds.before(task, after),
            grits=self._materials.grits(task),
            used=used,
            batches=batches,
            gear=self._gear(task),
            times=times,
            coats=coats,
        )

    def _whole(self, planned: tuple[PlannedTask, ...], done: tuple[Due, ...]) -> Plan:
        materials = self._materials.together([used for each in planned for used in each.used])
        abrasives = self._materials.abrasives((each.task, each.grits) for each in planned)
        hours = total_hours([(each.task, each.times) for each in planned])
        if self._labour is not None and self._labour.example:
            self._notes.assume(
                sentence("times"),
                say("times, rate and hours are the example figures that come with the rule set"),
                say("put the shop's own figures into labour.yaml and write `example: no`"),
            )
        in_all = cost(hours, self._labour, materials, self._notes)
        calendar = self._calendar(planned)
        coming = self._next(planned, done)
        return Plan(
            tasks=planned,
            done=done,
            materials=materials,
            abrasives=abrasives,
            hours=hours,
            cost=in_all,
            calendar=calendar,
            next=coming,
            assumptions=self._notes.assumptions,
            missing=self._notes.missing,
            conflicts=self._notes.conflicts,
            labour=self._labour,
            setting=self._setting,
            solvent=solvent(materials, self._setting),
        )

    def _note_open_panels(self) -> None:
        asked: dict[str, list[str]] = {}
        for question in self._decision.open_questions:
            asked.setdefault(question.panel or question.about, []).append(question.fact)
        for name, panel in self._decision.panels.items():
            if panel.treatment is None:
                facts = asked.get(name, [])
                tell = say("; tell {facts}", facts=", ".join(facts)) if facts else ""
                self._notes.lack(
                    name,
                    sentence("treatment"),
                    say("it is still open, so only settled work is planned{tell}", tell=tell),
                )

    def _note_coats_left_out(self, work: Sequence[Task | Due]) -> None:
        """Note films the decision counted on and no step puts on, and the other way round."""
        sprayed: dict[tuple[str, str], bool] = {}
        for each in work:
            for panel in each.panels if isinstance(each, Task) else (each.panel,):
                for use in each.step.work.products:
                    if use.as_film and panel is not None:
                        here = (panel, use.product)
                        whole = use.covers_all(self._decision.panels[panel].treatment)
                        sprayed[here] = sprayed.get(here, False) or whole
        for name in self._decision.panels:
            coats = self._setting.coats_on(name)
            for coat in coats:
                if (name, coat.product) not in sprayed:
                    title = self._ruleset.products[coat.product].title
                    self._notes.assume(
                        name,
                        say(
                            "the build counts on {written} of {title}, and no step puts it on",
                            written=coat.written,
                            title=title,
                        ),
                        say("see whether the panel needs it and which rule should ask for it"),
                    )
            counted = {coat.product for coat in coats}
            for (panel, product), whole in sprayed.items():
                if panel == name and whole and coats and product not in counted:
                    self._notes.assume(
                        name,
                        say(
                            "{title} goes on all over, and the build does not count it",
                            title=self._ruleset.products[product].title,
                        ),
                        say("put the coat into the paint system in products.yaml"),
                    )

    def _gear(self, task: Task) -> tuple[Gear, ...]:
        work = task.step.work
        named = dict.fromkeys(work.gear)
        for use in work.products:
            named.update(dict.fromkeys(self._ruleset.products[use.product].handling.gear))
        return tuple(self._ruleset.gear[name] for name in named)

    def _calendar(self, planned: tuple[PlannedTask, ...]) -> Calendar | None:
        if self._labour is None:
            self._notes.lack(
                "calendar",
                sentence("calendar"),
                say("the rule set has no labour.yaml; add the shop's hours"),
            )
            return None
        schedule = Schedule(self._setting, self._labour, self._progress, self._start)
        if self._start is None:
            self._notes.assume(
                sentence("calendar"),
                say("work begins on a Monday; days off are left out of account"),
                say("give the day on which work begins"),
            )  # fmt: skip
        if any(each.holds for each in planned):
            self._notes.assume(
                "calendar",
                say("every hold is released by the time the work reaches it"),
                say("release holds ahead of the work"),
            )
        if any(self._keeps_hands_off(each.task, planned) for each in planned):
            self._notes.assume(
                "calendar",
                say("nobody works on another panel while one is sprayed or dries in the booth"),
                say("parts that stand apart may be worked on meanwhile"),
            )
        longest = schedule.lay(planned, longest=True)
        schedule.note_conflicts(planned, longest)
        return Calendar(schedule.worktime, longest, schedule.lay(planned, longest=False))

    @staticmethod
    def _keeps_hands_off(task: Task, planned: tuple[PlannedTask, ...]) -> bool:
        """Whether a task in the booth leaves other panels of the plan without work meanwhile."""
        if not task.panels or task.step.work.booth is None:
            return False
        return any(not set(other.task.panels) <= set(task.panels) for other in planned)

    def _next(self, planned: tuple[PlannedTask, ...], done: tuple[Due, ...]) -> Next:
        outlooks = [Outlook(each.task, each.after, each.holds, each.coats) for each in planned]
        put_on = _products(done)
        # Notes on work that is done would only repeat what cannot be changed any more.
        quiet = Setting(self._ruleset, self._decision, Notes())
        hours = Hours(quiet, self._labour, Waits(quiet))
        times = {due: hours.times(_task_of(due), put_on) for due in done}
        return next_up(outlooks, times, self._progress, self._setting)


def _products(done: Sequence[Due | Task]) -> dict[str, None]:
    return {use.product: None for each in done for use in each.step.work.products}


def _task_of(due: Due) -> Task:
    return Task(due.step, () if due.panel is None else (due.panel,), due.rules)
