"""From a car the solver found to one that can be told, put to the evaluator and cut to what counts.

The solver takes reckoned facts as free numbers. Here readings and other told values are looked for
from which they are really reckoned; where none are found, that way for them to turn out is noted
and left out of the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import islice, product
from typing import Any

import z3

from engine.facts import FactValue, JobFacts, Spots, Told
from engine.prove.encode import Encoding, FactState
from engine.quantity import show_exact
from engine.reasoning.domains import Domains
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, State
from engine.reasoning.program import Program
from engine.ruleset.depends import leaves
from engine.ruleset.model import About, FactKind, FactSpec, Leaf, Test

PANEL = "panel"
"""What the panel of a witness is called."""

Shows = Callable[[Evaluation], bool]
"""Whether an evaluated car shows what is looked for."""

_MOST_TRIED = 600
_MOST_SPOTS = 40


class Cars:
    """Turns models of the solver into cars that were put to the evaluator."""

    def __init__(self, program: Program) -> None:
        self._program = program
        self._domains = Domains(program)
        self._leaves = _leaves_by_fact(program)

    def realised(self, encoding: Encoding, model: Any, shows: Shows) -> JobFacts | None:
        """A car like the model that shows what is looked for; None where none was found."""
        told = {
            fact: answer for fact in encoding.told if (answer := _answer(encoding, model, fact))
        }
        self._put_readings(encoding, model, told)
        found = self._try(told, shows)
        if found is not None:
            return found
        for facts in self._clusters(encoding, model, told):
            found = self._search(told, facts, shows)
            if found is not None:
                return found
        return None

    def near(self, job: JobFacts, shows: Shows) -> JobFacts | None:
        """A car that differs from a known one in one told fact and shows what is looked for."""
        for fact, compiled in self._program.facts.items():
            spec = compiled.spec
            if not spec.told:
                continue
            panel = PANEL if spec.about is About.PANEL else None
            for answer in self._domains.of(fact):
                other = job.tell(str(spec.about), panel, fact, answer)
                if shows(evaluate(self._program, other)):
                    return other
        return None

    def profile(self, encoding: Encoding, model: Any) -> list[Any]:
        """How every test on a reckoned fact turned out in the model, as formulas."""
        found = []
        for fact, tests in self._leaves.items():
            if self._program.facts[fact].spec.reckoned is None:
                continue
            for leaf in tests:
                truth = encoding.truth(leaf)
                for formula in (truth.holds, truth.fails):
                    found.append(formula if _is(model, formula) else z3.Not(formula))
        return found

    def _try(self, told: Mapping[str, Told], shows: Shows) -> JobFacts | None:
        job = self.job(told)
        return job if shows(evaluate(self._program, job)) else None

    def job(self, told: Mapping[str, Told]) -> JobFacts:
        """A job with one panel and these facts."""
        sheets: dict[About, dict[str, Told]] = {about: {} for about in About}
        for fact, answer in told.items():
            spec = self._program.facts[fact].spec
            sheets[spec.about][fact] = answer
        return JobFacts(
            "witness", sheets[About.SHOP], sheets[About.CAR], {PANEL: sheets[About.PANEL]}
        )

    # --- reckoned facts ---------------------------------------------------------------------------

    def _put_readings(self, encoding: Encoding, model: Any, told: dict[str, Told]) -> None:
        """Film readings that have the low, typical and high film of the model."""
        if "film.readings" in told:
            spots = _film_spots(encoding, model)
            if spots is not None:
                told["film.readings"] = Told(spots, "")
        deepest = encoding.facts.get("filler.deepest")
        if "filler.readings" in told and deepest is not None:
            depth = _number(model, deepest)
            told["filler.readings"] = Told(((depth,),), "")

    def _clusters(
        self, encoding: Encoding, model: Any, told: Mapping[str, Told]
    ) -> Iterator[list[str]]:
        """Told facts from which reckoned facts come out otherwise than in the model, by group."""
        evaluation = evaluate(self._program, self.job(told))
        left = [
            fact
            for fact in self._leaves
            if self._program.facts[fact].spec.reckoned is not None
            and self._came_out(evaluation, fact) != self._wanted(encoding, model, fact)
        ]
        while left:
            rest = set(self._rests_on(left[0]))
            apart = [fact for fact in left[1:] if not rest & set(self._rests_on(fact))]
            for fact in left[1:]:
                if fact not in apart:
                    rest |= set(self._rests_on(fact))
            left = apart
            yield sorted(rest & set(told))

    def _rests_on(self, fact: str) -> Iterable[str]:
        return self._program.readers[fact]

    def _wanted(self, encoding: Encoding, model: Any, fact: str) -> State:
        state = encoding.facts[fact]
        tests = self._leaves[fact]
        if not _is(model, state.has):
            return NOT_APPLICABLE if _is(model, state.na) else OPEN
        return tuple(_is(model, encoding.truth(leaf).holds) for leaf in tests)

    def _came_out(self, evaluation: Evaluation, fact: str) -> State:
        spec = self._program.facts[fact].spec
        subject = evaluation.panels[PANEL] if spec.about is About.PANEL else evaluation.car
        state = subject.vector[self._program.slots[fact]]
        if state is OPEN or state is UNSURE or state is NOT_APPLICABLE:
            return state
        return tuple(_meets(leaf, state) for leaf in self._leaves[fact])

    def _search(self, told: Mapping[str, Told], facts: list[str], shows: Shows) -> JobFacts | None:
        """Other answers to `facts` with which the car shows what is looked for."""
        answers = [self._domains.of(fact) for fact in facts]
        for chosen in islice(product(*answers), _MOST_TRIED):
            found = self._try({**told, **dict(zip(facts, chosen, strict=True))}, shows)
            if found is not None:
                return found
        return None


def cut(program: Program, job: JobFacts, shows: Shows) -> tuple[JobFacts, tuple[str, ...]]:
    """The car without facts that do not count, and the names of those that do."""
    for about, panel, fact, _ in list(job):
        fewer = job.withdraw(about, panel, fact)
        if shows(evaluate(program, fewer)):
            job = fewer
    return job, tuple(fact for _, _, fact, _ in job)


# --- values out of a model ------------------------------------------------------------------------


def _is(model: Any, formula: Any) -> bool:
    return bool(z3.is_true(model.eval(formula, model_completion=True)))


def _number(model: Any, state: FactState) -> Fraction:
    value = model.eval(state.number, model_completion=True)
    if z3.is_int_value(value):
        return Fraction(value.as_long())
    return Fraction(value.numerator_as_long(), value.denominator_as_long())


def _answer(encoding: Encoding, model: Any, fact: str) -> Told | None:
    said, spec = encoding.told[fact], encoding.ruleset.facts[fact]
    if _is(model, said.unknown):
        return Told(None, "unknown")
    if not _is(model, said.value):
        return None
    return Told(_value(encoding, model, spec), "")


def _value(encoding: Encoding, model: Any, spec: FactSpec) -> FactValue:
    state = encoding.facts[spec.id]
    if spec.kind is FactKind.TEXT:
        return "text"
    if spec.kind is FactKind.LIST:
        return ((spec.plausible[0] if spec.plausible else Fraction(1),),)
    if spec.kind is FactKind.QUANTITY:
        return _number(model, state)
    chosen = [choice for choice in spec.choice_ids if _is(model, state.choices[choice])]
    return frozenset(chosen) if spec.kind is FactKind.SET else chosen[0]


def _film_spots(encoding: Encoding, model: Any) -> Spots | None:
    names = ("film.low", "film.typical", "film.high", "film.spots")
    states = [encoding.facts.get(name) for name in names]
    low, typical, high = (
        _number(model, state) if state is not None and state.number is not None else None
        for state in states[:3]
    )
    if typical is None:
        return None
    low, high = typical if low is None else low, typical if high is None else high
    spots = states[3]
    count = 3 if spots is None else min(int(_number(model, spots)), _MOST_SPOTS)
    if count == 1:
        readings = [typical]
    elif count == 2:
        readings = [low, high]
    else:
        readings = [low, *([typical] * (count - 2)), high]
    return tuple((reading,) for reading in readings)


# --- tests ----------------------------------------------------------------------------------------


def _leaves_by_fact(program: Program) -> dict[str, list[Leaf]]:
    from engine.ruleset.check_use import conditions

    found: dict[str, dict[tuple[object, ...], Leaf]] = {}
    for condition in conditions(program.ruleset):
        for leaf in leaves(condition):
            if leaf.fact in program.facts and leaf.test is not Test.KNOWN:
                found.setdefault(leaf.fact, {})[leaf.test, leaf.operand] = leaf
    return {fact: list(tests.values()) for fact, tests in found.items()}


def _meets(leaf: Leaf, state: State) -> bool:
    operand = leaf.operand
    if isinstance(operand, frozenset):
        if isinstance(state, frozenset):
            return not operand.isdisjoint(state)
        return state in operand or state in {
            float(each) for each in operand if isinstance(each, Fraction)
        }
    assert isinstance(operand, Fraction)
    bound = float(operand)
    return bool(
        {
            Test.ABOVE: state > bound,
            Test.AT_LEAST: state >= bound,
            Test.BELOW: state < bound,
            Test.AT_MOST: state <= bound,
        }[leaf.test]
    )


def written(spec: FactSpec, told: Told) -> object:
    """A told value as it stands in a worked case."""
    value = told.value
    if value is None:
        return "unknown"
    if isinstance(value, Fraction):
        assert spec.quantity is not None
        return show_exact(value, spec.quantity)
    if isinstance(value, frozenset):
        return [choice for choice in spec.choice_ids if choice in value]
    if isinstance(value, tuple):
        assert spec.quantity is not None
        kind = spec.quantity
        spots = [[show_exact(reading, kind) for reading in spot] for spot in value]
        return [spot[0] if len(spot) == 1 else spot for spot in spots]
    return value


def with_written(program: Program, job: JobFacts) -> JobFacts:
    """The job with every value also as people would write it."""
    facts = program.ruleset.facts

    def sheet(told: Mapping[str, Told]) -> dict[str, Told]:
        return {
            fact: replace(answer, written=str(written(facts[fact], answer)))
            for fact, answer in told.items()
        }

    return JobFacts(
        job.job,
        sheet(job.shop),
        sheet(job.car),
        {name: sheet(panel) for name, panel in job.panels.items()},
    )
