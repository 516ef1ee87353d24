"""The outcomes of a subject, part by part: its treatment, and each hold, caution and step.

A part is settled or open on its own, so that a question is known to matter as soon as one part
differs between two answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from engine.reasoning.evaluate import Subject
from engine.reasoning.kleene import NOT_APPLICABLE, State, Truth
from engine.reasoning.program import Program
from engine.reasoning.settling import settled_depth
from engine.ruleset.model import About, Rule

Part = tuple[str, str]
"""("treatment", ""), ("hold", topic), ("caution", topic) or ("step", id)."""

TREATMENT_PART: Part = ("treatment", "")


def parts_of(rule: Rule) -> tuple[Part, ...]:
    """The parts of the outcome a rule can change."""
    treatment = (TREATMENT_PART,) if rule.then.treatment else ()
    return (
        *treatment,
        *(("hold", topic) for topic in rule.then.holds),
        *(("caution", topic) for topic in rule.then.cautions),
        *(("step", step) for step in rule.then.steps),
    )


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Which rules of a program bear on which part of the outcome."""

    program: Program

    @cached_property
    def panel(self) -> Mapping[Part, tuple[int, ...]]:
        return self._by_part(About.PANEL)

    @cached_property
    def car(self) -> Mapping[Part, tuple[int, ...]]:
        return self._by_part(About.CAR)

    @cached_property
    def of_rule(self) -> tuple[tuple[Part, ...], ...]:
        """The parts each rule bears on, by its index."""
        return tuple(parts_of(compiled.rule) for compiled in self.program.rules)

    def _by_part(self, about: About) -> dict[Part, tuple[int, ...]]:
        found: dict[Part, list[int]] = {}
        for compiled in self.program.rules:
            if compiled.rule.about is about:
                for part in parts_of(compiled.rule):
                    found.setdefault(part, []).append(compiled.index)
        return {part: tuple(indices) for part, indices in found.items()}

    def state(self, part: Part, indices: Iterable[int], truths: list[Truth]) -> State:
        """The settled state of a part (a depth, True or False), or None while it is open."""
        if part == TREATMENT_PART:
            depth = settled_depth(self.program.treatment_rules, truths)
            return NOT_APPLICABLE if depth == -1 else depth
        open_ = False
        for index in indices:
            if truths[index]:
                return True
            if truths[index] is None:
                open_ = True
        return None if open_ else False

    def states(self, subject: Subject, about: About) -> dict[Part, State]:
        """The state of every part of one subject's outcome."""
        parts = self.panel if about is About.PANEL else self.car
        return {part: self.state(part, rules, subject.truths) for part, rules in parts.items()}
