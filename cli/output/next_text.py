"""What may be done now, what stands in the way of the rest, and how much comes after that."""

from __future__ import annotations

from collections.abc import Sequence

from cli.output.page import Page
from cli.output.plan_calendar import titled
from cli.output.plan_words import counted, lasting, tasks_numbered
from cli.output.style import Style
from engine.decision import Decision
from engine.plan import Plan, PlannedTask
from engine.plan.next import Because, Blocked
from engine.ruleset.model import HoldTopic
from engine.words import language_note, say

_FIRST = 6
"""So many tasks next in line are named; the rest are counted."""


def next_text(plan: Plan, decision: Decision, style: Style) -> str:
    """What may be done now and the first things that stop the rest."""
    page = _NextPage(plan, decision, style)
    page.write()
    return page.text()


class _NextPage(Page):
    def __init__(self, plan: Plan, decision: Decision, style: Style) -> None:
        super().__init__(style)
        self._plan = plan
        self._decision = decision
        self._tasks = {planned.key: planned for planned in plan.tasks}
        self._ready = {ready.task for ready in plan.next.ready}
        within_reach = [each for each in plan.next.blocked if self._within_reach(each)]
        self._stopped = [each for each in within_reach if not _waits_for_work_alone(each)]
        self._in_line = [each for each in within_reach if _waits_for_work_alone(each)]
        self._later = [each for each in plan.next.blocked if each not in within_reach]

    def write(self) -> None:
        ready = len(self._ready)
        state = (
            say("{ready} may be done now", ready=counted(ready, "task"))
            if ready
            else say("nothing may be done now")
        )
        if not self._plan.tasks:
            state = say("all work is done") if self._plan.done else say("no work is due")
        self.heading(say("Job {job}: {state}", job=self._decision.job, state=state))
        self._write_ready()
        self._write_stopped()
        self._write_in_line()
        self._write_later()
        self._write_undecided()
        note = language_note()
        if note:
            self.blank()
            self.paragraph(note, dress=self.style.faint)

    def _within_reach(self, blocked: Blocked) -> bool:
        """Whether the only work in its way may be done now."""
        return all(by.names in self._ready for by in blocked.by if by.kind is Because.TASK)

    # --- now ----------------------------------------------------------------------------------

    def _write_ready(self) -> None:
        for ready in self._plan.next.ready:
            planned = self._tasks[ready.task]
            self.item(f"{titled(self._plan, planned)}{_effort(planned)}", f"{planned.number}.")
            for condition in ready.provided:
                self.item(say("provided {condition}", condition=condition), indent=4)

    # --- in the way ---------------------------------------------------------------------------

    def _write_stopped(self) -> None:
        """Holds, waits and windows that stop work which is otherwise within reach."""
        if not self._stopped:
            return
        self.heading(say("In the way"))
        for topic, subjects, stopped in self._holds():
            where = self._plan.setting.called(subjects)
            self.item(
                say(
                    "Hold, {title} ({where}): {release}",
                    title=topic.title,
                    where=where,
                    release=topic.release,
                ),
                self._sign(),
            )
            self.paragraph(say("It stops {named}.", named=self._named(stopped)), indent=3)
        told: dict[str, list[PlannedTask]] = {}
        for blocked in self._stopped:
            for by in blocked.by:
                if by.kind in (Because.WAIT, Because.WINDOW):
                    told.setdefault(by.text, []).append(self._tasks[blocked.task])
        for text, stopped in told.items():
            self.item(text, self._sign())
            self.paragraph(say("It stops {named}.", named=self._named(stopped)), indent=3)

    def _holds(self) -> list[tuple[HoldTopic, list[str | None], list[PlannedTask]]]:
        found: dict[str, tuple[HoldTopic, dict[str | None, None], list[PlannedTask]]] = {}
        for blocked in self._stopped:
            planned = self._tasks[blocked.task]
            for hold in planned.holds:
                if hold.released:
                    continue
                _, subjects, stopped = found.setdefault(hold.topic.id, (hold.topic, {}, []))
                subjects.update(dict.fromkeys(hold.open_for))
                stopped.append(planned)
        return [(topic, list(subjects), stopped) for topic, subjects, stopped in found.values()]

    def _named(self, stopped: Sequence[PlannedTask]) -> str:
        """Tasks in words: the first of them by name, more by number."""
        first, *more = stopped
        text = say("task {number}, {titled}", number=first.number, titled=titled(self._plan, first))
        if not more:
            return text
        others = tasks_numbered([planned.number for planned in more])
        return say("{text}, and {tasks}", text=text, tasks=others)

    def _sign(self) -> str:
        return "-" if self.style.plain else "!"

    # --- after that ---------------------------------------------------------------------------

    def _write_in_line(self) -> None:
        if not self._in_line:
            return
        self.heading(say("Next in line"))
        for blocked in self._in_line[:_FIRST]:
            planned = self._tasks[blocked.task]
            before = [self._tasks[by.names].number for by in blocked.by]
            after = say("after {tasks}", tasks=tasks_numbered(sorted(before)))
            self.item(f"{titled(self._plan, planned)}: {after}", f"{planned.number}.")
        more = len(self._in_line) - _FIRST
        if more > 0:
            self.paragraph(say("And {more} more after what may be done now.", more=more), indent=1)

    def _write_later(self) -> None:
        if not self._later:
            return
        self.blank()
        later = len(self._later)
        if later == 1:
            text = say("1 more task comes after other work.")
        else:
            text = say("{count} more tasks come after other work.", count=later)
        self.paragraph(text + self._held_later())

    def _held_later(self) -> str:
        held = [
            (self._tasks[each.task], hold)
            for each in self._later
            for hold in self._tasks[each.task].holds
            if not hold.released
        ]
        if not held:
            return ""
        planned, hold = held[0]
        tasks = counted(len({planned.number for planned, _ in held}), "of them is", "of them are")
        where = self._plan.setting.called(hold.open_for)
        return say(
            " {tasks} held as well, first task {number}, {titled}, by {title} ({where}): {release}",
            tasks=tasks,
            number=planned.number,
            titled=titled(self._plan, planned),
            title=hold.topic.title,
            where=where,
            release=hold.topic.release,
        )

    def _write_undecided(self) -> None:
        undecided = [
            name for name, panel in self._decision.panels.items() if panel.treatment is None
        ]
        if undecided:
            self.blank()
            where = self._plan.setting.called(undecided)
            asked = counted(len(self._decision.open_questions), "open question")
            self.paragraph(
                say(
                    "Still undecided: {where}. {asked} may bring more work.",
                    where=where,
                    asked=asked,
                ),
                dress=self.style.warning,
            )


def _waits_for_work_alone(blocked: Blocked) -> bool:
    return all(by.kind is Because.TASK for by in blocked.by)


def _effort(planned: PlannedTask) -> str:
    hands_on = planned.times.hands_on
    time = f": {lasting(hands_on)}" if hands_on else ""
    people = f", {counted(planned.times.people, 'person', 'people')}" if time else ""
    return f"{time}{people}"
