"""The page of conditions: which tests a fact of each kind takes, out of the filled schemas."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from cli.reference.facts import FILE as FACTS
from cli.reference.facts import facts_linked
from cli.reference.markdown import Page, code, counted, plain
from engine.ruleset.depends import leaves
from engine.ruleset.filled_schemas import filled_schemas
from engine.ruleset.model import FactKind, FactSpec, RuleSet
from engine.ruleset.schema import read_schema

FILE = "conditions.md"
_EQUALS = "one value"
_ONE_OF = "a list of values"


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Conditions", "the tests a condition can make, by the kind of the fact")
    told.paragraph(
        "A condition stands under `when` of a rule, `ask-when` and `refuse-when` of a fact, and "
        "`gathered`. It is a mapping: all of it must hold. Each fact in it has a test; while the "
        "fact is not known, the test is neither true nor false and the rule waits."
    )
    common = read_schema("common.schema.json")["$defs"]
    told.heading("Groups")
    told.items(
        f"`{key}`: {plain(said['description'])}"
        for key, said in common["condition"]["properties"].items()
    )
    told.heading("Words")
    told.items(
        f"`{word}`: {plain(said['description'])}"
        for word, said in common["test"]["properties"].items()
    )
    told.paragraph(
        "Where a quantity is due, a limit may stand, named with `$`. Without a word, one value "
        "means that the fact is that, and a list that it is one of them."
    )
    told.heading("Tests by kind")
    tests = filled_schemas(ruleset)["rules"]["$defs"]["condition"]["properties"]
    for kind in FactKind:
        specs = [spec for spec in ruleset.facts.values() if spec.kind is kind]
        if specs:
            _kind(told, ruleset, kind, specs, tests)
    return told


def _kind(
    told: Page,
    ruleset: RuleSet,
    kind: FactKind,
    specs: list[FactSpec],
    tests: Mapping[str, Any],
) -> None:
    used = Counter(
        leaf.fact
        for rule in ruleset.rules.values()
        for leaf in leaves(rule.when)
        if kind is not FactKind.QUANTITY or leaf.limit is not None
    )
    most = sorted(specs, key=lambda spec: -used[spec.id])[:3]
    told.heading(str(kind), 3)
    told.paragraph(
        f"{counted(len(specs), 'fact')}, such as {facts_linked([spec.id for spec in most], FACTS)}."
    )
    example = most[0]
    operands = list(example.choice_ids) or _limits(ruleset, example)
    ways = dict.fromkeys(_ways(tests[example.id]))
    if len(operands) < 2 or kind is FactKind.YES_NO:
        ways.pop(_ONE_OF, None)
    told.items(
        f"{way if way in (_EQUALS, _ONE_OF) else code(way)}, as in "
        f"{code(_written(example, operands, way))}"
        for way in ways
    )


def _ways(shape: Mapping[str, Any]) -> Iterator[str]:
    """The ways a filled schema lets a test be written."""
    for part in shape.get("anyOf", [shape]):
        if part.get("type") == "object":
            yield from part["properties"]
        else:
            yield _ONE_OF if part.get("type") == "array" else _EQUALS


def _written(spec: FactSpec, operands: list[str], way: str) -> str:
    """A test of that fact written in that way, with names and limits that are there."""
    if way == "known":
        return f"{spec.id}: {{known: no}}"
    if way == _EQUALS:
        return f"{spec.id}: {operands[0]}"
    both = ", ".join((operands * 2)[:2])
    if way == _ONE_OF:
        return f"{spec.id}: [{both}]"
    return f"{spec.id}: {{{way}: {f'[{both}]' if way == 'between' else operands[0]}}}"


def _limits(ruleset: RuleSet, spec: FactSpec) -> list[str]:
    """Limits that rules compare this fact with, the lowest first; a plain number where none do."""
    found = {
        leaf.limit: ruleset.limits[leaf.limit].amount
        for rule in ruleset.rules.values()
        for leaf in leaves(rule.when)
        if leaf.fact == spec.id and leaf.limit is not None
    }
    return [f"${name}" for name in sorted(found, key=lambda name: found[name])] or ["0"]
