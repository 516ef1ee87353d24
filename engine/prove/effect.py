"""Whether a rule ever fires, and whether anything is ever different because of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import z3

from engine.prove.encode import FALSE, Encoding
from engine.prove.witness import PANEL, Shows
from engine.reasoning.evaluate import Evaluation
from engine.reasoning.program import Program, TreatmentRule
from engine.ruleset.logic import effects
from engine.ruleset.model import About, Rule

Formula = Any
Effect = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Matter:
    """One way in which a rule can matter: what to ask, and how an evaluated car shows it."""

    formula: Formula
    shows: Shows


def fires(program: Program, index: int) -> Shows:
    """Shows that a rule fires."""
    about = program.rules[index].rule.about

    def shows(evaluation: Evaluation) -> bool:
        subject = evaluation.panels[PANEL] if about is About.PANEL else evaluation.car
        return subject.truths[index] is True

    return shows


class Effects:
    """What each rule of a program gives, and who else gives it."""

    def __init__(self, program: Program) -> None:
        self._program = program
        self._treating = {rule.index: rule for rule in program.treatment_rules}
        self._givers: dict[tuple[About, Effect], list[int]] = {}
        for compiled in program.rules:
            for effect in effects(compiled.rule):
                self._givers.setdefault((compiled.rule.about, effect), []).append(compiled.index)

    def ways(self, encoding: Encoding, index: int) -> Iterator[Matter]:
        """The ways in which a rule can matter; it matters if one of them comes about."""
        rule = self._program.rules[index].rule
        if index in self._treating:
            yield self._alone_deepest(encoding, self._treating[index])
            yield from self._beats(encoding, index)
        for effect in sorted(effects(rule)):
            if effect[0] == "conclude":
                yield self._concludes(encoding, index, effect)
            elif effect[0] != "treatment":
                yield self._alone_gives(encoding, index, effect)

    # --- treatment --------------------------------------------------------------------------------

    def _alone_deepest(self, encoding: Encoding, rule: TreatmentRule) -> Matter:
        """It stands, and no other rule that stands goes as deep."""
        others = [
            other
            for other in self._program.treatment_rules
            if other.index != rule.index and other.depth >= rule.depth
        ]
        formula = z3.And(
            self._stands(encoding, rule),
            *(z3.Not(self._stands(encoding, other)) for other in others),
        )

        def shows(evaluation: Evaluation) -> bool:
            truths = evaluation.panels[PANEL].truths
            return _stands(rule, truths) and not any(_stands(other, truths) for other in others)

        return Matter(formula, shows)

    @staticmethod
    def _stands(encoding: Encoding, rule: TreatmentRule) -> Formula:
        return z3.And(
            encoding.rules[rule.index].holds,
            *(z3.Not(encoding.rules[beater].holds) for beater in rule.beaters),
        )

    def _beats(self, encoding: Encoding, index: int) -> Iterator[Matter]:
        beaten = [other for other in self._program.treatment_rules if index in other.beaters]
        if not beaten:
            return
        both = [encoding.rules[other.index].holds for other in beaten]
        formula = z3.And(encoding.rules[index].holds, z3.Or(*both))

        def shows(evaluation: Evaluation) -> bool:
            truths = evaluation.panels[PANEL].truths
            return truths[index] is True and any(truths[o.index] is True for o in beaten)

        yield Matter(formula, shows)

    # --- everything else --------------------------------------------------------------------------

    def _alone_gives(self, encoding: Encoding, index: int, effect: Effect) -> Matter:
        rule = self._program.rules[index].rule
        others = [other for other in self._givers[rule.about, effect] if other != index]
        given = [self._given(encoding, other) for other in others]
        formula = z3.And(self._given(encoding, index), z3.Not(z3.Or(FALSE, *given)))

        def shows(evaluation: Evaluation) -> bool:
            truths = _truths(evaluation, rule)
            return self._gives(index, truths) and not any(
                self._gives(other, truths) for other in others
            )

        return Matter(formula, shows)

    def _given(self, encoding: Encoding, index: int) -> Formula:
        truth = encoding.rules[index]
        if self._program.rules[index].rule.applies_while_open:
            return z3.Not(truth.fails)
        return truth.holds

    def _gives(self, index: int, truths: list[bool | None]) -> bool:
        while_open = self._program.rules[index].rule.applies_while_open
        return truths[index] is True or (truths[index] is None and while_open)

    def _concludes(self, encoding: Encoding, index: int, effect: Effect) -> Matter:
        """It fires, and the fact would be something else without it."""
        fact, _, value = effect[1].partition("=")
        compiled = self._program.facts[fact]
        choices, otherwise = compiled.spec.choice_ids, compiled.spec.otherwise
        rank = choices.index(value)
        as_high = [i for i, v in compiled.concluders if i != index and choices.index(v) >= rank]
        lower = [i for i, v in compiled.concluders if i != index and choices.index(v) < rank]
        parts = [
            encoding.rules[index].holds,
            *(z3.Not(encoding.rules[other].holds) for other in as_high),
        ]
        if value == otherwise:
            parts.append(z3.Or(FALSE, *(encoding.rules[other].holds for other in lower)))
        rule = self._program.rules[index].rule

        def shows(evaluation: Evaluation) -> bool:
            truths = _truths(evaluation, rule)
            changes = value != otherwise or any(truths[other] is True for other in lower)
            alone = not any(truths[other] is True for other in as_high)
            return truths[index] is True and alone and changes

        return Matter(z3.And(*parts), shows)


def _stands(rule: TreatmentRule, truths: list[bool | None]) -> bool:
    return truths[rule.index] is True and not any(truths[b] is True for b in rule.beaters)


def _truths(evaluation: Evaluation, rule: Rule) -> list[bool | None]:
    subject = evaluation.panels[PANEL] if rule.about is About.PANEL else evaluation.car
    return subject.truths
