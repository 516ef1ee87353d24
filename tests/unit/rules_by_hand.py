"""Rule sets of a few facts and rules, put together by hand where a test wants no files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from engine.errors import Place
from engine.ruleset.model import All, Condition, FactSpec, Not, Rule, RuleSet, Table, Treatment
from engine.ruleset.model import Any as AnyOf
from engine.ruleset.source import Source, SourceKind

HERE = Place("by-hand.yaml", 1, 1)
SOURCE = Source(SourceKind.MEMORY)


def every(*parts: Condition) -> All:
    return All(parts, HERE)


def some(*parts: Condition) -> AnyOf:
    return AnyOf(parts, HERE)


def no(part: Condition) -> Not:
    return Not(part, HERE)


def table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Table:
    """A table of a rule set."""
    return Table("by-hand", "By hand", tuple(columns), tuple(map(tuple, rows)), SOURCE, HERE)


def rule_set(
    facts: Iterable[FactSpec], rules: Iterable[Rule], treatments: Iterable[str] = ()
) -> RuleSet:
    """A rule set of nothing but facts, rules and treatments, the lightest of these first."""
    return RuleSet(
        name="by-hand",
        version="1",
        title="By hand",
        digest="",
        facts={spec.id: spec for spec in facts},
        limits={},
        rules={rule.id: rule for rule in rules},
        treatments={
            name: Treatment(name, name, name, depth) for depth, name in enumerate(treatments)
        },
        holds={},
        cautions={},
        standing_caution="",
        steps={},
        products={},
        systems={},
        tables={},
        shown_units={},
        shown_by_default="metric",
    )
