"""Rules that fire together on one panel and whose order does not settle who is right.

The deepest treatment wins, and a rule that is beaten loses: that settles every panel. It is not
settled sensibly where two rules beat each other, where two rules each claim to beat all others
and ask for different treatments, or where a deeper treatment loses to a rule that itself lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import z3

from engine.prove.encode import Encoding
from engine.prove.witness import PANEL, Shows
from engine.reasoning.evaluate import Evaluation
from engine.reasoning.program import Program, TreatmentRule
from engine.reasoning.settling import settled_depth

Formula = Any


@dataclass(frozen=True, slots=True)
class Question:
    """A conflict that may or may not come about: what to ask, and how a car shows it."""

    code: str
    message: str
    rules: tuple[int, ...]
    formula: Formula
    shows: Shows
    fix: str


def conflict_questions(program: Program, encoding: Encoding) -> Iterator[Question]:
    yield from _mutual(program, encoding)
    yield from _both_all(program, encoding)
    yield from _beaten_by_losers(program, encoding)


def _fires(*rules: int) -> Shows:
    def shows(evaluation: Evaluation) -> bool:
        truths = evaluation.panels[PANEL].truths
        return all(truths[rule] is True for rule in rules)

    return shows


def _mutual(program: Program, encoding: Encoding) -> Iterator[Question]:
    by_index = {rule.index: rule for rule in program.treatment_rules}
    for rule in program.treatment_rules:
        for beater in rule.beaters:
            if rule.index < beater and rule.index in by_index[beater].beaters:
                first, second = (program.rules[index].rule.id for index in (rule.index, beater))
                yield Question(
                    "beat-each-other",
                    f"`{first}` and `{second}` beat each other, and both fire",
                    (rule.index, beater),
                    z3.And(encoding.rules[rule.index].holds, encoding.rules[beater].holds),
                    _fires(rule.index, beater),
                    "Take one of the two `beats` out; `beats: all` counts as one.",
                )


def _both_all(program: Program, encoding: Encoding) -> Iterator[Question]:
    claiming = [
        rule for rule in program.treatment_rules if program.rules[rule.index].rule.beats_all
    ]
    for place, rule in enumerate(claiming):
        for other in claiming[place + 1 :]:
            if other.depth == rule.depth or _related(rule, other):
                continue
            first, second = (program.rules[each.index].rule for each in (rule, other))
            yield Question(
                "both-beat-all",
                f"`{first.id}` and `{second.id}` both beat all other rules, both fire, and ask for "
                f"`{first.then.treatment}` and `{second.then.treatment}`",
                (rule.index, other.index),
                z3.And(encoding.rules[rule.index].holds, encoding.rules[other.index].holds),
                _fires(rule.index, other.index),
                "Keep them from firing together, or let one name the other under `beats`.",
            )


def _related(rule: TreatmentRule, other: TreatmentRule) -> bool:
    return other.index in rule.beaters or rule.index in other.beaters


def _beaten_by_losers(program: Program, encoding: Encoding) -> Iterator[Question]:
    by_index = {rule.index: rule for rule in program.treatment_rules}
    for rule in program.treatment_rules:
        losers = [index for index in rule.beaters if by_index[index].beaters]
        if not losers:
            continue
        fires = encoding.rules[rule.index].holds
        each_lost = [
            z3.Implies(
                encoding.rules[index].holds,
                z3.Or(*(encoding.rules[beater].holds for beater in by_index[index].beaters)),
            )
            for index in rule.beaters
        ]
        any_beats = z3.Or(*(encoding.rules[index].holds for index in rule.beaters))
        deeper = [
            encoding.facts["treatment"].choices[treatment]
            for depth, treatment in enumerate(program.treatments)
            if depth < rule.depth
        ]
        lost = program.rules[rule.index].rule
        yield Question(
            "beaten-by-a-loser",
            f"`{lost.id}` asks for `{lost.then.treatment}` and loses to a rule that itself lost, "
            "so a lighter treatment stands that does not beat it",
            (rule.index, *losers),
            z3.And(fires, any_beats, z3.And(*each_lost), z3.Or(*deeper)),
            _lost_to_losers(program, rule),
            "Let the rule that stands name it under `beats`, or let it not be beaten.",
        )


def _lost_to_losers(program: Program, rule: TreatmentRule) -> Shows:
    by_index = {other.index: other for other in program.treatment_rules}

    def shows(evaluation: Evaluation) -> bool:
        truths = evaluation.panels[PANEL].truths
        beating = [index for index in rule.beaters if truths[index] is True]
        depth = settled_depth(program.treatment_rules, truths)
        return (
            truths[rule.index] is True
            and bool(beating)
            and all(
                any(truths[beater] is True for beater in by_index[index].beaters)
                for index in beating
            )
            and depth is not None
            and 0 <= depth < rule.depth
        )

    return shows
