"""Rules that say the same, rules that can never fire, and conclusions nothing comes to."""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from engine.ruleset.finding import Finding, error, warning
from engine.ruleset.logic import Possible, Said, effects, same_key
from engine.ruleset.model import Rule, RuleSet
from engine.ruleset.phrase import Phrases
from engine.ruleset.report import listed


def logic_findings(ruleset: RuleSet) -> Iterator[Finding]:
    yield from _never_holding(ruleset)
    yield from _same(ruleset)
    yield from _lost_conclusions(ruleset)


def _never_holding(ruleset: RuleSet) -> Iterator[Finding]:
    possible, phrases = Possible(ruleset), Phrases(ruleset)
    for rule in ruleset.rules.values():
        clash = possible.clash(rule.when)
        if clash is not None:
            yield error(
                "never-holds",
                f"`{rule.id}` can never fire: {_together(phrases, clash)}",
                clash[-1].leaf.place,
                _places(clash),
                (rule.id,),
            )
    for spec in ruleset.facts.values():
        for key, condition in (
            ("ask-when", spec.ask_when),
            ("refuse-when", spec.refusal.when if spec.refusal else None),
            ("gathered", spec.gathered.condition if spec.gathered else None),
        ):
            clash = possible.clash(condition) if condition is not None else None
            if clash is not None:
                yield error(
                    "never-holds",
                    f"`{key}` of `{spec.id}` can never hold: {_together(phrases, clash)}",
                    clash[-1].leaf.place,
                    _places(clash),
                    (spec.id,),
                )


def _together(phrases: Phrases, clash: tuple[Said, ...]) -> str:
    tests = [phrases.test(said.leaf, negated=not said.holds) for said in clash]
    if len(tests) == 1:
        return f"nothing makes it so that {tests[0]}"
    return f"{' and '.join(tests)} exclude each other"


def _places(clash: tuple[Said, ...]) -> str:
    places = dict.fromkeys(str(said.leaf.place) for said in clash[:-1])
    beside = f" It clashes with {' and '.join(places)}." if places else ""
    return f"Change a test, or take it out.{beside}"


def _same(ruleset: RuleSet) -> Iterator[Finding]:
    """Rules with the same condition of which one gives nothing that the other does not."""
    seen: dict[Hashable, list[Rule]] = {}
    for rule in ruleset.rules.values():
        key = (rule.about, rule.applies_while_open, same_key(rule.when))
        for other in seen.setdefault(key, []):
            given, given_there = effects(rule), effects(other)
            if given <= given_there:
                yield _duplicate(rule, other, equal=given == given_there)
            elif given_there <= given:
                yield _duplicate(other, rule, equal=False)
        seen[key].append(rule)


def _duplicate(rule: Rule, other: Rule, *, equal: bool) -> Finding:
    gives = "gives the same" if equal else "gives nothing that the other does not"
    return error(
        "same-logic",
        f"`{rule.id}` fires exactly when `{other.id}` does and {gives}",
        rule.place,
        f"`{other.id}` stands at {other.place}; keep one of the two.",
        (rule.id, other.id),
    )


def _lost_conclusions(ruleset: RuleSet) -> Iterator[Finding]:
    """Facts that only retired or replaced rules concluded."""
    concluded = {fact for rule in ruleset.rules.values() for fact, _ in rule.then.conclude}
    for spec in ruleset.facts.values():
        if spec.otherwise is None or spec.id in concluded:
            continue
        changes = ruleset.shop.changes if ruleset.shop else ()
        involved = [change for change in changes if change.what == "rule" and change.replaces]
        place = involved[0].place if len(involved) == 1 else spec.place
        yield warning(
            "never-concluded",
            f"with the shop's changes no rule concludes `{spec.id}`, so it is always "
            f"`{spec.otherwise}`",
            place,
            f"Changed or retired are {listed(str(change.replaces) for change in involved)}; "
            f"conclude `{spec.id}` in a rule of the shop if anything should.",
            (spec.id,),
        )
