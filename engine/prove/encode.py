"""A rule set as logic: the state of every fact and rule for one car with one panel.

A condition becomes two formulas, one for "it holds" and one for "it does not"; where neither is
true it is open (Kleene's strong logic, S. C. Kleene, Introduction to Metamathematics, 1952,
section 64). A fact becomes its state (a value, not known, not applicable, open) and its value.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import z3

from engine.prove.reckoned import reckoned_constraints
from engine.quantity import Kind, parse_quantity
from engine.reasoning.program import CompiledFact, Program, TreatmentRule
from engine.ruleset.model import All, Condition, FactKind, FactSpec, Leaf, Not, Test
from engine.ruleset.names import TREATMENT

Formula = Any
"""A z3 expression; z3 has no types to check against."""

_WHOLE = (Kind.COUNT, Kind.YEAR)
_NOT_NEGATIVE = (
    Kind.COUNT, Kind.YEAR, Kind.THICKNESS, Kind.DEPTH, Kind.AREA, Kind.VOLUME, Kind.TIME,
    Kind.PERCENT, Kind.MASS, Kind.DENSITY,
)  # fmt: skip
TRUE, FALSE = z3.BoolVal(True), z3.BoolVal(False)


@dataclass(frozen=True, slots=True)
class Truth:
    """When a condition holds and when it does not; otherwise it is open."""

    holds: Formula
    fails: Formula


@dataclass(slots=True)
class FactState:
    """The state of a fact; exactly one of `has`, `na`, `unsure` and open is true.

    `choices` are formulas by choice, for a set one a member; `number` is the value of a quantity.
    """

    has: Formula
    na: Formula
    unsure: Formula
    choices: dict[str, Formula] = field(default_factory=dict)
    number: Formula = None

    @property
    def open(self) -> Formula:
        return z3.Not(z3.Or(self.has, self.na, self.unsure))


@dataclass(frozen=True, slots=True)
class Telling:
    """What is said of a fact: a value, or that it is not known; else nothing."""

    value: Formula
    unknown: Formula


def rational(number: Fraction) -> Formula:
    """An exact number as z3 writes it."""
    return z3.Q(number.numerator, number.denominator)


class Encoding:
    """The formulas of one program. `free` names limits that may take any value.

    The car has one panel. With `any_panels`, facts that rest on all panels may come out in any
    way, so that what is impossible then is impossible with other panels beside this one too.
    """

    def __init__(
        self, program: Program, free: Collection[str] = (), *, any_panels: bool = False
    ) -> None:
        self.program = program
        self.any_panels = any_panels
        self.ruleset = program.ruleset
        self.constraints: list[Formula] = []
        self.facts: dict[str, FactState] = {}
        self.told: dict[str, Telling] = {}
        self.rules: dict[int, Truth] = {}
        self.failed: dict[str, Formula] = {}
        self.limits = {name: z3.Real(f"limit:{name}") for name in sorted(free)}
        index = {compiled.rule.id: compiled.index for compiled in program.rules}
        for node in program.order:
            if node[0] == "rule":
                self._rule(index[node[1]])
            elif node[0] == TREATMENT:
                settled = self.settled(program.treatment_rules)
                self.facts[TREATMENT] = self._named(TREATMENT, settled)
            else:
                self._fact(program.facts[node[1]])

    # --- conditions -------------------------------------------------------------------------------

    def truth(self, condition: Condition | None) -> Truth:
        """The formulas of a condition; one that is not there holds."""
        if condition is None:
            return Truth(TRUE, FALSE)
        if isinstance(condition, Leaf):
            return self._leaf(condition)
        if isinstance(condition, Not):
            inner = self.truth(condition.part)
            return Truth(inner.fails, inner.holds)
        parts = [self.truth(part) for part in condition.parts]
        holds, fails = [part.holds for part in parts], [part.fails for part in parts]
        if isinstance(condition, All):
            return Truth(z3.And(*holds), z3.Or(*fails))
        return Truth(z3.Or(*holds), z3.And(*fails))

    def _leaf(self, leaf: Leaf) -> Truth:
        state = self.facts[leaf.fact]
        if leaf.test is Test.KNOWN:
            known = Truth(state.has, z3.Or(state.na, state.unsure))
            return known if leaf.operand == "yes" else Truth(known.fails, known.holds)
        met = self._met(leaf, state)
        return Truth(z3.And(state.has, met), z3.Or(state.na, z3.And(state.has, z3.Not(met))))

    def _met(self, leaf: Leaf, state: FactState) -> Formula:
        operand = leaf.operand
        if isinstance(operand, frozenset):
            if state.number is not None:
                return z3.Or(
                    *(
                        state.number == rational(Fraction(each))
                        for each in sorted(map(str, operand))
                    )
                )
            return z3.Or(*(state.choices[choice] for choice in sorted(map(str, operand))))
        limit = self.limits.get(leaf.limit or "")
        assert isinstance(operand, Fraction)
        bound = rational(operand) if limit is None else limit
        number = z3.ToReal(state.number) if z3.is_int(state.number) else state.number
        match leaf.test:
            case Test.ABOVE:
                return number > bound
            case Test.AT_LEAST:
                return number >= bound
            case Test.BELOW:
                return number < bound
            case _:
                return number <= bound

    # --- facts ------------------------------------------------------------------------------------

    def _fact(self, compiled: CompiledFact) -> None:
        spec = compiled.spec
        if spec.told:
            state = self._told(spec)
        elif compiled.reckoner is not None:
            state = self._reckoned(compiled)
        elif spec.gathered is not None:
            state = self._gathered(spec)
        else:
            state = self.concluded(compiled)
        self.facts[spec.id] = self._named(spec.id, state)

    def _named(self, id: str, state: FactState) -> FactState:
        """The state with a name for each of its formulas, so that none is written out twice."""
        return FactState(
            has=self._name(f"{id}:has", state.has),
            na=self._name(f"{id}:na", state.na),
            unsure=self._name(f"{id}:unsure", state.unsure),
            choices={
                choice: self._name(f"{id}={choice}", formula)
                for choice, formula in state.choices.items()
            },
            number=state.number,
        )

    def _name(self, name: str, formula: Formula) -> Formula:
        if z3.is_const(formula):
            return formula
        named = z3.Bool(f"is {name}")
        self.constraints.append(named == formula)
        return named

    def _told(self, spec: FactSpec) -> FactState:
        said = Telling(z3.Bool(f"told {spec.id}"), z3.Bool(f"unknown {spec.id}"))
        self.told[spec.id] = said
        self.constraints.append(z3.Not(z3.And(said.value, said.unknown)))
        value = self._value(spec)
        refused = self.truth(spec.refusal.when) if spec.refusal else Truth(FALSE, TRUE)
        gate = self.truth(spec.ask_when)
        taken = z3.And(said.value, refused.fails)
        left = z3.Or(z3.Not(said.value), refused.holds)
        applies_not = z3.And(left, gate.fails)
        if spec.assume is not None:
            assumed = z3.And(left, gate.holds)
            return self._assumed(spec, value, taken, assumed, applies_not)
        rest = z3.And(left, z3.Not(gate.fails))
        unsure = z3.And(rest, said.unknown)
        value.has, value.unsure, value.na = taken, unsure, applies_not
        if not spec.asked:
            value.na = z3.Or(applies_not, z3.And(rest, z3.Not(said.unknown)))
        return value

    def _assumed(
        self, spec: FactSpec, value: FactState, taken: Formula, assumed: Formula, na: Formula
    ) -> FactState:
        """Where nothing is told the assumed value stands, also behind a "don't know"."""
        assert spec.assume is not None
        has = z3.Or(taken, assumed)
        if value.number is not None:
            assert spec.quantity is not None
            amount = parse_quantity(spec.assume, spec.quantity).amount
            number = z3.Real(f"value {spec.id}")
            self.constraints.append(z3.Implies(taken, number == value.number))
            self.constraints.append(z3.Implies(z3.Not(taken), number == rational(amount)))
            return FactState(has, na, FALSE, {}, number)
        choices = {
            choice: z3.If(taken, formula, z3.BoolVal(choice == spec.assume))
            for choice, formula in value.choices.items()
        }
        return FactState(has, na, FALSE, choices)

    def _value(self, spec: FactSpec) -> FactState:
        """Free values of a fact within what it can be told as."""
        state = FactState(FALSE, FALSE, FALSE)
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO, FactKind.SET):
            state.choices = {c: z3.Bool(f"{spec.id}:{c}") for c in spec.choice_ids}
            allowed = [state.choices[c] for c in spec.choice_ids if c not in spec.not_yet]
            barred = [state.choices[c] for c in spec.choice_ids if c in spec.not_yet]
            self.constraints += [z3.Not(formula) for formula in barred]
            self.constraints.append(z3.Or(*allowed))
            if spec.kind is not FactKind.SET:
                self.constraints.append(_at_most_one(allowed))
            elif spec.alone is not None:
                others = [state.choices[c] for c in spec.choice_ids if c != spec.alone]
                lone = z3.And(*(z3.Not(formula) for formula in others))
                self.constraints.append(z3.Implies(state.choices[spec.alone], lone))
        elif spec.kind is FactKind.QUANTITY:
            state.number = self._number(spec)
        return state

    def _number(self, spec: FactSpec) -> Formula:
        whole = spec.quantity in _WHOLE
        number = z3.Int(f"number {spec.id}") if whole else z3.Real(f"number {spec.id}")
        if spec.plausible is not None:
            low, high = spec.plausible
            self.constraints += [number >= rational(low), number <= rational(high)]
        elif spec.quantity in _NOT_NEGATIVE:
            self.constraints.append(number >= 0)
        return number

    def _behind_gate(self, spec: FactSpec, state: FactState) -> FactState:
        if spec.ask_when is None:
            return state
        gate = self.truth(spec.ask_when)
        state.has = z3.And(gate.holds, state.has)
        state.na = z3.Or(gate.fails, z3.And(gate.holds, state.na))
        return state

    def _reckoned(self, compiled: CompiledFact) -> FactState:
        """A free value where all inputs are there, within what is known of the reckoning."""
        spec, reckoner = compiled.spec, compiled.reckoner
        assert reckoner is not None
        inputs = [self.facts[read] for read in reckoner.reads]
        na = z3.Or(*(state.na for state in inputs))
        ready = z3.And(*(state.has for state in inputs))
        if self.any_panels and reckoner.panels:
            na, ready = z3.Bool(f"na {spec.id}"), z3.Bool(f"ready {spec.id}")
            self.constraints.append(z3.Not(z3.And(na, ready)))
        failed, nothing = z3.Bool(f"fails {spec.id}"), z3.Bool(f"nothing {spec.id}")
        self.constraints.append(z3.Not(z3.And(failed, nothing)))
        self.failed[spec.id] = z3.And(ready, failed)
        state = self._value(spec)
        state.has = z3.And(ready, z3.Not(failed), z3.Not(nothing))
        state.na = z3.Or(na, z3.And(ready, nothing))
        self.constraints += reckoned_constraints(self, spec, state, ready, failed, nothing)
        return self._behind_gate(spec, state)

    def _gathered(self, spec: FactSpec) -> FactState:
        """With one panel, "any" and "every" say the same."""
        assert spec.gathered is not None
        inner = self.truth(spec.gathered.condition)
        if self.any_panels:
            inner = Truth(z3.Bool(f"holds {spec.id}"), z3.Bool(f"fails {spec.id}"))
            self.constraints.append(z3.Not(z3.And(inner.holds, inner.fails)))
        state = FactState(z3.Or(inner.holds, inner.fails), FALSE, FALSE)
        state.choices = {"no": inner.fails, "yes": inner.holds}
        return self._behind_gate(spec, state)

    def concluded(self, compiled: CompiledFact) -> FactState:
        """The last choice that a firing rule concludes, once no open rule can move it further."""
        spec, choices = compiled.spec, compiled.spec.choice_ids
        holds: dict[int, list[Formula]] = {}
        possible: dict[int, list[Formula]] = {}
        for index, value in compiled.concluders:
            rank = choices.index(value)
            holds.setdefault(rank, []).append(self.rules[index].holds)
            possible.setdefault(rank, []).append(z3.Not(self.rules[index].fails))
        sure = {rank: z3.Or(*formulas) for rank, formulas in holds.items()}
        could = {rank: z3.Or(*formulas) for rank, formulas in possible.items()}
        settled: dict[str, list[Formula]] = {choice: [] for choice in choices}
        for rank in sure:
            higher = [other for other in sure if other > rank]
            settled[choices[rank]].append(
                z3.And(sure[rank], *(z3.Not(could[other]) for other in higher))
            )
        assert spec.otherwise is not None
        others = [rank for rank in sure if choices[rank] != spec.otherwise]
        settled[spec.otherwise].append(
            z3.And(
                *(z3.Not(formula) for formula in sure.values()),
                *(z3.Not(could[rank]) for rank in others),
            )
        )
        state = FactState(FALSE, FALSE, FALSE)
        state.choices = {choice: z3.Or(*ways) for choice, ways in settled.items()}
        state.has = z3.Or(*state.choices.values())
        return self._behind_gate(spec, state)

    # --- rules and the treatment ------------------------------------------------------------------

    def _rule(self, index: int) -> None:
        rule = self.program.rules[index].rule
        truth = self.truth(rule.when)
        self.rules[index] = Truth(
            self._name(f"{rule.id}:holds", truth.holds), self._name(f"{rule.id}:fails", truth.fails)
        )

    def settled(self, rules: Iterable[TreatmentRule]) -> FactState:
        """The deepest treatment of a rule that nothing beats, once no open rule goes deeper."""
        sure: dict[int, list[Formula]] = {}
        could: dict[int, list[Formula]] = {}
        for rule in rules:
            beaters = [self.rules[beater] for beater in rule.beaters]
            truth = self.rules[rule.index]
            unbeaten = z3.And(*(beater.fails for beater in beaters))
            maybe = z3.And(*(z3.Not(beater.holds) for beater in beaters))
            sure.setdefault(rule.depth, []).append(z3.And(truth.holds, unbeaten))
            could.setdefault(rule.depth, []).append(z3.And(z3.Not(truth.fails), maybe))
        treatments = self.program.treatments
        state = FactState(FALSE, FALSE, FALSE)
        for depth, treatment in enumerate(treatments):
            deeper = [z3.Or(*could[other]) for other in could if other > depth]
            state.choices[treatment] = z3.And(
                z3.Or(*sure.get(depth, [])), *(z3.Not(formula) for formula in deeper)
            )
        state.has = z3.Or(*state.choices.values())
        state.na = z3.Not(z3.Or(*(formula for ways in could.values() for formula in ways)))
        return state

    # --- whole cars -------------------------------------------------------------------------------

    def all_told(self, facts: Iterable[str]) -> Formula:
        """Each of these told facts has a value or does not apply; nobody says "don't know"."""
        return z3.And(
            *(
                z3.And(
                    z3.Or(self.facts[fact].has, self.facts[fact].na),
                    z3.Not(self.told[fact].unknown),
                )
                for fact in facts
            )
        )


def _at_most_one(formulas: list[Formula]) -> Formula:
    return z3.PbLe([(formula, 1) for formula in formulas], 1) if len(formulas) > 1 else TRUE
