"""Brings together what several rules or panels say alike, so that it is said once."""

from __future__ import annotations

from engine.decision import Decision, Findings, Notice, StepDue
from engine.records import dataclass
from engine.ruleset.model import RuleSet
from engine.words import say, sentence

WHOLE_CAR = sentence("the whole car")


@dataclass(frozen=True, slots=True)
class Held:
    """One hold with the reasons of every rule that asks for it.

    It is provisional only where every one of those rules is.
    """

    topic: str
    title: str
    release: str | None
    reasons: tuple[str, ...]
    rules: tuple[str, ...]
    provisional: bool
    until: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Warned:
    """One caution and where it applies."""

    notice: Notice
    where: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Due:
    """One step and where it is due."""

    step: StepDue
    where: tuple[str, ...]


def held(found: Findings) -> tuple[Held, ...]:
    """The holds of one subject by topic: firm ones first, as long as any of its rules is firm."""
    by_topic: dict[str, list[Notice]] = {}
    for hold in found.holds:
        by_topic.setdefault(hold.topic, []).append(hold)
    holds = [_held(notices) for notices in by_topic.values()]
    return tuple(sorted(holds, key=lambda hold: hold.provisional))


def _held(notices: list[Notice]) -> Held:
    firm = [notice for notice in notices if not notice.provisional] or notices
    return Held(
        topic=firm[0].topic,
        title=firm[0].title,
        release=firm[0].release,
        reasons=tuple(dict.fromkeys(notice.text for notice in firm)),
        rules=tuple(dict.fromkeys(notice.rule for notice in firm)),
        provisional=firm[0].provisional,
        until=tuple(dict.fromkeys(fact for notice in firm for fact in notice.until)),
    )


def warned(decision: Decision, ruleset: RuleSet) -> tuple[Warned, ...]:
    """Every caution of the job once, in the rule set's order, with the places it applies to."""
    notices: dict[str, Notice] = {}
    where: dict[str, list[str]] = {}
    for name, found in _everywhere(decision):
        for caution in found.cautions:
            shown = notices.setdefault(caution.topic, caution)
            if shown.provisional and not caution.provisional:
                notices[caution.topic] = caution
            where.setdefault(caution.topic, []).append(name)
    return tuple(
        Warned(notices[topic], tuple(where[topic])) for topic in ruleset.cautions if topic in where
    )


def due_steps(decision: Decision) -> tuple[Due, ...]:
    """Every step of the job once, in the order of its phase, with the places it is due."""
    steps: dict[str, StepDue] = {}
    where: dict[str, list[str]] = {}
    for name, found in _everywhere(decision):
        for step in found.steps:
            steps.setdefault(step.step, step)
            where.setdefault(step.step, []).append(name)
    ordered = sorted(steps.values(), key=lambda step: step.phase)
    return tuple(Due(step, tuple(where[step.step])) for step in ordered)


def _everywhere(decision: Decision) -> list[tuple[str, Findings]]:
    panels = [(panel.name, panel.found) for panel in decision.panels.values()]
    return [(say(WHOLE_CAR), decision.car), *panels]
