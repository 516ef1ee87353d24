"""What the worked cases show already: rules that fire, and rules that make a difference."""

from __future__ import annotations

from engine.facts import JobFacts
from engine.prove.effect import Effects
from engine.prove.encode import Encoding
from engine.prove.witness import PANEL
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.program import Program
from engine.ruleset import logic
from engine.ruleset.model import About
from engine.ruleset.run_cases import PANEL as CASE_PANEL
from engine.ruleset.run_cases import case_facts


class WorkedCases:
    """The cars of the worked cases, put to the evaluator."""

    def __init__(self, program: Program, effects: Effects, encoding: Encoding) -> None:
        self._program = program
        self._jobs: dict[int, JobFacts] = {}
        self.mattered: set[int] = set()
        ways = {
            compiled.index: list(effects.ways(encoding, compiled.index))
            for compiled in program.rules
        }
        for facts in case_facts(program.ruleset):
            panels = {
                PANEL if name == CASE_PANEL else name: sheet for name, sheet in facts.panels.items()
            }
            job = JobFacts(facts.job, facts.shop, facts.car, panels)
            evaluation = evaluate(program, job)
            for index, truth in enumerate(_truths(evaluation)):
                if truth is True:
                    self._jobs.setdefault(index, job)
                if truth is False or index in self.mattered:
                    continue
                if any(way.shows(evaluation) for way in ways[index]):
                    self.mattered.add(index)

    @property
    def fired(self) -> frozenset[int]:
        return frozenset(self._jobs)

    def job_firing(self, index: int) -> JobFacts | None:
        """The first case in which a rule fires."""
        return self._jobs.get(index)

    def beside(self, index: int, job: JobFacts) -> tuple[str, ...]:
        """The rules that fire on this car too and give some of what the rule gives."""
        rule = self._program.rules[index].rule
        given = logic.effects(rule)
        truths = _truths(evaluate(self._program, job))
        return tuple(
            compiled.rule.id
            for compiled in self._program.rules
            if compiled.index != index
            and truths[compiled.index] is True
            and compiled.rule.about is rule.about
            and logic.effects(compiled.rule) & given
        )


def _truths(evaluation: Evaluation) -> list[bool | None]:
    """The truth of every rule, about the car or the panel."""
    panel, car = evaluation.panels[PANEL].truths, evaluation.car.truths
    return [
        panel[compiled.index] if compiled.rule.about is About.PANEL else car[compiled.index]
        for compiled in evaluation.program.rules
    ]
