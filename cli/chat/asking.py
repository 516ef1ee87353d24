"""What to ask next, and how the question is put."""

from __future__ import annotations

from cli.chat.account import Account
from cli.chat.alongside import is_due, is_vain
from cli.chat.naming import find_fact, leading_panels
from cli.chat.remaining import TOGETHER, Remaining, Tally
from cli.chat.turns import Prompt
from engine.errors import InputError, Problem
from engine.facts import JobFacts, Told
from engine.reasoning.asking import Question
from engine.reasoning.evaluate import Watch, evaluate
from engine.reasoning.tracing import Unknown
from engine.reasoning.wording import Wording
from engine.ruleset.model import About, FactSpec, RuleSet
from engine.words import say


class Asking(Account):
    """Finds the next question, by panel or by question, and counts those that remain."""

    def __init__(self, ruleset: RuleSet, job: JobFacts, watch: Watch | None) -> None:
        super().__init__(ruleset, job, watch)
        self.by_panel = False
        self._here: str | None = None
        self._asked: Prompt | None = None
        self._tally = Tally(self._inquiry)
        # What is worked out once is worked out before the first question, not after an answer.
        self._inquiry.stakes(self.evaluation)

    def warm_up(self) -> None:
        """Work out what the rules alone say, while the panels are still being named."""
        imagined = JobFacts(self.job.job, panels={"panel": {}})
        evaluation = evaluate(self._inquiry.program, imagined)
        self._inquiry.next_question(evaluation)
        Tally(self._inquiry).remaining(evaluation, (), None, by_panel=False)

    def prompt(self) -> Prompt | None:
        """What to ask now; None once no further answer can change an outcome."""
        if not self.job.panels:
            return Prompt(
                None,
                (),
                say("Which panels are to be looked at?"),
                (
                    say("Use your own names, with commas between: bonnet, roof, left front door."),
                    say("More can be added at any time with `panels NAME, NAME`."),
                ),
                (),
                False,
            )
        skip = self._skipped()
        question = self._inquiry.next_question(self.evaluation, [*skip, *self._elsewhere()])
        if question is None and self.by_panel:
            question = self._inquiry.next_question(self.evaluation, skip)
        if question and question.panel is not None:
            self._here = question.panel
        self._asked = self._prompt(question) if question else None
        return self._asked

    def walk(self, *, by_panel: bool) -> None:
        """Walk one panel to its end, or one question over all panels."""
        self.by_panel = by_panel
        self._tally.anew()

    def _skipped(self) -> list[Unknown]:
        """What was answered with "don't know" is not asked again by itself."""
        return [
            (panel, fact)
            for _, panel, fact, told in self.job
            if told.value is None or self._not_yet(fact, told)
        ]

    def _elsewhere(self) -> list[Unknown]:
        """Questions about other panels than the one in hand, walking panel by panel."""
        if not self.by_panel or self._here not in self.job.panels:
            return []
        stakes = self._inquiry.stakes(self.evaluation)
        return [unknown for unknown in stakes if unknown[0] not in (None, self._here)]

    def remaining(self) -> Remaining:
        """How many questions remain, at least and at most, while one is asked."""
        asked = self._asked.spec.id if self._asked and self._asked.spec else None
        return self._tally.remaining(
            self.evaluation, self._skipped(), asked, by_panel=self.by_panel
        )

    def _not_yet(self, fact: str, told: Told) -> bool:
        return isinstance(told.value, str) and told.value in self.ruleset.facts[fact].not_yet

    def _prompt(self, question: Question) -> Prompt:
        fact = self._first_alongside(question)
        spec = self.ruleset.facts[fact]
        misfit = self._misfit(question.panel, fact, question.fact)
        notes = (f"{misfit[0]} {question.panel}: {misfit[1]}",) if misfit else ()
        panels = () if question.panel is None else self._group(question, fact)
        return self._prompt_of(spec, panels, question.rules, notes)

    def _prompt_of(
        self,
        spec: FactSpec,
        panels: tuple[str, ...],
        rules: tuple[str, ...],
        notes: tuple[str, ...] = (),
    ) -> Prompt:
        together = len(panels) > 1 and spec.kind in TOGETHER
        wording = Wording(self.evaluation)
        named = panels[0] if panels else None
        text = wording.fill(spec.ask or f"{spec.title}?", named)
        if together:
            text = wording.fill(
                (spec.ask or f"{spec.title}?").replace("{panel}", "each panel"), named
            )
        how = (*notes, *(wording.fill(line, named) for line in spec.how))
        return Prompt(spec, panels, text, how, rules, together)

    def prompt_for(self, words: str) -> Prompt:
        """The question a person names to give or change its answer: `roof film readings`.

        Panels come first, by name; without one a panel's fact is asked for all panels. Raises
        InputError where no fact is called that, or no panel is named that could have it.
        """
        panels, rest = leading_panels(words, tuple(self.job.panels))
        spec = find_fact(self.ruleset, rest)
        named = panels if spec.about is About.PANEL else ()
        if spec.about is About.PANEL and not named:
            named = tuple(self.job.panels)
            if not named:
                raise InputError(
                    Problem(
                        "no-panels",
                        say("No panel is named yet."),
                        fix=say("Name some with `panels NAME, NAME` first."),
                    )
                )
        return self._prompt_of(spec, named, ())

    def _first_alongside(self, question: Question) -> str:
        """A fact worth asking in the same breath comes first, so that no reading lacks it."""
        for fact in self.ruleset.facts[question.fact].alongside:
            if is_due(self.evaluation, question.panel, fact, question.fact):
                return fact
        return question.fact

    def _misfit(self, panel: str | None, fact: str, asked: str) -> tuple[str, str] | None:
        """What is wrong, and why, where what `fact` was told as does not go with what is asked."""
        wording = Wording(self.evaluation)
        refused = self.evaluation.subject(panel).refused.get(asked)
        if refused:
            return say("Set aside on"), wording.fill(refused, panel)
        refusal = self.ruleset.facts[asked].refusal
        if fact == asked or refusal is None or not is_vain(self.evaluation, panel, fact, asked):
            return None
        return say("It does not do for"), wording.fill(refusal.because, panel)

    def _group(self, question: Question, fact: str) -> tuple[str, ...]:
        """Every panel for which the same question stands, the asked one first."""
        stakes = self._inquiry.stakes(self.evaluation)
        misfit = self._misfit(question.panel, fact, question.fact)
        same = [
            panel
            for panel in self.job.panels
            if (panel, question.fact) in stakes
            and not self.by_panel
            and is_due(self.evaluation, panel, fact, question.fact)
            and self._misfit(panel, fact, question.fact) == misfit
        ]
        first = str(question.panel)
        return (first, *(panel for panel in same if panel != first))

    def _set_aside(self, panel: str | None) -> tuple[str, ...]:
        """Facts of a panel that were told and refused."""
        return tuple(self.evaluation.subject(panel).refused)
