"""Proves of a mutant that it makes no difference, with an SMT solver (z3).

Where no car makes the changed rule turn out otherwise, or what it gives otherwise in all, the rules
say the same with it as without it, and no worked case could notice. Facts over several panels may
come out in any way here, and reckoned facts in any within what is known of them: what is shown
to be the same is the same for every car. What the solver cannot settle in its time is not.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import z3

from engine.prove.encode import FALSE, Encoding, FactState
from engine.reasoning.program import compile_ruleset
from engine.ruleset.model import Rule, RuleSet
from tests.mutation.mutants import Mutant

MILLISECONDS = 10_000
"""How long the solver may think about one mutant."""

Formula = Any


class Sameness:
    """Asks of mutants of one rule set whether any car tells them from the rule."""

    def __init__(
        self,
        ruleset: RuleSet,
        milliseconds: int = MILLISECONDS,
        encoding: Encoding | None = None,
    ) -> None:
        self._ruleset = ruleset
        program = compile_ruleset(ruleset)
        self._index = {compiled.rule.id: compiled.index for compiled in program.rules}
        self.encoding = encoding or Encoding(program, any_panels=True)
        self._solver = z3.Solver()
        self._solver.set("timeout", milliseconds)
        self._solver.add(*self.encoding.constraints)

    def proved(self, mutant: Mutant) -> bool:
        """Whether it is shown that no car tells the mutant from its rule."""
        return bool(self._solver.check(self.difference(mutant)) == z3.unsat)

    def difference(self, mutant: Mutant) -> Formula:
        """True for the cars of which something else is said under the mutant."""
        original = self._ruleset.rules[mutant.rule]
        if mutant.changed.when != original.when:
            was, now = (self.encoding.truth(rule.when) for rule in (original, mutant.changed))
            return z3.Or(was.holds != now.holds, was.fails != now.fails)
        return z3.Or(FALSE, *self._given_otherwise(mutant, original))

    def _given_otherwise(self, mutant: Mutant, original: Rule) -> Iterator[Formula]:
        changed = mutant.changed
        if changed.then.treatment != original.then.treatment:
            program = compile_ruleset(mutant.in_set(self._ruleset))
            was, now = (
                self.encoding.settled(each.treatment_rules)
                for each in (self.encoding.program, program)
            )
            yield _differ(was, now)
        if changed.then.conclude != original.then.conclude:
            program = compile_ruleset(mutant.in_set(self._ruleset))
            for fact, _ in set(original.then.conclude) - set(changed.then.conclude):
                yield _differ(
                    self.encoding.concluded(self.encoding.program.facts[fact]),
                    self.encoding.concluded(program.facts[fact]),
                )
        for key in ("steps", "holds", "cautions"):
            for name in getattr(original.then, key):
                was = self._gives(original, key, name)
                now = self._gives(changed, key, name)
                yield z3.And(
                    was != now, *(z3.Not(each) for each in self._others(mutant, key, name))
                )

    def _others(self, mutant: Mutant, key: str, name: str) -> Iterator[Formula]:
        for rule in self._ruleset.rules.values():
            elsewhere = rule.id == mutant.rule or rule.about is not mutant.changed.about
            if not elsewhere and name in getattr(rule.then, key):
                yield self._gives(rule, key, name)

    def _gives(self, rule: Rule, key: str, name: str) -> Formula:
        if name not in getattr(rule.then, key):
            return FALSE
        truth = self.encoding.rules[self._index[rule.id]]
        return z3.Not(truth.fails) if rule.applies_while_open and key != "steps" else truth.holds


def _differ(was: FactState, now: FactState) -> Formula:
    pairs = [(was.has, now.has), (was.na, now.na)]
    pairs += [(formula, now.choices[choice]) for choice, formula in was.choices.items()]
    return z3.Or(*(one != other for one, other in pairs))
