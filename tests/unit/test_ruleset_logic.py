"""Which conditions say the same, and which can never hold, whatever the car."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import Place
from engine.reasoning.kleene import NOT_APPLICABLE, UNSURE, compile_condition
from engine.ruleset import load_ruleset
from engine.ruleset.logic import Possible, alternatives, same_key
from engine.ruleset.model import All, Any, Condition, Leaf, Not
from engine.ruleset.model import Test as Ask

HERE = Place("here.yaml", 1, 1)
RULESET = load_ruleset(Path(__file__).parent / "small_ruleset")
POSSIBLE = Possible(RULESET)


def leaf(fact: str, test: Ask, operand: object) -> Leaf:
    return Leaf(fact, test, operand, HERE)


def steel(*names: str) -> Leaf:
    return leaf("substrate", Ask.IS, frozenset(names or ("steel",)))


LEAVES = [
    steel(),
    steel("steel", "plastic"),
    leaf("substrate", Ask.KNOWN, "no"),
    leaf("defects", Ask.INCLUDES, frozenset({"none"})),
    leaf("defects", Ask.INCLUDES, frozenset({"peeling", "cracking"})),
    leaf("dents", Ask.ABOVE, Fraction(2)),
    leaf("dents", Ask.AT_MOST, Fraction(2)),
    leaf("dents", Ask.BELOW, Fraction(4)),
    leaf("dents", Ask.IS, frozenset({Fraction(3)})),
    leaf("panel.refinish", Ask.IS, frozenset({"no"})),
]

# Every state of these facts that the tests above can tell apart.
STATES = {
    "substrate": ["steel", "aluminium", "plastic", UNSURE],
    "defects": [
        frozenset({"none"}), frozenset({"peeling"}), frozenset({"peeling", "cracking"}), UNSURE,
    ],
    "dents": [0.0, 2.0, 3.0, 4.0, 5.0, UNSURE],
    "panel.refinish": ["yes", "no"],
}  # fmt: skip
SLOTS = {fact: slot for slot, fact in enumerate(STATES)}

conditions = st.recursive(
    st.sampled_from(LEAVES),
    lambda inner: st.one_of(
        st.builds(lambda part: Not(part, HERE), inner),
        st.builds(lambda parts: All(tuple(parts), HERE), st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda parts: Any(tuple(parts), HERE), st.lists(inner, min_size=1, max_size=3)),
    ),
    max_leaves=6,
)


def ever_true(condition: Condition) -> bool:
    check = compile_condition(condition, SLOTS)
    return any(check(vector) is True for vector in product(*STATES.values()))


@given(conditions)
@settings(max_examples=300, deadline=None)
def test_impossible_is_what_no_state_makes_true(condition: Condition) -> None:
    """The evaluator over every combination of states is the reference."""
    clash = POSSIBLE.clash(condition)
    if clash is not None:
        assert not ever_true(condition)


@given(st.lists(st.tuples(st.sampled_from(LEAVES), st.booleans()), min_size=1, max_size=5))
@settings(max_examples=300, deadline=None)
def test_a_plain_list_of_tests_is_judged_exactly(tests: list[tuple[Leaf, bool]]) -> None:
    parts = tuple(test if holds else Not(test, HERE) for test, holds in tests)
    condition = All(parts, HERE)
    assert (POSSIBLE.clash(condition) is None) == ever_true(condition)


@given(conditions, conditions)
@settings(max_examples=300, deadline=None)
def test_the_same_key_means_the_same_in_every_state(first: Condition, second: Condition) -> None:
    if same_key(first) == same_key(second):
        checks = [compile_condition(condition, SLOTS) for condition in (first, second)]
        for vector in product(*STATES.values()):
            assert checks[0](vector) == checks[1](vector)


@pytest.mark.parametrize(
    "other",
    [
        All((LEAVES[5], steel()), HERE),
        All((All((steel(),), HERE), LEAVES[5], steel()), HERE),
        Not(Any((Not(steel(), HERE), Not(LEAVES[5], HERE)), HERE), HERE),
    ],
)
def test_order_nesting_and_double_negation_do_not_matter(other: Condition) -> None:
    assert same_key(All((steel(), LEAVES[5]), HERE)) == same_key(other)


def test_above_is_not_the_opposite_of_at_most() -> None:
    """A fact that does not apply is neither above nor at most anything."""
    above, not_at_most = LEAVES[5], Not(LEAVES[6], HERE)
    assert same_key(above) != same_key(not_at_most)
    check = compile_condition(not_at_most, SLOTS)
    vector = ["steel", UNSURE, NOT_APPLICABLE, "yes"]
    assert check(vector) is True


def test_a_condition_too_wide_to_spread_is_taken_as_possible() -> None:
    wide = All(tuple(Any((LEAVES[5], LEAVES[7]), HERE) for _ in range(20)), HERE)
    assert alternatives(wide) is None
    assert POSSIBLE.clash(wide) is None
