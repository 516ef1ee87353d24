"""How the evaluator's time grows with the rules and with the panels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from engine.facts import JobFacts
from engine.reasoning.evaluate import evaluate
from engine.reasoning.program import Program, compile_ruleset
from engine.ruleset import Rule, RuleSet
from tests.benchmarks import varied
from tests.benchmarks.measuring import Measured, each, exponent, middle

PART = "growth"
RULES = (50, 200, 545, 2000, 5000, 10_000)
PANELS = (1, 5, 20, 100, 500, 2000, 5000)
_JOB = 5
_LARGE = 100
"""Sizes from here on tell the exponent: below, what every decision costs weighs more."""


def measure(
    ruleset: RuleSet, rules: tuple[int, ...] = RULES, panels: tuple[int, ...] = PANELS
) -> Iterator[Measured]:
    """The median of a few decisions at every size, and the powers fitted to them."""
    times = []
    for count in rules:
        program = compile_ruleset(with_rules(ruleset, count))
        jobs = [varied.panels_of(ruleset, _JOB, seed=seed) for seed in range(7)]
        evaluate(program, jobs.pop())
        times.append(_median(program, jobs))
        yield Measured(PART, f"{count} rules, {_JOB} panels: evaluator", times[-1], "ms")
    yield from _fitted("rules", rules, times)
    program = compile_ruleset(ruleset)
    times = []
    for count in panels:
        rounds = 5 if count <= _LARGE else 1
        jobs = [varied.panels_of(ruleset, count, seed=seed) for seed in range(rounds)]
        times.append(_median(program, jobs))
        yield Measured(PART, f"{count} panels: evaluator", times[-1], "ms")
    yield from _fitted("panels", panels, times)


def _median(program: Program, jobs: list[JobFacts]) -> float:
    return middle(each([lambda job=job: evaluate(program, job) for job in jobs]))


def _fitted(what: str, sizes: tuple[int, ...], times: list[float]) -> Iterator[Measured]:
    large = [(size, time) for size, time in zip(sizes, times, strict=True) if size >= _LARGE]
    points = large if len(large) > 1 else list(zip(sizes, times, strict=True))
    if len(points) > 1:
        power = exponent(*zip(*points, strict=True))
        # A goal of one exactly would be missed by half of all runs of something linear.
        yield Measured(PART, f"power of the number of {what}", power, "", goal=1.05)


def with_rules(ruleset: RuleSet, count: int) -> RuleSet:
    """The rule set with so many rules: every so-manieth of its own, or copies under new ids."""
    own = list(ruleset.rules.values())
    if count < len(own):
        chosen = [own[place * len(own) // count] for place in range(count)]
        left = {rule.id for rule in chosen}
        made = [replace(rule, beats=_among(rule, left)) for rule in chosen]
    else:
        made = own + [_copy(own[place % len(own)], place) for place in range(len(own), count)]
    return replace(ruleset, rules={rule.id: rule for rule in made})


def _copy(rule: Rule, place: int) -> Rule:
    return replace(rule, id=f"{rule.id}-{place}", beats=())


def _among(rule: Rule, left: set[str]) -> tuple[str, ...]:
    return tuple(name for name in rule.beats if name in left)
