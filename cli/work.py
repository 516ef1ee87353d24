"""A stored job with its plan: what is due, what blocks it, and recording work on it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from cli.jobs import check_known, is_file, open_store, panel_named
from engine.errors import UsageError, did_you_mean
from engine.plaintext import folded, printable, quoted
from engine.words import say

if TYPE_CHECKING:
    from engine.decision import Decision
    from engine.facts import JobFacts
    from engine.plan import Plan
    from engine.plan.merge import Due
    from engine.ruleset.model import HoldTopic, RuleSet
    from engine.trail import Draft, Entry, Store


_NUMBER = re.compile(r"(?:task |no\.? ?|#)?(\d{1,6})\.?", re.ASCII)


class Workbench:
    """One job of the store, as it was when it was opened.

    `append` raises JobChangedError where somebody else changed the job meanwhile.
    """

    def __init__(self, store: Store, job: str, ruleset: RuleSet) -> None:
        from engine.reasoning.decide import decide
        from engine.trail import job_facts
        from engine.trail.store import now
        from engine.trail.work import progress

        self.store, self.job, self.ruleset = store, job, ruleset
        with store.reading():
            self.facts: JobFacts = job_facts(store, job)
            self.progress = progress(store, job, now())
            self._last = store.last(job)
        check_known(self.facts, ruleset)
        self.decision = decide(ruleset, self.facts, ask=False)

    @classmethod
    @contextmanager
    def open(cls, job: str, path: Path | None, ruleset_folder: Path | None) -> Iterator[Workbench]:
        """Raises UsageError for a job file: work on it is recorded in the store alone."""
        from cli.consult import load

        if is_file(job):
            raise UsageError(
                say(
                    "work is recorded in the store, and {job} is a job file. Bring it "
                    "in with: prepwright decide {job2} --save",
                    job=quoted(job),
                    job2=printable(job),
                )
            )
        with open_store(path) as store:
            yield cls(store, job, load(ruleset_folder))

    @property
    def last(self) -> int:
        """The number of the last entry of the job that is known here."""
        return self._last

    def asked(self) -> Decision:
        """The decision with what is still to be asked, where a panel waits for that."""
        from engine.reasoning.decide import decide

        if self.decision.complete:
            return self.decision
        return decide(self.ruleset, self.facts)

    def plan(self) -> Plan:
        from engine.plan import make_plan

        return make_plan(self.ruleset, self.decision, progress=self.progress)

    def append(self, *drafts: Draft) -> tuple[Entry, ...]:
        added = self.store.append(*drafts, expected_last=self._last)
        self._last = added[-1].sequence
        return added

    def due(self, step: str, panel: str | None) -> list[Due]:
        """Work of that step that is due and not done, by id, title or the number of its task.

        Raises UsageError.
        """
        from engine.plan.merge import dues

        all_due = dues(self.ruleset, self.decision)
        wanted = folded(step)
        found = [due for due in all_due if wanted in (folded(due.step.id), folded(due.step.title))]
        number = _NUMBER.fullmatch(wanted)
        if not found and number:
            parts = self._numbered(int(number[1]))
            found = [due for due in all_due if due.key in parts]
        if not found:
            names = [name for due in all_due for name in (due.step.id, due.step.title)]
            near = did_you_mean(step, names) or say("See `prepwright next` for what is due.")
            raise UsageError(
                say(
                    "no step {step} is due in job {job}. {near}",
                    step=quoted(step),
                    job=printable(self.job),
                    near=near,
                )
            )
        if panel is not None:
            name = panel_named(self.facts, panel)
            found = [due for due in found if due.panel == name]
            if not found:
                raise UsageError(
                    say("{step} is not due on {name}", step=quoted(step), name=quoted(name))
                )
        left = [due for due in found if due.key not in self.progress.done]
        if not left:
            raise UsageError(say("{step} is already recorded as done", step=quoted(step)))
        return left

    @staticmethod
    def is_number(step: str) -> bool:
        """Whether a step is named by the number of its task."""
        return _NUMBER.fullmatch(folded(step)) is not None

    def _numbered(self, number: int) -> set[tuple[str, str | None]]:
        """The parts of the task that `next` shows under a number. Raises UsageError."""
        plan = self.plan()
        for planned in plan.tasks:
            if planned.number == number:
                return set(planned.task.parts)
        ready = {each.task for each in plan.next.ready}
        listed = [
            f"{each.number} {plan.setting.work(each.task.step.title, each.task.panels)}"
            if each.task.panels
            else f"{each.number} {each.task.step.title}"
            for each in plan.tasks
            if each.key in ready
        ]
        raise UsageError(
            say(
                "there is no task {number} in job {job}. May be done now: {tasks}.",
                number=number,
                job=printable(self.job),
                tasks="; ".join(listed) or say("none"),
            )
        )

    def blockers(self, due: list[Due]) -> list[str]:
        """What has to come before this work, in words; empty where it may be done now."""
        plan = self.plan()
        keys = {each.key for each in due}
        mine = {task.key for task in plan.tasks if keys & set(task.task.parts)}
        texts = [
            by.text
            for blocked in plan.next.blocked
            if blocked.task in mine
            for by in blocked.by
            if by.names not in mine
        ]
        return list(dict.fromkeys(texts))

    def hold(self, name: str, panel: str | None) -> tuple[HoldTopic, list[str | None]]:
        """A hold by topic or title, and the subjects it stands on unsigned. Raises UsageError."""
        wanted = folded(name)
        topics = [
            topic
            for topic in self.ruleset.holds.values()
            if wanted in (folded(topic.id), folded(topic.title))
        ]
        if not topics:
            near = did_you_mean(name, self.ruleset.holds)
            fix = near or say("Holds: {holds}.", holds=", ".join(self.ruleset.holds))
            raise UsageError(say("there is no hold {name}. {fix}", name=quoted(name), fix=fix))
        (topic,) = topics
        standing = self._standing(topic.id)
        if panel is not None:
            named = panel_named(self.facts, panel)
            standing = [subject for subject in standing if subject == named]
        if not standing:
            where = printable(panel or say("job {job}", job=self.job))
            raise UsageError(
                say("no hold {id} stands on {where}", id=quoted(topic.id), where=where)
            )
        unsigned = [
            subject for subject in standing if not self.progress.is_released(topic.id, subject)
        ]
        if not unsigned:
            raise UsageError(say("the hold {id} is already signed", id=quoted(topic.id)))
        return topic, unsigned

    def _standing(self, topic: str) -> list[str | None]:
        """The subjects a hold stands on: those rules put it on, and those whose steps carry it."""
        found: dict[str | None, None] = {}
        if any(hold.topic == topic for hold in self.decision.car.holds):
            found[None] = None
        for name, panel in self.decision.panels.items():
            if any(hold.topic == topic for hold in panel.found.holds):
                found[name] = None
        for task in self.plan().tasks:
            for hold in task.holds:
                if hold.topic.id == topic:
                    found.update(dict.fromkeys(hold.subjects))
        return list(found)
