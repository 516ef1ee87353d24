"""Rule sets worked out from their definition, one question after another, without any levels.

Shares no code with the engine beyond the model: conditions are walked as trees, numbers stay
fractions, facts are looked up when they are asked for. A completion is given as answers to take
for facts that apply and of which nothing usable was told.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from fractions import Fraction
from statistics import median
from typing import Any

from engine.facts import JobFacts, Told
from engine.ruleset.model import About, All, Condition, FactSpec, Leaf, Not, Rule, RuleSet, Test
from engine.ruleset.model import Any as AnyOf


class Lack(Enum):
    """Why a fact has no value."""

    OPEN = "open"
    UNSURE = "unsure"
    NOT_APPLICABLE = "not applicable"


OPEN, UNSURE, NOT_APPLICABLE = Lack
Truth = bool | None
Unknown = tuple[str | None, str]
Completion = Mapping[Unknown, Told]


class Reference:
    """One job under one rule set, with a completion of what nobody told."""

    def __init__(self, ruleset: RuleSet, job: JobFacts, completion: Completion) -> None:
        self._ruleset = ruleset
        self._job = job
        self._completion = completion
        self._states: dict[Unknown, Any] = {}
        self._truths: dict[Unknown, Truth] = {}

    # --- conditions and rules ---

    def holds(self, where: str | None, condition: Condition) -> Truth:
        if isinstance(condition, Not):
            return _not(self.holds(where, condition.part))
        if isinstance(condition, All):
            return _all([self.holds(where, part) for part in condition.parts])
        if isinstance(condition, AnyOf):
            return _not(_all([_not(self.holds(where, part)) for part in condition.parts]))
        return _test(condition, self.state(where, condition.fact))

    def fires(self, where: str | None, rule: Rule) -> Truth:
        if (where, rule.id) not in self._truths:
            self._truths[where, rule.id] = self.holds(where, rule.when)
        return self._truths[where, rule.id]

    # --- facts ---

    def state(self, where: str | None, fact: str) -> Any:
        spec = self._ruleset.facts.get(fact)
        home = where if spec is None or spec.about is About.PANEL else None
        if (home, fact) not in self._states:
            self._states[home, fact] = (
                self._treatment(home) if spec is None else self._of(home, spec)
            )
        return self._states[home, fact]

    def _of(self, home: str | None, spec: FactSpec) -> Any:
        if spec.told:
            return self._told(home, spec)
        applies = True if spec.ask_when is None else self.holds(home, spec.ask_when)
        if applies is not True:
            return OPEN if applies is None else NOT_APPLICABLE
        if spec.reckoned is not None:
            return self._reckoned(home, spec.reckoned)
        if spec.gathered is not None:
            found = [self.holds(panel, spec.gathered.condition) for panel in self._job.panels]
            every = _all(found)
            some = _not(_all([_not(truth) for truth in found]))
            truth = some if spec.gathered.quantifier == "any" else every
            return OPEN if truth is None else "yes" if truth else "no"
        return self._concluded(home, spec)

    def _told(self, home: str | None, spec: FactSpec) -> Any:
        told = self._job.sheet(str(spec.about), home).get(spec.id)
        refused = False if spec.refusal is None else self.holds(home, spec.refusal.when)
        if told is not None and not _unsure(spec, told) and refused is not True:
            return told.value if refused is False else OPEN
        applies = True if spec.ask_when is None else self.holds(home, spec.ask_when)
        if applies is False:
            return NOT_APPLICABLE
        if (home, spec.id) in self._completion:
            answer = self._completion[home, spec.id]
            if applies is None:
                return OPEN
            if _unsure(spec, answer):
                return UNSURE
            # Told anew after a refusal, it is told in a way that can be taken.
            anew = told is not None and not _unsure(spec, told) and refused is True
            return answer.value if anew or refused is False else OPEN
        if spec.assume is not None:
            return spec.assume if applies else OPEN
        if told is not None and _unsure(spec, told):
            return UNSURE
        return OPEN if spec.asked else NOT_APPLICABLE

    def _reckoned(self, home: str | None, name: str) -> Any:
        readings = self.state(home, "film.readings")
        if readings is NOT_APPLICABLE:
            return NOT_APPLICABLE
        if isinstance(readings, Lack):
            return OPEN
        if name == "film.spots":
            return Fraction(len(readings))
        assert name == "film.typical"
        return median([sum(spot, Fraction(0)) / len(spot) for spot in readings])

    def _concluded(self, home: str | None, spec: FactSpec) -> Any:
        """The last choice in order that any firing rule concludes, for every way rules may go."""
        open_ = []
        sure = []
        for rule in self._ruleset.rules.values():
            for fact, value in rule.then.conclude:
                if fact == spec.id:
                    truth = self.fires(home, rule)
                    sure += [value] if truth else []
                    open_ += [value] if truth is None else []
        ends = {
            max([*sure, *also], key=spec.choice_ids.index, default=spec.otherwise)
            for also in _subsets(open_)
        }
        return ends.pop() if len(ends) == 1 else OPEN

    # --- outcomes ---

    def _treatment(self, panel: str | None) -> Any:
        """The deepest treatment that some rule asks for and none that fires beats."""
        rules = [rule for rule in self._ruleset.rules.values() if rule.then.treatment]
        standing: dict[str, list[Truth]] = {}
        for rule in rules:
            beaten = [
                self.fires(panel, other)
                for other in rules
                if rule.id in other.beats or (other.beats_all and not rule.beats_all)
            ]
            stands = _all([self.fires(panel, rule), *(_not(truth) for truth in beaten)])
            standing.setdefault(str(rule.then.treatment), []).append(stands)
        for treatment in reversed(self._ruleset.treatments):
            if True in standing.get(treatment, ()):
                return treatment
            if None in standing.get(treatment, ()):
                return OPEN
        return NOT_APPLICABLE

    def parts(self, where: str | None) -> dict[tuple[str, str], Any]:
        """Every part of the outcome of a panel, or of the car: OPEN, or what it came to."""
        found: dict[tuple[str, str], list[Truth]] = {}
        about = About.CAR if where is None else About.PANEL
        for rule in self._ruleset.rules.values():
            if rule.about is about:
                for kind in ("holds", "cautions", "steps"):
                    for topic in getattr(rule.then, kind):
                        found.setdefault((kind, topic), []).append(self.fires(where, rule))
        parts: dict[tuple[str, str], Any] = {
            part: True if True in truths else OPEN if None in truths else False
            for part, truths in found.items()
        }
        if where is not None:
            parts["treatment", ""] = self.state(where, "treatment")
        return parts


def _unsure(spec: FactSpec, told: Told) -> bool:
    return told.value is None or (isinstance(told.value, str) and told.value in spec.not_yet)


def _not(truth: Truth) -> Truth:
    return None if truth is None else not truth


def _all(truths: list[Truth]) -> Truth:
    return False if False in truths else None if None in truths else True


def _subsets(values: list[str]) -> list[list[str]]:
    found: list[list[str]] = [[]]
    for value in values:
        found += [[*subset, value] for subset in found]
    return found


def _test(leaf: Leaf, state: Any) -> Truth:
    if leaf.test is Test.KNOWN:
        return None if state is OPEN else (not isinstance(state, Lack)) is (leaf.operand == "yes")
    if state is NOT_APPLICABLE:
        return False
    if isinstance(state, Lack):
        return None
    operand: Any = leaf.operand
    if leaf.test is Test.IS:
        return state in operand
    if leaf.test is Test.INCLUDES:
        return bool(operand & state)
    return {
        Test.ABOVE: state > operand,
        Test.AT_LEAST: state >= operand,
        Test.BELOW: state < operand,
        Test.AT_MOST: state <= operand,
    }[leaf.test]
