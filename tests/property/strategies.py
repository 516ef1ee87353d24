"""Random rule sets and jobs, built through the model as the loader builds them.

Facts come in an order in which each rests on earlier ones alone; the treatment of a panel has a
place in it too, so that some facts and rules rest on what panels get.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from engine.facts import FactValue, JobFacts, Told
from engine.quantity import Kind
from engine.ruleset.model import (
    About,
    All,
    Choice,
    Condition,
    FactKind,
    FactSpec,
    Gathered,
    Leaf,
    Not,
    Refusal,
    Rule,
    RuleSet,
    Test,
    Then,
)
from engine.ruleset.model import Any as AnyOf
from tests.unit.rules_by_hand import HERE, SOURCE, rule_set

TREATMENTS = ("leave", "sand", "strip")
LIMITS = tuple(map(Fraction, (1, 2, 3)))
NUMBERS = tuple(Fraction(half, 2) for half in range(1, 8))
COUNTS = tuple(map(Fraction, range(5)))
SURVEYS: tuple[FactValue, ...] = (
    ((Fraction(1),), (Fraction(1),)),
    ((Fraction(2),), (Fraction(2),), (Fraction(5, 2),)),
    ((Fraction(1),), (Fraction(7, 2), Fraction(3))),
    ((Fraction(3),),),
)
YES_NO = (Choice("yes", "Yes"), Choice("no", "No"))

_LONG = os.environ.get("PREPWRIGHT_PROPERTIES") == "long"


def thorough(examples: int) -> Callable[[Any], Any]:
    """So many examples; thirty times as many where PREPWRIGHT_PROPERTIES=long is set."""
    slow = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    return settings(
        max_examples=examples * (30 if _LONG else 1), deadline=None, suppress_health_check=slow
    )


@dataclass(frozen=True)
class Size:
    """How large a random rule set gets."""

    told: int = 6
    derived: int = 4
    rules: int = 10
    parts: int = 3
    choices: int = 4
    reckoned: bool = True


LARGE = Size()
SMALL = Size(told=4, derived=3, rules=6, parts=2, choices=3, reckoned=False)


# --- conditions -----------------------------------------------------------------------------------


def leaves(spec: FactSpec) -> st.SearchStrategy[Condition]:
    """One test on a fact, of a kind the fact allows."""
    known = st.sampled_from(("yes", "no")).map(lambda word: Leaf(spec.id, Test.KNOWN, word, HERE))
    if spec.kind in (FactKind.CHOICE, FactKind.YES_NO, FactKind.SET):
        ids = [choice for choice in spec.choice_ids if choice not in spec.not_yet]
        test = Test.INCLUDES if spec.kind is FactKind.SET else Test.IS
        some = st.frozensets(st.sampled_from(ids), min_size=1, max_size=2)
        value = some.map(lambda members: Leaf(spec.id, test, members, HERE))
    elif spec.kind is FactKind.QUANTITY:
        tests = st.sampled_from((Test.ABOVE, Test.AT_LEAST, Test.BELOW, Test.AT_MOST))
        value = st.one_of(
            st.builds(lambda test, limit: Leaf(spec.id, test, limit, HERE), tests, _limits()),
            st.frozensets(_limits(), min_size=1, max_size=2).map(
                lambda members: Leaf(spec.id, Test.IS, members, HERE)
            ),
        )
    else:
        return known
    # Most conditions test values; `known` is the exception in practice too.
    return st.integers(0, 7).flatmap(lambda roll: known if roll == 0 else value)


def _limits() -> st.SearchStrategy[Fraction]:
    return st.sampled_from(LIMITS)


@st.composite
def conditions(draw: st.DrawFn, specs: list[FactSpec], parts: int, depth: int = 2) -> Condition:
    """A condition over some of the facts."""
    shape = draw(st.integers(0, 5)) if depth else 0
    if shape <= 1:
        return draw(leaves(draw(st.sampled_from(specs))))
    if shape == 2:
        return Not(draw(conditions(specs, parts, depth - 1)), HERE)
    some = st.lists(conditions(specs, parts, depth - 1), min_size=1, max_size=parts)
    return (All if shape <= 4 else AnyOf)(tuple(draw(some)), HERE)


# --- facts ----------------------------------------------------------------------------------------


def _choices(draw: st.DrawFn, size: Size) -> tuple[Choice, ...]:
    count = draw(st.integers(2, size.choices))
    return tuple(Choice(word, word) for word in "abcd"[:count])


@st.composite
def told_facts(draw: st.DrawFn, id_: str, about: About, size: Size) -> FactSpec:
    """A told fact of any kind, as yet without gate and refusal."""
    kinds = list(FactKind) if size.reckoned else [FactKind.CHOICE, FactKind.YES_NO, FactKind.SET]
    kind = draw(st.sampled_from([*kinds, FactKind.CHOICE, FactKind.QUANTITY]))
    spec = FactSpec(id=id_, about=about, kind=kind, place=HERE, title=id_)
    if kind is FactKind.YES_NO:
        spec = replace(spec, choices=YES_NO)
    elif kind is FactKind.CHOICE:
        choices = _choices(draw, size)
        not_yet = frozenset((choices[-1].id,)) if len(choices) > 2 and draw(_rarely()) else ()
        spec = replace(spec, choices=choices, not_yet=frozenset(not_yet))
    elif kind is FactKind.SET:
        choices = _choices(draw, size)[:3]
        alone = choices[0].id if draw(st.booleans()) else None
        spec = replace(spec, choices=choices, alone=alone)
    elif kind is FactKind.QUANTITY:
        kinds_of = (Kind.NUMBER, Kind.COUNT) if size.reckoned else (Kind.COUNT,)
        spec = replace(spec, quantity=draw(st.sampled_from(kinds_of)))
    elif kind is FactKind.LIST:
        spec = replace(spec, quantity=Kind.THICKNESS)
    if kind in (FactKind.YES_NO, FactKind.CHOICE) and draw(_rarely()):
        ids = [choice for choice in spec.choice_ids if choice not in spec.not_yet]
        spec = replace(spec, assume=draw(st.sampled_from(ids)))
    if draw(_rarely()):
        spec = replace(spec, asked=False)
    return replace(spec, hazard=draw(_rarely()))


def _rarely() -> st.SearchStrategy[bool]:
    return st.integers(0, 6).map(lambda roll: roll == 6)


def _sometimes() -> st.SearchStrategy[bool]:
    return st.integers(0, 2).map(lambda roll: roll == 2)


class _Builder:
    """Draws one rule set, fact by fact and rule by rule."""

    def __init__(self, draw: st.DrawFn, size: Size) -> None:
        self.draw = draw
        self.size = size
        self.facts: dict[str, FactSpec] = {}
        self.rules: dict[str, Rule] = {}
        self._treatment = False

    # --- what may be read ---

    def readable(self, *, by_car: bool) -> list[FactSpec]:
        found = [
            spec for spec in self.facts.values() if spec.about is not About.PANEL or not by_car
        ]
        if self._treatment and not by_car:
            found.append(_treatment_as_fact())
        return found

    def condition(self, *, by_car: bool) -> Condition | None:
        specs = self.readable(by_car=by_car)
        if not specs:
            return None
        return self.draw(conditions(specs, self.size.parts))

    # --- facts ---

    def told(self, number: int) -> None:
        draw = self.draw
        about = draw(st.sampled_from((About.SHOP, About.CAR, About.PANEL, About.PANEL)))
        spec = draw(told_facts(f"{about}.f{number}", about, self.size))
        by_car = about is not About.PANEL
        if draw(_sometimes()):
            spec = replace(spec, ask_when=self.condition(by_car=by_car))
        if draw(_sometimes()):
            when = self.condition(by_car=by_car)
            spec = replace(spec, refusal=Refusal(when, "It cannot be.") if when else None)
        self.facts[spec.id] = spec

    def survey(self) -> None:
        """The film readings of a panel with what the supplied reckoners make of them."""
        readings = FactSpec(
            "film.readings", About.PANEL, FactKind.LIST, HERE, "r", quantity=Kind.THICKNESS
        )
        self.facts[readings.id] = readings
        for name, kind in (("film.typical", Kind.THICKNESS), ("film.spots", Kind.COUNT)):
            self.facts[name] = FactSpec(
                name, About.PANEL, FactKind.QUANTITY, HERE, name, quantity=kind, reckoned=name
            )

    def concluded(self, number: int) -> None:
        draw = self.draw
        about = draw(st.sampled_from((About.CAR, About.PANEL)))
        by_car = about is About.CAR
        choices = _choices(draw, self.size)
        ids = [choice.id for choice in choices]
        spec = FactSpec(
            id=f"{about}.c{number}",
            about=about,
            kind=FactKind.CHOICE,
            place=HERE,
            title="c",
            choices=choices,
            otherwise=draw(st.sampled_from(ids)),
            ask_when=self.condition(by_car=by_car) if draw(_rarely()) else None,
        )
        for _ in range(draw(st.integers(1, 3))):
            value = draw(st.sampled_from(ids))
            self.rule(about, lambda value=value: Then(conclude=((spec.id, value),)))
        self.facts[spec.id] = spec

    def gathered(self, number: int) -> None:
        specs = self.readable(by_car=False)
        if not any(spec.about is About.PANEL for spec in specs):
            return
        condition = self.draw(conditions(specs, self.size.parts))
        quantifier = self.draw(st.sampled_from(("any", "every")))
        id_ = f"car.g{number}"
        self.facts[id_] = FactSpec(
            id=id_,
            about=About.CAR,
            kind=FactKind.YES_NO,
            place=HERE,
            title="g",
            choices=YES_NO,
            gathered=Gathered(quantifier, condition),
        )

    def derived(self, number: int) -> None:
        if self.draw(_sometimes()):
            self.gathered(number)
        else:
            self.concluded(number)

    # --- rules ---

    def rule(self, about: About, then: Callable[[], Then], **more: Any) -> None:
        when = self.condition(by_car=about is not About.PANEL)
        if when is not None:
            id_ = f"rule-{len(self.rules)}"
            self.rules[id_] = Rule(id_, about, "t", when, then(), "b", SOURCE, HERE, **more)

    def treatments(self) -> None:
        draw = self.draw
        given: list[str] = []
        for _ in range(draw(st.integers(1, max(1, self.size.rules // 2)))):
            treatment = draw(st.sampled_from(TREATMENTS))
            beats = tuple(draw(st.sets(st.sampled_from(given), max_size=2))) if given else ()
            before = len(self.rules)
            self.rule(
                About.PANEL,
                lambda treatment=treatment: Then(treatment=treatment),
                beats=tuple(sorted(beats)),
                beats_all=draw(_rarely()),
            )
            given += list(self.rules)[before:]
        self._treatment = True

    def outcomes(self) -> None:
        draw = self.draw
        for _ in range(draw(st.integers(0, self.size.rules))):
            about = draw(st.sampled_from((About.CAR, About.PANEL, About.PANEL)))
            kind = draw(st.sampled_from(("holds", "cautions", "steps")))
            topic = draw(st.sampled_from(("x", "y")))
            self.rule(
                about,
                lambda kind=kind, topic=topic: Then(**{kind: (topic,)}),
                applies_while_open=draw(st.booleans()),
            )


def _treatment_as_fact() -> FactSpec:
    choices = tuple(Choice(word, word) for word in TREATMENTS)
    return FactSpec("treatment", About.PANEL, FactKind.CHOICE, HERE, "t", choices=choices)


@st.composite
def rule_sets(draw: st.DrawFn, size: Size = LARGE) -> RuleSet:
    """A rule set that could have been loaded, of moderate size."""
    builder = _Builder(draw, size)
    for number in range(draw(st.integers(1, size.told))):
        builder.told(number)
    if size.reckoned and draw(_sometimes()):
        builder.survey()
    derived = draw(st.integers(0, size.derived))
    after = draw(st.integers(0, derived))
    for number in range(derived - after):
        builder.derived(number)
    builder.treatments()
    for number in range(derived - after, derived):
        builder.derived(number)
    builder.outcomes()
    return as_rule_set(builder.facts, builder.rules)


def as_rule_set(facts: dict[str, FactSpec], rules: dict[str, Rule]) -> RuleSet:
    """A rule set of nothing but facts, rules and treatments."""
    return rule_set(facts.values(), rules.values(), TREATMENTS)


# --- jobs -----------------------------------------------------------------------------------------


def values(spec: FactSpec) -> list[FactValue]:
    """Values that stand for every other in these rule sets."""
    if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
        return [choice for choice in spec.choice_ids if choice not in spec.not_yet]
    if spec.kind is FactKind.SET:
        free = [choice for choice in spec.choice_ids if choice != spec.alone]
        subsets = [
            frozenset(free[place] for place in range(len(free)) if bits >> place & 1)
            for bits in range(2 ** len(free))
        ]
        alone = [frozenset((spec.alone,))] if spec.alone else [frozenset()]
        return [*alone, *(subset for subset in subsets if subset)]
    if spec.kind is FactKind.QUANTITY:
        return list(COUNTS if spec.quantity is Kind.COUNT else NUMBERS)
    return list(SURVEYS) if spec.kind is FactKind.LIST else ["text"]


def answers(spec: FactSpec) -> st.SearchStrategy[Told]:
    """An answer to a told fact; now and then "don't know"."""
    told: list[FactValue | None] = [None, *values(spec)]
    return st.sampled_from(told).map(lambda value: Told(value, ""))


def told_specs(ruleset: RuleSet) -> Iterator[FactSpec]:
    return (spec for spec in ruleset.facts.values() if spec.told)


def places(spec: FactSpec, panels: tuple[str, ...]) -> tuple[str | None, ...]:
    """Whose sheets hold a fact: every panel's, or the one of the car or shop."""
    return panels if spec.about is About.PANEL else (None,)


@st.composite
def jobs(
    draw: st.DrawFn, ruleset: RuleSet, most_panels: int = 3, most_unknown: int | None = None
) -> JobFacts:
    """A job of one panel or more, partly told; with `most_unknown` nearly all told."""
    panels = tuple(f"p{number}" for number in range(draw(st.integers(1, most_panels))))
    job = JobFacts("job", panels={panel: {} for panel in panels})
    slots = [(where, spec) for spec in told_specs(ruleset) for where in places(spec, panels)]
    if most_unknown is None:
        share = draw(st.integers(0, 10))
        kept = [draw(st.integers(0, 9)) < share for _ in slots]
    else:
        number = st.integers(0, max(0, len(slots) - 1))
        unknown = draw(st.sets(number, max_size=most_unknown, min_size=min(1, len(slots))))
        kept = [place not in unknown for place in range(len(slots))]
    for (where, spec), is_told in zip(slots, kept, strict=True):
        if is_told:
            job = job.tell(str(spec.about), where, spec.id, draw(answers(spec)))
    return job
