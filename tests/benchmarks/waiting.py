"""How long a person waits from an answer to the next question, the second engine watching."""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator

from cli.chat.consultation import Consultation
from cli.chat.turns import Prompt
from cli.consult import second_engine
from engine.answers import show_value
from engine.facts import JobFacts
from engine.ruleset import RuleSet
from tests.benchmarks import varied
from tests.benchmarks.measuring import Measured, middle, percentile

PART = "waiting"
PANELS = 20
ROUNDS = 3
_P99 = 0.99


def measure(ruleset: RuleSet, panels: int = PANELS, rounds: int = ROUNDS) -> Iterator[Measured]:
    """Question by question over all panels, then panel by panel.

    Each wait is the least of some rounds of the same talk, each in a fresh consultation with a
    fresh second engine.
    """
    job = varied.panels_of(ruleset, panels)
    for by_panel in (False, True):
        talks = [waits(ruleset, job, by_panel=by_panel) for _ in range(rounds)]
        least = [min(several) for several in zip(*talks, strict=True)]
        way = "panel by panel" if by_panel else "question by question"
        of = f"{panels} panels, {way}, {len(least)} answers"
        yield Measured(PART, f"{of}: median", middle(least), "ms")
        worst = percentile(least, _P99)
        yield Measured(PART, f"{of}: 99th percentile", worst, "ms", goal=20)


def waits(ruleset: RuleSet, job: JobFacts, *, by_panel: bool) -> list[float]:
    """The processor time of every wait of one talk, in ms."""
    second = second_engine(ruleset)
    watch = second.watch() if second else None
    talk = Consultation(ruleset, JobFacts(job.job), lambda _: None, watch=watch)
    talk.by_panel = by_panel
    talk.warm_up()
    gc.freeze()
    found: list[float] = []
    prompt = talk.prompt()
    try:
        while prompt is not None:
            text = answer_for(job, prompt)
            began = time.process_time()
            talk.answer(prompt, text)
            prompt = talk.prompt()
            talk.remaining()
            found.append((time.process_time() - began) * 1000)
    finally:
        gc.unfreeze()
        if second:
            second.close()
    return found


def answer_for(job: JobFacts, prompt: Prompt) -> str:
    if prompt.spec is None:
        return ", ".join(job.panels)
    spec = prompt.spec

    def text(panel: str | None) -> str:
        told = job.sheet(str(spec.about), panel).get(spec.id)
        return "don't know" if told is None else show_value(spec, told.value)

    if not prompt.panels:
        return text(None)
    return "; ".join(f"{panel}: {text(panel)}" for panel in prompt.panels)
