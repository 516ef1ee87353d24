"""Holds as a sheet to sign: by topic, one line for the car or panel each is to be released for."""

from __future__ import annotations

from dataclasses import dataclass

from cli.output.cautions import until_text
from cli.output.gathering import WHOLE_CAR
from engine.decision import Decision, Notice
from engine.plan import Progress
from engine.ruleset.model import RuleSet
from engine.words import say


@dataclass(frozen=True, slots=True)
class HeldFor:
    """One line: for what, why, and whether it is released already."""

    subject: str
    reasons: tuple[str, ...]
    rules: tuple[str, ...]
    until: str
    released: bool


@dataclass(frozen=True, slots=True)
class Hold:
    topic: str
    title: str
    release: str
    lines: tuple[HeldFor, ...]

    @property
    def open(self) -> bool:
        return not all(line.released for line in self.lines)


def hold_sheet(decision: Decision, ruleset: RuleSet, progress: Progress) -> tuple[Hold, ...]:
    """Every hold of a job, topics in the order of the rule set."""
    found: dict[str, dict[str | None, list[Notice]]] = {}
    everywhere = [(None, decision.car), *((n, p.found) for n, p in decision.panels.items())]
    for subject, findings in everywhere:
        for notice in findings.holds:
            found.setdefault(notice.topic, {}).setdefault(subject, []).append(notice)
    return tuple(
        Hold(
            topic=topic.id,
            title=topic.title,
            release=topic.release,
            lines=tuple(
                _line(ruleset, subject, notices, progress.is_released(topic.id, subject))
                for subject, notices in found[topic.id].items()
            ),
        )
        for topic in ruleset.holds.values()
        if topic.id in found
    )


def _line(ruleset: RuleSet, subject: str | None, notices: list[Notice], released: bool) -> HeldFor:
    # A firm reason stands whatever becomes of a provisional one.
    firm = [notice for notice in notices if not notice.provisional]
    shown = firm or notices
    until = dict.fromkeys(fact for notice in shown for fact in notice.until)
    return HeldFor(
        subject=subject if subject is not None else say(WHOLE_CAR),
        reasons=tuple(dict.fromkeys(notice.because for notice in shown)),
        rules=tuple(dict.fromkeys(notice.rule for notice in shown)),
        until="" if firm else until_text(ruleset, until),
        released=released,
    )
