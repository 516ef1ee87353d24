"""How long a person waits for the next question: `python tests/benchmarks/chat_speed.py`.

Processor time is measured, so that a busy machine changes little. Nothing fails here.
"""

from __future__ import annotations

import gc
import time
from dataclasses import replace

from cli.chat.consultation import Consultation
from cli.chat.turns import Prompt
from cli.consult import second_engine
from engine.answers import show_value
from engine.facts import JobFacts
from engine.jobfile import read_job
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder

PANELS = 20
GOAL_MS = 50
"""From an answer to the next question on a quiet machine, at the 99th percentile."""


def twenty_panels(ruleset: RuleSet) -> JobFacts:
    job = read_job(demo_folder() / "bookmobile.yaml", ruleset)
    panels = dict(job.panels)
    for name, sheet in list(panels.items())[: PANELS - len(panels)]:
        panels[f"{name} of the trailer"] = sheet
    return replace(job, panels=panels)


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


def waits(ruleset: RuleSet) -> list[float]:
    job = twenty_panels(ruleset)
    second = second_engine(ruleset)
    talk = Consultation(
        ruleset, JobFacts(job.job), lambda _: None, watch=second.watch() if second else None
    )
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
            found.append(time.process_time() - began)
    finally:
        gc.unfreeze()
    return found


def main() -> None:
    """Measure with the second engine watching, and say how the goal is met."""
    found = sorted(waits(load_ruleset(supplied_ruleset_folder(), with_cases=False)))
    milliseconds = [round(each * 1000, 1) for each in found]
    middle = milliseconds[len(milliseconds) // 2]
    print(
        f"{PANELS} panels, {len(found)} prompts, processor time from an answer to the next "
        f"question: median {middle} ms, longest {milliseconds[-1]} ms (goal {GOAL_MS} ms)"
    )


if __name__ == "__main__":
    main()
