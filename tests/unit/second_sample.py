"""Small programs for the tests of the second engine, and what it fires of them."""

from __future__ import annotations

from fractions import Fraction

from engine.facts import JobFacts, Told
from engine.quantity import Kind
from engine.reasoning.evaluate import evaluate
from engine.reasoning.program import Program, compile_ruleset
from engine.reasoning.second import SecondEngine
from engine.ruleset.model import About, Choice, Condition, FactKind, FactSpec, Leaf, Not, Rule, Then
from engine.ruleset.model import Test as LeafTest
from tests.unit.rules_by_hand import HERE, SOURCE, rule_set

ON_PANEL, ON_CAR = About.PANEL, About.CAR
NO, YES = Choice("no", "No"), Choice("yes", "Yes")


def fact(id_: str, kind: FactKind, *choices: str, about: About = ON_PANEL) -> FactSpec:
    quantity = Kind.NUMBER if kind is FactKind.QUANTITY else None
    listed = tuple(Choice(choice, choice) for choice in choices)
    return FactSpec(id_, about, kind, HERE, id_, quantity=quantity, choices=listed)


def leaf(fact_id: str, test: LeafTest, operand: object) -> Leaf:
    return Leaf(fact_id, test, operand, HERE)  # type: ignore[arg-type]


def one_of(fact_id: str, *choices: str) -> Leaf:
    return leaf(fact_id, LeafTest.IS, frozenset(choices))


def program(facts: list[FactSpec], conditions: dict[str, Condition]) -> Program:
    about = {spec.id: spec.about for spec in facts}
    rules = (
        Rule(
            name,
            ON_CAR if all(about[read] is ON_CAR for read in second_reads(condition)) else ON_PANEL,
            "t",
            condition,
            Then(holds=("x",)),
            "b",
            SOURCE,
            HERE,
        )
        for name, condition in conditions.items()
    )
    return compile_ruleset(rule_set(facts, rules, ("sand",)))


def second_reads(condition: Condition) -> set[str]:
    if isinstance(condition, Leaf):
        return {condition.fact}
    if isinstance(condition, Not):
        return second_reads(condition.part)
    return {read for part in condition.parts for read in second_reads(part)}


def job(**told: object) -> JobFacts:
    """A job of one panel, `None` for "don't know"."""
    sheet = {name: Told(value, "") for name, value in told.items()}  # type: ignore[arg-type]
    return JobFacts("job", panels={"bonnet": sheet})


def fired(engine: SecondEngine, compiled: Program, facts: JobFacts) -> set[str]:
    """What the second engine alone fires for the panel, over all levels; both must agree too."""
    evaluation = evaluate(compiled, facts, watch=engine.watch())
    panel = evaluation.panels["bonnet"]
    found: set[int] = set()
    for number, level in enumerate(compiled.levels):
        if level.panel_rules:
            found |= engine.fires(number, panel, "bonnet")
    return {compiled.rules[index].rule.id for index in found}


def simple() -> Program:
    facts = [
        fact("c", FactKind.CHOICE, "a", "b"),
        fact("n", FactKind.QUANTITY),
        fact("car.k", FactKind.CHOICE, "a", "b", about=ON_CAR),
    ]
    return program(
        facts,
        {
            "film-over": leaf("n", LeafTest.ABOVE, Fraction(5)),
            "choice-a": one_of("c", "a"),
            "on-car": one_of("car.k", "a"),
        },
    )
