"""What may still come of an answer, and what falls with one that is taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from engine.facts import FactValue, JobFacts
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.kleene import Truth
from engine.reasoning.settling import Settled, settle
from engine.reasoning.wording import Wording
from engine.ruleset.model import FactSpec
from engine.words import counted, say

if TYPE_CHECKING:
    from cli.chat.turns import Prompt
    from engine.reasoning.asking import Inquiry

_PANELS = 3
"""Panels whose prospects are told one by one."""

_STEPS = 2
"""Steps named one by one before they are only counted."""

_NAMED = 6
"""Answers named one by one before the rest is counted."""


def leads(inquiry: Inquiry, job: JobFacts, prompt: Prompt) -> Iterator[str]:
    """What each answer to a question leaves possible, one line for answers that leave the same."""
    spec = prompt.spec
    if spec is None:
        return
    before = evaluate(inquiry.program, job)
    wording = Wording(before)
    for panel in prompt.panels[:_PANELS] or (None,):
        ends: dict[str, list[FactValue]] = {}
        after = {
            told.value: evaluate(inquiry.program, job.tell(str(spec.about), panel, spec.id, told))
            for told in inquiry.domains.of(spec.id)
            if told.value is not None and _alone(told.value)
        }
        # Steps are told only of answers that would otherwise all leave the same.
        for kinds in (("hold", "caution"), ("hold", "caution", "step")):
            ends.clear()
            for value, world in after.items():
                ends.setdefault(_left(before, world, panel, kinds), []).append(value)
            if len(ends) > 1:
                break
        named = f"{panel}: " if panel else ""
        every = sorted({value for values in ends.values() for value in _numbers(values)})
        for end, values in ends.items():
            yield say(
                "{named}{answers} would leave: {end}.",
                named=named,
                answers=_answers(wording, spec, values, every),
                end=end,
            )
    left = len(prompt.panels) - _PANELS
    if left > 0:
        yield say("{counted} not listed here.", counted=counted(left, "more panel"))


def _left(before: Evaluation, after: Evaluation, panel: str | None, kinds: tuple[str, ...]) -> str:
    program = after.program
    found: dict[str, list[str]] = {}
    for name in [panel] if panel else list(after.panels):
        settled = settle(program, after.panels[name].truths)
        possible = say(" or ").join(map(Wording(after).treatment, _ends(settled)))
        possible = possible or say("no rule applies")
        found.setdefault(possible, []).append(name)
    treatments = "; ".join(
        possible if len(found) == 1 else f"{possible} ({counted(len(names), 'panel')})"
        for possible, names in found.items()
    )
    return "; ".join([treatments, *_topics(before, after, kinds)])


def _ends(settled: Settled) -> tuple[str, ...]:
    return (settled.treatment,) if settled.treatment else settled.possible


def _topics(before: Evaluation, after: Evaluation, kinds: tuple[str, ...]) -> Iterator[str]:
    """Holds, cautions and steps that come to stand for sure, and those that are ruled out."""
    was, now = (
        {topic: truth for topic, truth in _standing(world).items() if topic.startswith(kinds)}
        for world in (before, after)
    )
    brought = [topic for topic, truth in now.items() if truth is True and was[topic] is not True]
    ruled_out = [
        topic for topic, truth in now.items() if truth is False and was[topic] is not False
    ]
    if brought:
        yield say("brings {topics}", topics=_listed(Wording(after), brought))
    if ruled_out:
        yield say("rules out {topics}", topics=_listed(Wording(after), ruled_out))


def _listed(wording: Wording, topics: list[str]) -> str:
    """Holds and cautions by name; steps too where they are few."""
    steps = [topic for topic in topics if topic.startswith("step ")]
    few = len(steps) <= _STEPS
    named = [wording.topic(topic) for topic in topics if few or topic not in steps]
    return ", ".join(named if few else [*named, counted(len(steps), "step")])


def _standing(evaluation: Evaluation) -> dict[str, Truth]:
    """Whether each hold, caution and step stands anywhere on the job."""
    found: dict[str, Truth] = {}
    for where in (None, *evaluation.panels):
        truths = evaluation.subject(where).truths
        for compiled in evaluation.program.rules:
            then, truth = compiled.rule.then, truths[compiled.index]
            for kind, topics in (
                ("hold", then.holds),
                ("caution", then.cautions),
                ("step", then.steps),
            ):
                for topic in topics:
                    known = found.get(f"{kind} {topic}", False)
                    either = True if known or truth else None if None in (known, truth) else False
                    found[f"{kind} {topic}"] = either
    return found


def _alone(value: FactValue) -> bool:
    """Whether a value is simple enough to name: one member of a set, no list of readings."""
    return not isinstance(value, tuple) and (not isinstance(value, frozenset) or len(value) == 1)


def _numbers(values: Iterable[FactValue]) -> Iterator[Fraction]:
    return (value for value in values if isinstance(value, Fraction))


def _answers(
    wording: Wording, spec: FactSpec, values: list[FactValue], every: list[Fraction]
) -> str:
    """Answers in words; numbers with none of the others tried between them as a span."""
    shown = [wording.value(spec, value) for value in values if not isinstance(value, Fraction)]
    runs: list[list[Fraction]] = []
    for place in sorted(every.index(number) for number in _numbers(values)):
        if runs and place and runs[-1][-1] == every[place - 1]:
            runs[-1].append(every[place])
        else:
            runs.append([every[place]])
    for run in runs:
        low, high = wording.value(spec, run[0]), wording.value(spec, run[-1])
        shown.append(low if low == high else say("from {low} to {high}", low=low, high=high))
    if len(shown) > _NAMED:
        return say(
            "{shown} or {shown2} other answers",
            shown=", ".join(shown[:_NAMED]),
            shown2=len(shown) - _NAMED,
        )
    return say(" or ").join(shown)


def gone(before: Evaluation, after: Evaluation) -> Iterator[str]:
    """What no longer stands once an answer is taken back, subject by subject."""
    program, wording = after.program, Wording(after)
    for name, panel in before.panels.items():
        was = settle(program, panel.truths).treatment
        now = settle(program, after.panels[name].truths).treatment if name in after.panels else None
        if was and was != now:
            old = wording.treatment(was)
            if now:
                again = wording.treatment(now)
                yield say("{name}: {was} is {now} again", name=name, was=old, now=again)
            else:
                yield say("{name}: {was} is open again", name=name, was=old)
    lost: dict[str, list[str]] = {}
    for where in (None, *before.panels):
        if where is not None and where not in after.panels:
            continue
        for compiled, had, has in zip(
            program.rules, before.subject(where).truths, after.subject(where).truths, strict=True
        ):
            then = compiled.rule.then
            if had is not True or has is True:
                continue
            for kind, topics in (
                ("hold", then.holds),
                ("caution", then.cautions),
                ("step", then.steps),
            ):
                for topic in topics:
                    lost.setdefault(f"{kind} {topic}", []).append(where or say("the car"))
    for what, names in lost.items():
        shown = ", ".join(dict.fromkeys(names))
        yield say(
            "{what} no longer stands for sure: {shown}", what=wording.topic(what), shown=shown
        )
