"""A consultation: taking answers and going back. Knows no screen.

The state is what was told; every turn keeps the state before it, so that going back is exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cli.chat.asking import Asking
from cli.chat.bulk import Part, split_bulk
from cli.chat.meaning import Proposal, proposal
from cli.chat.outlook import gone
from cli.chat.trouble import Trouble, diagnosis, finding, parting
from cli.chat.turns import Prompt, Settlement, Turn, split_names
from engine.answers import read_answer, read_panel_name
from engine.errors import InputError, Problem
from engine.facts import JobFacts
from engine.reasoning.evaluate import Watch
from engine.reasoning.settling import most_telling
from engine.reasoning.wording import Wording
from engine.ruleset.model import FactSpec, RuleSet
from engine.words import say

Save = Callable[[JobFacts], None]


class Consultation(Asking):
    """Asks and is answered. `save` is called with the job after every accepted answer."""

    def __init__(
        self,
        ruleset: RuleSet,
        job: JobFacts,
        save: Save,
        *,
        watch: Watch | None = None,
        stamp: Callable[[], str] | None = None,
        by: str | None = None,
    ) -> None:
        super().__init__(ruleset, job, watch)
        self.turns: list[Turn] = []
        self.withdrawn: tuple[str, ...] = ()
        self._save = save
        self._stamp = stamp
        self._by = by
        self._in_trouble: tuple[str, ...] = ()

    # --- answering -----------------------------------------------------------------------------

    def answer(self, prompt: Prompt, text: str) -> list[Settlement]:
        """Take an answer; returns what it settled. Raises InputError and changes nothing else."""
        before = self.job
        if prompt.spec is None:
            job = self._with_panels(text)
        elif not prompt.panels:
            job = self._tell(self.job, prompt.spec, None, text)
        else:
            job = self._tell_panels(prompt, text)
        return self._accept(job, Turn(before, prompt, text))

    def _tell_panels(self, prompt: Prompt, text: str) -> JobFacts:
        assert prompt.spec is not None
        job = self.job
        for part in self._parts(prompt.spec, text, prompt):
            for panel in part.panels:
                job = self._tell(job, prompt.spec, panel, part.value)
        return job

    def proposal(self, prompt: Prompt, text: str) -> Proposal | None:
        """What free words may mean as an answer, to be confirmed; None where nothing is found."""
        if prompt.spec is None:
            return None
        if not prompt.panels:
            return proposal(prompt.spec, (Part((), text),))
        try:
            return proposal(prompt.spec, self._parts(prompt.spec, text, prompt))
        except InputError:
            return None

    def _parts(self, spec: FactSpec, text: str, prompt: Prompt) -> tuple[Part, ...]:
        default = prompt.panels if prompt.together else prompt.panels[:1]
        names = tuple(self.job.panels)
        if ":" not in text and ";" not in text and self._reads(spec, text):
            return (Part(default, text.strip()),)
        return split_bulk(text, names, default, prompt.panels)

    @staticmethod
    def _reads(spec: FactSpec, text: str) -> bool:
        try:
            read_answer(spec, text)
        except InputError:
            return False
        return True

    def _tell(self, job: JobFacts, spec: FactSpec, panel: str | None, text: str) -> JobFacts:
        told = read_answer(spec, text)
        told = replace(told, by=self._by, at=self._stamp() if self._stamp else None)
        for other in self._set_aside(panel):
            if spec.id in self.ruleset.facts[other].alongside:
                # What was told under the wrong circumstances does not become right under others.
                job = job.withdraw(str(self.ruleset.facts[other].about), panel, other)
        return job.tell(str(spec.about), panel, spec.id, told)

    def _with_panels(self, text: str) -> JobFacts:
        names = [read_panel_name(name.strip()) for name in split_names(text)]
        if not names:
            raise InputError(
                Problem(
                    "no-panels",
                    say("no panel was named"),
                    fix=say("For example: bonnet, roof, tailgate."),
                )
            )
        panels = dict(self.job.panels)
        for name in names:
            if any(name.lower() == had.lower() for had in panels):
                raise InputError(
                    Problem(
                        "same-panel",
                        say("`{name}` is there twice", name=name),
                        fix=say("Name each panel once."),
                    )
                )
            panels[name] = {}
        return replace(self.job, panels=panels)

    def add_panels(self, text: str) -> list[Settlement]:
        """Add panels later on."""
        prompt = Prompt(None, (), say("Panels added"), (), (), False)
        return self._accept(self._with_panels(text), Turn(self.job, prompt, text))

    def take_over(self, job: JobFacts) -> list[Settlement]:
        """Go on with a job that somebody else changed; returns what that settled.

        Earlier answers cannot be taken back any more: going back would undo the other's work.
        """
        was = self.treatments()
        self.evaluation = self._evaluate(job)
        self.job = job
        self.turns.clear()
        self._tally.anew()
        return self._settled_since(was)

    def _accept(self, job: JobFacts, turn: Turn) -> list[Settlement]:
        evaluation = self._evaluate(job)
        # Saved before anything is shown: an answer that was taken is never lost.
        self._save(job)
        was = self.treatments()
        self.job, self.evaluation = job, evaluation
        self.turns.append(turn)
        if turn.prompt is self._asked:
            self._tally.answered()
        else:
            self._tally.anew()
        return self._settled_since(was)

    def back(self) -> Turn | None:
        """Withdraw the last answer; returns it, or None where there is none."""
        if not self.turns:
            return None
        turn = self.turns[-1]
        self._save(turn.before)
        self.turns.pop()
        self._tally.anew()
        was, self.job = self.evaluation, turn.before
        self.evaluation = self._evaluate(turn.before)
        self.withdrawn = tuple(gone(was, self.evaluation))
        return turn

    # --- faults after spraying -----------------------------------------------------------------

    def take_trouble(self, trouble: Trouble) -> list[Settlement]:
        """Tell the faults that were understood; the questions that part their causes come next."""
        job = self.job
        for panel in trouble.panels:
            for spec, text in trouble.answers:
                earlier = job.panels[panel].get(spec.id)
                if earlier and isinstance(earlier.value, frozenset):
                    kept = sorted(earlier.value - {spec.alone})
                    text = ", ".join(dict.fromkeys([*kept, *text.split(", ")]))
                job = self._tell(job, spec, panel, text)
        prompt = Prompt(trouble.answers[0][0], trouble.panels, say("Faults"), (), (), False)
        settled = self._accept(job, Turn(self.job, prompt, trouble.answers[0][1]))
        self._in_trouble = trouble.panels
        return settled

    def trouble_prompt(self) -> Prompt | None:
        """The next question that parts the causes of the faults in hand."""
        for panel in self._in_trouble:
            if panel in self.job.panels:
                for _, fact in parting(self._inquiry, self.evaluation, panel):
                    return self._prompt_of(self.ruleset.facts[fact], (panel,), ())
        return None

    def look_again(self, panels: tuple[str, ...]) -> None:
        """Take up panels whose faults were told before."""
        self._in_trouble = panels

    def diagnoses(self) -> tuple[list[str], list[str]]:
        """Cause, way back and remedy of the faults in hand, which are in hand no longer.

        Also a line a panel for the record.
        """
        panels = [panel for panel in self._in_trouble if panel in self.job.panels]
        self._in_trouble = ()
        lines = [line for panel in panels for line in diagnosis(self.evaluation, panel)]
        return lines, [finding(self.evaluation, panel) for panel in panels]

    def _settled_since(self, was: dict[str, str | None]) -> list[Settlement]:
        found: list[Settlement] = []
        wording = Wording(self.evaluation)
        for panel in self.evaluation.panels:
            settled = self._settled(panel)
            if settled.treatment == was.get(panel):
                continue
            why = ""
            if settled.winners:
                program = self.evaluation.program
                rule = program.rules[most_telling(program, settled.winners)[0]].rule
                why = wording.because(rule, panel)
            found.append(Settlement(panel, settled.treatment, was.get(panel), why))
        return found
