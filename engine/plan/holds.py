"""Hold points: which of them stop which task, and whether they are released."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.decision import Decision, Notice
from engine.plan.merge import Progress, Subject, Task
from engine.records import dataclass
from engine.ruleset.model import HoldTopic, RuleSet, Step


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """One hold before one task, to be released for each of `subjects`; None is the car.

    `because` are the reasons rules give for it; none where the step always has it.
    """

    topic: HoldTopic
    subjects: tuple[Subject, ...]
    because: tuple[str, ...]
    open_for: tuple[Subject, ...]

    @property
    def released(self) -> bool:
        return not self.open_for


class Holds:
    """The holds of a decision, held against tasks."""

    def __init__(self, ruleset: RuleSet, decision: Decision, progress: Progress) -> None:
        self._topics = ruleset.holds
        self._progress = progress
        self._raised: dict[str, dict[Subject, list[str]]] = {}
        self._met: dict[str, frozenset[tuple[str, Subject]]] = {}
        self._raise(None, decision.car.holds)
        for name, panel in decision.panels.items():
            self._raise(name, panel.found.holds)

    def _raise(self, subject: Subject, notices: Iterable[Notice]) -> None:
        for notice in notices:
            reasons = self._raised.setdefault(notice.topic, {}).setdefault(subject, [])
            if notice.because not in reasons:
                reasons.append(notice.because)

    def before(self, task: Task, after: Iterable[str]) -> tuple[HoldPoint, ...]:
        """The hold points of a task, in the order of the rule set.

        Tasks come in working order; `after` are the keys of those directly before this one. A
        hold that stopped one of those already is not named again.
        """
        met: frozenset[tuple[str, Subject]] = frozenset().union(
            *(self._met.get(key, frozenset()) for key in after)
        )
        points = [
            point
            for topic in self._topics.values()
            if (point := self._point(topic, task, met)) is not None
        ]
        here = ((point.topic.id, subject) for point in points for subject in point.subjects)
        self._met[task.key] = met.union(here)
        return tuple(points)

    def _point(
        self, topic: HoldTopic, task: Task, met: frozenset[tuple[str, Subject]]
    ) -> HoldPoint | None:
        if topic.id in task.step.work.releases:
            return None
        raised: Mapping[Subject, list[str]] = self._raised.get(topic.id, {})
        own: tuple[Subject, ...] = task.panels or (None,)
        stopped = {
            subject: reasons
            for subject, reasons in raised.items()
            if (subject is None or subject in task.panels) and stops(topic, task.step)
        }
        always = own if topic.id in task.step.work.holds else ()
        subjects = tuple(
            subject
            for subject in dict.fromkeys((*stopped, *always))
            if (topic.id, subject) not in met
        )
        if not subjects:
            return None
        return HoldPoint(
            topic=topic,
            subjects=subjects,
            because=tuple(dict.fromkeys(why for reasons in stopped.values() for why in reasons)),
            open_for=tuple(
                subject for subject in subjects if not self._progress.is_released(topic.id, subject)
            ),
        )


def stops(topic: HoldTopic, step: Step) -> bool:
    """Whether a hold that is raised stops this step; one that names nothing stops every step."""
    if not topic.blocks and topic.from_phase is None:
        return True
    from_phase = topic.from_phase is not None and step.phase >= topic.from_phase
    return from_phase or step.id in topic.blocks
