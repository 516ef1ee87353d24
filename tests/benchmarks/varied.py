"""Jobs made from the demonstration job: more or fewer panels, no two told alike."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

from engine.facts import JobFacts, Told
from engine.jobfile import read_job
from engine.ruleset import RuleSet
from engine.supplied import demo_folder

SEED = 7
"""The same jobs every time."""

_SPREAD = Fraction(1, 10)


def demonstration(ruleset: RuleSet) -> JobFacts:
    """The demonstration job as it stands."""
    return read_job(demo_folder() / "bookmobile.yaml", ruleset)


def panels_of(ruleset: RuleSet, count: int, *, seed: int = SEED) -> JobFacts:
    """The demonstration job with so many panels, each with readings of its own."""
    job = demonstration(ruleset)
    draw = random.Random(seed)
    names = list(job.panels)
    panels = {
        (names[at] if at < len(names) else f"{names[at % len(names)]} {at // len(names)}"): {
            fact: _varied(told, draw) for fact, told in job.panels[names[at % len(names)]].items()
        }
        for at in range(count)
    }
    return replace(job, panels=panels)


def jobs(ruleset: RuleSet, count: int, *, seed: int = SEED) -> list[JobFacts]:
    """Jobs of one to as many panels as the demonstration has, in a mixture of its panels."""
    job = demonstration(ruleset)
    draw = random.Random(seed)
    names = list(job.panels)
    made = []
    for number in range(count):
        chosen = draw.sample(names, draw.randint(1, len(names)))
        shop = {fact: _varied(told, draw) for fact, told in job.shop.items()}
        panels = {
            name: {fact: _varied(told, draw) for fact, told in job.panels[name].items()}
            for name in chosen
        }
        made.append(JobFacts(f"{job.job}-{number}", shop, job.car, panels))
    return made


def _varied(told: Told, draw: random.Random) -> Told:
    """The same answer, measured again: numbers a little otherwise, words as they were."""
    if isinstance(told.value, tuple):
        spots = tuple(tuple(_near(one, draw) for one in spot) for spot in told.value)
        return replace(told, value=spots)
    return told


def _near(number: Fraction, draw: random.Random) -> Fraction:
    share = Fraction(draw.randint(-100, 100), 100) * _SPREAD
    return Fraction(round(number * (1 + share) * 10), 10)
