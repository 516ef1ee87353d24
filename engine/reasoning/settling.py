"""Which treatment a panel gets from the rules that fired, and which are still possible.

The deepest treatment asked for wins. A rule loses while a rule that beats it fires, whatever
becomes of that other rule. With rules still open the treatment is settled only where every way
they could turn out gives the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.reasoning.kleene import Truth
from engine.reasoning.program import Program, TreatmentRule
from engine.records import dataclass


@dataclass(frozen=True, slots=True)
class Settled:
    """`treatment` is the settled one, or None; then `possible` tells what may still come of it.

    `winners` are the firing rules that ask for the settled treatment, `losers` the firing rules
    that do not, each with the rules that beat it (none where it was merely less deep). `gap` is
    True where every rule is settled and none asks for anything.
    """

    treatment: str | None
    possible: tuple[str, ...]
    winners: tuple[int, ...]
    losers: tuple[tuple[int, tuple[int, ...]], ...]
    gap: bool


def settled_depth(rules: Sequence[TreatmentRule], truths: Sequence[Truth]) -> int | None:
    """The depth of the settled treatment; None while open; -1 where no rule asks for any."""
    sure = possible = -1
    for rule in rules:
        truth = truths[rule.index]
        if truth is False or rule.depth <= sure:
            continue
        beaten: Truth = False
        for beater in rule.beaters:
            if truths[beater] is True:
                beaten = True
                break
            if truths[beater] is None:
                beaten = None
        if beaten is True:
            continue
        if rule.depth > possible:
            possible = rule.depth
        if truth is True and beaten is False:
            sure = rule.depth
    return sure if possible <= sure else None


def still_deciding(rules: Sequence[TreatmentRule], truths: Sequence[Truth]) -> list[int]:
    """Open rules that can still move the treatment, by index: contenders and what beats them.

    A contender goes deeper than what is settled at least, and nothing that fires beats it.
    """
    sure = -1
    for rule in rules:
        if truths[rule.index] is True and all(truths[beater] is False for beater in rule.beaters):
            sure = max(sure, rule.depth)
    found: dict[int, None] = {}
    for rule in rules:
        truth = truths[rule.index]
        if truth is False or rule.depth <= sure:
            continue
        if any(truths[beater] is True for beater in rule.beaters):
            continue
        if truth is None:
            found[rule.index] = None
        for beater in rule.beaters:
            if truths[beater] is None:
                found[beater] = None
    return list(found)


def settle(program: Program, truths: Sequence[Truth]) -> Settled:
    """Settle one panel from the truths of all rules, by rule index."""
    rules = program.treatment_rules
    depth = settled_depth(rules, truths)
    if depth is None:
        return Settled(None, _possible(program, truths), (), (), False)
    if depth < 0:
        return Settled(None, (), (), (), True)
    winners: list[int] = []
    losers: list[tuple[int, tuple[int, ...]]] = []
    for rule in rules:
        if truths[rule.index] is not True:
            continue
        beaten_by = tuple(index for index in rule.beaters if truths[index] is True)
        if beaten_by or rule.depth != depth:
            losers.append((rule.index, beaten_by))
        else:
            winners.append(rule.index)
    treatment = program.treatments[depth]
    return Settled(treatment, (treatment,), tuple(winners), tuple(losers), False)


def most_telling(program: Program, winners: Sequence[int]) -> list[int]:
    """Winning rules in the order to show them: those that say most about the panel first."""
    return sorted(winners, key=lambda index: (-len(program.rules[index].reads), index))


def _possible(program: Program, truths: Sequence[Truth]) -> tuple[str, ...]:
    sure = -1
    depths: set[int] = set()
    for rule in program.treatment_rules:
        truth = truths[rule.index]
        if truth is False or any(truths[beater] is True for beater in rule.beaters):
            continue
        depths.add(rule.depth)
        if truth is True and all(truths[beater] is False for beater in rule.beaters):
            sure = max(sure, rule.depth)
    return tuple(program.treatments[depth] for depth in sorted(depths) if depth >= sure)
