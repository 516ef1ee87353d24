"""Decision tables, decided by the hit policies of the standard for them and by the rules here.

Source: OMG, Decision Model and Notation (DMN) 1.3, clause 8.2.10, "Hit policy": priority (the
matching row whose output stands first in the list of outputs), any, collect and rule order. The
clause was not read again; the policies are written down from memory, in a few lines that share no
code with the project. A treatment here is a priority policy whose list runs from the deepest to
the lightest; holds, cautions and steps collect.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.facts import JobFacts, Told
from engine.quantity import Kind
from engine.reasoning.decide import decide
from engine.reasoning.evaluate import evaluate
from engine.reasoning.program import compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset.model import (
    About,
    All,
    Choice,
    Condition,
    FactKind,
    FactSpec,
    Leaf,
    Rule,
    RuleSet,
    Then,
)
from engine.ruleset.model import Test as Comparison
from tests.property.strategies import HERE, SOURCE, TREATMENTS, as_rule_set, thorough

PANEL = "p"
COLOURS = ("red", "green", "blue")
ANY = "-"
"""The entry of a table that every input meets."""


@dataclass(frozen=True)
class Row:
    """One row of a table: an entry for each input, and its output."""

    colour: str
    least: int | None
    below: int | None
    output: str

    def meets(self, colour: str, number: int) -> bool:
        return (
            self.colour in (ANY, colour)
            and (self.least is None or number >= self.least)
            and (self.below is None or number < self.below)
        )


# --- the standard's policies, written down independently ------------------------------------------


def hits(table: list[Row], colour: str, number: int) -> list[Row]:
    return [row for row in table if row.meets(colour, number)]


def by_priority(table: list[Row], colour: str, number: int) -> str | None:
    """The output that stands first in the list of outputs, here the deepest treatment."""
    outputs = {row.output for row in hits(table, colour, number)}
    return next((output for output in reversed(TREATMENTS) if output in outputs), None)


def collected(table: list[Row], colour: str, number: int) -> list[str]:
    """Outputs in the order of the rows, each once."""
    return list(dict.fromkeys(row.output for row in hits(table, colour, number)))


# --- the same table as rules ----------------------------------------------------------------------


def facts() -> dict[str, FactSpec]:
    choices = tuple(Choice(word, word) for word in COLOURS)
    return {
        "colour": FactSpec("colour", About.PANEL, FactKind.CHOICE, HERE, "c", choices=choices),
        "number": FactSpec(
            "number", About.PANEL, FactKind.QUANTITY, HERE, "n", quantity=Kind.COUNT
        ),
    }


def condition(row: Row) -> Condition:
    parts: list[Condition] = []
    if row.colour != ANY:
        parts.append(Leaf("colour", Comparison.IS, frozenset((row.colour,)), HERE))
    if row.least is not None:
        parts.append(Leaf("number", Comparison.AT_LEAST, Fraction(row.least), HERE))
    if row.below is not None:
        parts.append(Leaf("number", Comparison.BELOW, Fraction(row.below), HERE))
    if not parts:
        # A row that everything meets still has to read something that is told.
        parts.append(Leaf("number", Comparison.AT_LEAST, Fraction(0), HERE))
    return All(tuple(parts), HERE)


def as_rules(table: list[Row], then: str) -> RuleSet:
    rules = {}
    for number, row in enumerate(table):
        given = Then(treatment=row.output) if then == "treatment" else Then(steps=(row.output,))
        id_ = f"row-{number}"
        rules[id_] = Rule(id_, About.PANEL, "t", condition(row), given, "b", SOURCE, HERE)
    return as_rule_set(facts(), rules)


def told(colour: str, number: int) -> JobFacts:
    sheet = {"colour": Told(colour, colour), "number": Told(Fraction(number), str(number))}
    return JobFacts("table", panels={PANEL: sheet})


rows = st.builds(
    Row,
    st.sampled_from((ANY, *COLOURS)),
    st.one_of(st.none(), st.integers(0, 4)),
    st.one_of(st.none(), st.integers(1, 5)),
    st.sampled_from(TREATMENTS),
)
tables = st.lists(rows, min_size=1, max_size=8)
INPUTS = list(product(COLOURS, range(6)))


@thorough(150)
@given(tables)
def test_treatments_settle_by_priority(table: list[Row]) -> None:
    ruleset = as_rules(table, "treatment")
    program = compile_ruleset(ruleset)
    for colour, number in INPUTS:
        truths = evaluate(program, told(colour, number)).panels[PANEL].truths
        found = settle(program, truths)
        wanted = by_priority(table, colour, number)
        assert found.treatment == wanted
        assert found.gap is (wanted is None)
        winners = {program.rules[index].rule.id for index in found.winners}
        losers = {program.rules[index].rule.id for index, _ in found.losers}
        met = {f"row-{at}" for at, row in enumerate(table) if row.meets(colour, number)}
        assert winners | losers == met
        assert winners == {
            f"row-{at}"
            for at, row in enumerate(table)
            if row.meets(colour, number) and row.output == wanted
        }


@thorough(60)
@given(tables)
def test_a_decision_gives_the_treatment_of_the_table(table: list[Row]) -> None:
    ruleset = as_rules(table, "treatment")
    for colour, number in INPUTS[::3]:
        decision = decide(ruleset, told(colour, number))
        assert decision.panels[PANEL].treatment == by_priority(table, colour, number)


@thorough(100)
@given(tables)
def test_steps_collect(table: list[Row]) -> None:
    ruleset = as_rules(table, "steps")
    program = compile_ruleset(ruleset)
    for colour, number in INPUTS:
        truths = evaluate(program, told(colour, number)).panels[PANEL].truths
        fired = [rule.rule for rule in program.rules if truths[rule.index] is True]
        steps = list(dict.fromkeys(step for rule in fired for step in rule.then.steps))
        assert steps == collected(table, colour, number)


# --- one table by hand ----------------------------------------------------------------------------

RISK = [
    # Shaped like the table of applicant risk in the standard (from memory): two inputs, five rows
    # that share none of their inputs, so that every policy gives the same.
    Row("green", 4, None, "sand"),
    Row("red", 4, None, "strip"),
    Row(ANY, 2, 4, "sand"),
    Row("green", None, 2, "leave"),
    Row("red", None, 2, "sand"),
]


@pytest.mark.parametrize(
    ("colour", "number", "output"),
    [
        ("green", 5, "sand"),
        ("green", 4, "sand"),
        ("red", 4, "strip"),
        ("red", 3, "sand"),
        ("green", 2, "sand"),
        ("green", 1, "leave"),
        ("red", 0, "sand"),
        ("blue", 1, None),
    ],
)
def test_a_table_whose_rows_share_no_input(colour: str, number: int, output: str | None) -> None:
    assert len(hits(RISK, colour, number)) == (1 if output else 0)
    decision = decide(as_rules(RISK, "treatment"), told(colour, number))
    assert decision.panels[PANEL].treatment == output
