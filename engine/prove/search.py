"""Asks the solver for cars, and believes only those that the evaluator confirms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any

import z3

from engine.facts import JobFacts
from engine.prove.encode import Encoding
from engine.prove.witness import Cars, Shows

Formula = Any

MOST_MODELS = 5
"""Cars of the solver that are tried before it is left unsettled whether there is a real one."""


class Answer(Enum):
    """Whether there is such a car: shown, proved not, or neither."""

    FOUND = "found"
    NONE = "none"
    UNSETTLED = "unsettled"


@dataclass(frozen=True, slots=True)
class Found:
    """What a search came to, with the car where there is one, and why it is unsettled."""

    answer: Answer
    job: JobFacts | None = None
    why: str | None = None


class Search:
    """One encoding in one solver; searches do not touch each other."""

    def __init__(self, encoding: Encoding, cars: Cars, milliseconds: int) -> None:
        self.encoding = encoding
        self.milliseconds = milliseconds
        self._cars = cars
        self._solver = z3.Solver()
        self._solver.set("timeout", milliseconds)
        # As little as possible is told of a car: what is not needed could only stand in the way.
        self._solver.set("smt.phase_selection", 1)
        self._solver.add(*encoding.constraints)
        # Ordinary cars are tried first: nothing told that does not apply, nothing that fails.
        self._ordinary = z3.And(
            *(z3.Not(failed) for failed in encoding.failed.values()),
            *(
                z3.Implies(said.value, encoding.truth(encoding.ruleset.facts[fact].ask_when).holds)
                for fact, said in encoding.told.items()
            ),
            *_plain_surveys(encoding),
        )

    def model(self, formula: Formula) -> Any:
        """What the solver makes true for `formula`, real or not; None where it finds nothing."""
        return self._solver.model() if self._check(formula) == z3.sat else None

    def car(self, formula: Formula, shows: Shows) -> Found:
        """A car for which `formula` is true and that `shows` it to the evaluator."""
        self._solver.push()
        try:
            self._solver.add(formula)
            return self._car(shows)
        finally:
            self._solver.pop()

    def possible(self, formula: Formula) -> Answer:
        """Whether the solver finds a car at all, real or not."""
        checked = self._check(formula)
        if checked == z3.unknown:
            return Answer.UNSETTLED
        return Answer.FOUND if checked == z3.sat else Answer.NONE

    def _car(self, shows: Shows) -> Found:
        unreal = 0
        for ordinary in (True, False):
            while unreal < MOST_MODELS:
                checked = self._check(self._ordinary) if ordinary else self._check()
                if checked == z3.unsat:
                    break
                if checked == z3.unknown:
                    return Found(Answer.UNSETTLED, why="the solver ran out of time")
                model = self._solver.model()
                job = self._cars.realised(self.encoding, model, shows)
                if job is not None:
                    return Found(Answer.FOUND, job)
                unreal += 1
                self._solver.add(z3.Not(z3.And(*self._cars.profile(self.encoding, model))))
        if unreal == 0:
            return Found(Answer.NONE)
        return Found(
            Answer.UNSETTLED,
            why="a car would need readings and other measurements from which the reckoned facts "
            f"come out in a way that was not found; {unreal} were tried",
        )

    def _check(self, *formulas: Formula) -> Any:
        return self._solver.check(*formulas)


def _plain_surveys(encoding: Encoding) -> list[Formula]:
    """Surveys of a few spots, uneven only as far as the spread shows it."""
    spots, history = encoding.facts.get("film.spots"), encoding.facts.get("film.history")
    spread = encoding.facts.get("film.spread")
    limit = encoding.ruleset.limits.get("film.spread-limit")
    found: list[Formula] = []
    if spots is not None and spots.number is not None:
        found.append(spots.number <= 12)
    if history is not None and "mixed" in history.choices and spread is not None and limit:
        wide = spread.number > z3.Q(limit.amount.numerator, limit.amount.denominator)
        found.append(z3.Implies(history.choices["mixed"], wide))
    return found
