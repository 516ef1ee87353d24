"""The bounds on the questions left hold, however a consultation goes on."""

from __future__ import annotations

from functools import cache

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from strategies import SMALL, rule_sets, thorough

from cli.chat.alongside import is_vain
from cli.chat.consultation import Consultation
from cli.chat.remaining import Remaining
from cli.chat.turns import Prompt
from engine.answers import show_value
from engine.facts import JobFacts
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder

FAR_TOO_MANY = 300


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


class Run:
    """A consultation answered at random to its end, with what was said to remain at each prompt."""

    def __init__(self, ruleset: RuleSet, panels: int, *, by_panel: bool, draw: st.DrawFn) -> None:
        names = [f"p{number}" for number in range(panels)]
        job = JobFacts("BM-7", panels={name: {} for name in names})
        self._talk = Consultation(ruleset, job, lambda _: None)
        self._talk.walk(by_panel=by_panel)
        self._draw = draw
        self._in_one_line = draw(st.booleans())
        self.said: list[Remaining] = []
        self.set_aside = self.told_in_vain = False

    def to_its_end(self) -> None:
        while (prompt := self._talk.prompt()) is not None and len(self.said) < FAR_TOO_MANY:
            self.said.append(self._talk.remaining())
            self._talk.answer(prompt, self._answer(prompt))
            evaluation = self._talk.evaluation
            subjects = (evaluation.car, *evaluation.panels.values())
            self.set_aside |= any(subject.refused for subject in subjects)
            self.told_in_vain |= self._in_vain(prompt)

    def _in_vain(self, prompt: Prompt) -> bool:
        """Whether what goes along with the fact just told would be set aside, as readings are by
        a gauge that does not read this metal."""
        evaluation = self._talk.evaluation
        assert prompt.spec is not None
        return any(
            is_vain(evaluation, panel, prompt.spec.id, spec.id)
            for spec in evaluation.program.ruleset.facts.values()
            if prompt.spec.id in spec.alongside
            for panel in (prompt.panels or (None,))
        )

    def _answer(self, prompt: Prompt) -> str:
        if not prompt.panels or not (prompt.together or self._in_one_line):
            return self._value(prompt)
        return "; ".join(f"{panel}: {self._value(prompt)}" for panel in prompt.panels)

    def _value(self, prompt: Prompt) -> str:
        assert prompt.spec is not None
        if self._draw(st.integers(0, 7)) == 0:
            return "don't know"
        answers = self._talk._inquiry.domains.of(prompt.spec.id)
        value = self._draw(st.sampled_from([told.value for told in answers if told.value]))
        return show_value(prompt.spec, value)


@st.composite
def runs(draw: st.DrawFn, rule_set: st.SearchStrategy[RuleSet]) -> Run:
    panels, by_panel = draw(st.integers(1, 3)), draw(st.booleans())
    run = Run(draw(rule_set), panels, by_panel=by_panel, draw=draw)
    run.to_its_end()
    return run


def check(run: Run) -> None:
    prompts = len(run.said)
    assert prompts < FAR_TOO_MANY
    left = [prompts - place for place in range(prompts)]
    assert all(said.least <= real for said, real in zip(run.said, left, strict=True))
    # What is set aside, or was told in vain, is asked for again, and again if told no better.
    assume(not run.set_aside and not run.told_in_vain)
    assert all(real <= said.most for said, real in zip(run.said, left, strict=True))


@given(runs(rule_sets(SMALL)))
@thorough(150)
def test_the_bounds_hold_whatever_the_rules(run: Run) -> None:
    check(run)


@given(st.data())
@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_the_bounds_hold_for_the_supplied_rules(data: st.DataObject) -> None:
    check(data.draw(runs(st.builds(supplied))))
