"""Why an outcome is another under new rules: which rules do otherwise than under the old ones."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from engine.impact.outcome import Outcome
from engine.reasoning.settling import still_deciding


class How(StrEnum):
    """What a rule does otherwise."""

    FIRES = "fires"
    QUIET = "quiet"
    OPEN = "open"
    ADDED = "added"
    GONE = "gone"
    SAYS = "says"
    WINS = "wins"
    LOSES = "loses"


_DOES_OTHERWISE = frozenset((How.FIRES, How.QUIET, How.OPEN, How.ADDED, How.GONE, How.SAYS))


@dataclass(frozen=True, slots=True, order=True)
class Cause:
    """A rule and what it does otherwise under the new rules.

    `fires`: it did not before. `quiet`: it fired, or stood while open, and does not any more.
    `open`: it fired or was quiet, and waits for a fact now. `added`, `gone`: it is not in the old
    or not in the new rules. `says`: it fires as before and gives something else. `wins`, `loses`:
    it fires as before, and no longer loses to another rule, or does now.
    """

    rule: str
    how: How


def of_given(
    old: Outcome, new: Outcome, where: str | None, before: Iterable[str], after: Iterable[str]
) -> tuple[Cause, ...]:
    """Why something is given or not: `before` and `after` are the rules that give it."""
    had, has = set(before), set(after)
    causes = [_otherwise(old, new, rule, where) for rule in has ^ had]
    return tuple(sorted(causes))


def of_treatment(old: Outcome, new: Outcome, panel: str) -> tuple[Cause, ...]:
    """Why a panel gets another treatment, or is open now, or no longer."""
    was, now = old.settled[panel].treatment, new.settled[panel].treatment
    if now is None and not new.settled[panel].gap:
        waiting = set(_deciding(new, panel)) - set(_deciding(old, panel))
        return _sorted(_waits(old, rule) for rule in waiting or set(_deciding(new, panel)))
    if was is None and not old.settled[panel].gap:
        return _sorted(_otherwise(old, new, rule, panel) for rule in _deciding(old, panel))
    gains = [_gain(old, new, rule, panel) for rule in _winners(new, panel)]
    losses = [_loss(old, new, rule, panel) for rule in _winners(old, panel)]
    first, second = (gains, losses) if _deeper(old, new, was, now) else (losses, gains)
    telling = [cause for cause in first if cause.how in _DOES_OTHERWISE]
    beside = [cause for cause in second if cause.how in _DOES_OTHERWISE]
    return _sorted(telling or [*first, *beside, *_beaters(old, new, panel, first)])


def _deeper(old: Outcome, new: Outcome, was: str | None, now: str | None) -> bool:
    """Whether the new treatment goes deeper, by the order of the new rules."""
    order = new.ruleset.treatments
    deep = order[now].depth if now is not None else -1
    had = order.get(was) if was is not None else None
    before = had.depth if had else old.ruleset.treatments[was].depth if was is not None else -1
    return deep > before


def _beaters(old: Outcome, new: Outcome, panel: str, causes: Iterable[Cause]) -> Iterator[Cause]:
    """The rules to which rules lose now that they did not lose to before."""
    for cause in causes:
        if cause.how is How.LOSES:
            before, after = _beaten_by(old, panel, cause.rule), _beaten_by(new, panel, cause.rule)
            for rule in after - before:
                found = _otherwise(old, new, rule, panel)
                yield Cause(rule, How.WINS) if found.how is How.SAYS else found


def _beaten_by(outcome: Outcome, panel: str, rule: str) -> set[str]:
    rules = outcome.evaluation.program.rules
    return {
        rules[index].rule.id
        for loser, beaters in outcome.settled[panel].losers
        if rules[loser].rule.id == rule
        for index in beaters
    }


def _gain(old: Outcome, new: Outcome, rule: str, panel: str) -> Cause:
    found = _otherwise(old, new, rule, panel)
    outdone = found.how is How.SAYS and rule not in _winners(old, panel)
    return Cause(rule, How.WINS) if outdone else found


def _loss(old: Outcome, new: Outcome, rule: str, panel: str) -> Cause:
    found = _otherwise(old, new, rule, panel)
    outdone = found.how is How.SAYS and rule not in _winners(new, panel)
    return Cause(rule, How.LOSES) if outdone else found


def _otherwise(old: Outcome, new: Outcome, rule: str, where: str | None) -> Cause:
    """What a rule does otherwise: whether it is there, whether it fires, or what it gives."""
    if rule not in old.ruleset.rules:
        return Cause(rule, How.ADDED)
    if rule not in new.ruleset.rules:
        return Cause(rule, How.GONE)
    before, after = old.truth(rule, where), new.truth(rule, where)
    if before is after:
        return Cause(rule, How.SAYS)
    return Cause(rule, {True: How.FIRES, False: How.QUIET, None: How.OPEN}[after])


def _waits(old: Outcome, rule: str) -> Cause:
    return Cause(rule, How.OPEN if rule in old.ruleset.rules else How.ADDED)


def _deciding(outcome: Outcome, panel: str) -> list[str]:
    """Rules that are open and can still move the treatment."""
    program = outcome.evaluation.program
    truths = outcome.evaluation.panels[panel].truths
    return [
        program.rules[index].rule.id
        for index in still_deciding(program.treatment_rules, truths)
        if outcome.settled[panel].treatment is None
    ]


def _winners(outcome: Outcome, panel: str) -> list[str]:
    rules = outcome.evaluation.program.rules
    return [rules[index].rule.id for index in outcome.settled[panel].winners]


def _sorted(causes: Iterable[Cause]) -> tuple[Cause, ...]:
    return tuple(sorted(set(causes)))
