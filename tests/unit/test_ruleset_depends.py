"""The graph of what waits for what, and the circles in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.quantity import Kind
from engine.reckoning.reckoners import RECKONERS
from engine.ruleset import load_ruleset
from engine.ruleset.depends import TREATMENT_NODE, cycles, dependencies, facts_read, leaves
from engine.ruleset.names import comparable

SMALL = Path(__file__).parent / "small_ruleset"


def test_graph_of_the_small_rule_set() -> None:
    ruleset = load_ruleset(SMALL)
    graph = dependencies(ruleset.facts.values(), ruleset.rules.values(), RECKONERS)
    assert graph[("rule", "film-over-limit")] == (("fact", "film.typical"),)
    assert graph[("fact", "film.typical")] == (("fact", "film.readings"),)
    assert graph[("fact", "film.readings")] == (("fact", "film.gauge"), ("fact", "substrate"))
    assert graph[("fact", "panel.bares-metal")] == (("rule", "film-over-limit"),)
    assert graph[("fact", "car.any-stripped")] == (TREATMENT_NODE,)
    assert graph[TREATMENT_NODE] == (
        ("rule", "film-over-limit"),
        ("rule", "film-within-limit"),
        ("rule", "not-refinished"),
    )
    assert graph[("fact", "substrate")] == ()
    assert cycles(graph) == []


def test_leaves_are_found_in_every_group() -> None:
    rule = load_ruleset(SMALL).rules["film-within-limit"]
    assert [leaf.fact for leaf in leaves(rule.when)] == ["film.typical", "defects", "substrate"]
    assert facts_read(rule.when) == {"film.typical", "defects", "substrate"}
    assert facts_read(None) == frozenset()


def test_two_separate_circles_are_both_found() -> None:
    a, b, c, d = (("rule", name) for name in "abcd")
    found = cycles({a: (b,), b: (a,), c: (d,), d: (c, a)})
    assert sorted(map(sorted, found)) == [[a, b], [c, d]]


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        (Kind.THICKNESS, Kind.DEPTH, True),
        (Kind.TEMPERATURE, Kind.TEMPERATURE_DIFFERENCE, False),
        (Kind.NUMBER, Kind.COUNT, True),
        (Kind.NUMBER, Kind.YEAR, True),
        (Kind.COUNT, Kind.YEAR, False),
        (Kind.NUMBER, Kind.PERCENT, False),
        (Kind.AREA, Kind.VOLUME, False),
    ],
)
def test_what_can_be_held_against_what(first: Kind, second: Kind, same: bool) -> None:
    assert comparable(first, second) is same
    assert comparable(second, first) is same
