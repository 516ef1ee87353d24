"""A consultation: what to ask next, taking answers, going back. Knows no screen.

The state is what was told; every turn keeps the state before it, so that going back is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from cli.chat.bulk import Part, match_panels, split_bulk
from cli.chat.meaning import Proposal, proposal
from cli.chat.naming import find_fact, leading_panels
from cli.chat.outlook import Remaining, gone, leads, remaining
from cli.chat.trouble import Trouble, diagnosis, finding, parting
from cli.chat.turns import Prompt, Settlement, Turn, show_told, split_names
from engine.answers import read_answer, read_panel_name, show_value
from engine.choices import choice_words
from engine.errors import InputError, Problem
from engine.facts import JobFacts, Told
from engine.reasoning.asking import Question
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import Evaluation, Watch, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.settling import Settled, most_telling, settle
from engine.reasoning.tracing import Unknown
from engine.reasoning.wording import Wording
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet

Save = Callable[[JobFacts], None]


class Consultation:
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
        self.ruleset = ruleset
        self.job = job
        self.turns: list[Turn] = []
        self.withdrawn: tuple[str, ...] = ()
        self._save = save
        self._watch = watch
        self._stamp = stamp
        self._by = by
        self._inquiry = inquiry_for(ruleset)
        self.by_panel = False
        self._here: str | None = None
        self._in_trouble: tuple[str, ...] = ()
        self.evaluation = self._evaluate(job)
        # What is worked out once is worked out before the first question, not after an answer.
        self._inquiry.stakes(self.evaluation)

    # --- asking --------------------------------------------------------------------------------

    def prompt(self) -> Prompt | None:
        """What to ask now; None once no further answer can change an outcome."""
        if not self.job.panels:
            return Prompt(
                None,
                (),
                "Which panels are to be looked at?",
                (
                    "Use your own names, with commas between: bonnet, roof, left front door.",
                    "More can be added at any time with `panels NAME, NAME`.",
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
        return self._prompt(question) if question else None

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
        return remaining(self._inquiry, self.evaluation, self._skipped(), by_panel=self.by_panel)

    def _not_yet(self, fact: str, told: Told) -> bool:
        return isinstance(told.value, str) and told.value in self.ruleset.facts[fact].not_yet

    def _prompt(self, question: Question) -> Prompt:
        fact = self._first_alongside(question)
        spec = self.ruleset.facts[fact]
        refused = self.evaluation.subject(question.panel).refused.get(question.fact)
        set_aside = (f"Set aside on {question.panel}: {refused}",) if refused else ()
        panels = () if question.panel is None else self._group(question, fact)
        return self._prompt_of(spec, panels, question.rules, set_aside)

    def _prompt_of(
        self,
        spec: FactSpec,
        panels: tuple[str, ...],
        rules: tuple[str, ...],
        notes: tuple[str, ...] = (),
    ) -> Prompt:
        together = len(panels) > 1 and spec.kind in (
            FactKind.CHOICE,
            FactKind.SET,
            FactKind.YES_NO,
        )
        wording = Wording(self.evaluation)
        named = panels[0] if panels else None
        text = wording.fill(spec.ask or f"{spec.title}?", named)
        if together:
            text = wording.fill(
                (spec.ask or f"{spec.title}?").replace("{panel}", "each panel"), named
            )
        how = tuple(wording.fill(line, named) for line in (*notes, *spec.how))
        return Prompt(spec, panels, text, how, rules, together)

    def prompt_for(self, words: str) -> Prompt:
        """The question a person names to give or change its answer: `roof film readings`.

        Panels come first, by name; without one a panel's fact is asked for all panels. Raises
        InputError where no fact is called that.
        """
        panels, rest = leading_panels(words, tuple(self.job.panels))
        spec = find_fact(self.ruleset, rest)
        named = panels if spec.about is About.PANEL else ()
        if spec.about is About.PANEL and not named:
            named = tuple(self.job.panels)
        return self._prompt_of(spec, named, ())

    def _first_alongside(self, question: Question) -> str:
        """A fact worth asking in the same breath comes first, so that no reading lacks it."""
        for fact in self.ruleset.facts[question.fact].alongside:
            spec = self.ruleset.facts[fact]
            sheet = self.job.sheet(str(spec.about), question.panel)
            if fact not in sheet or question.fact in self._set_aside(question.panel):
                return fact
        return question.fact

    def _group(self, question: Question, fact: str) -> tuple[str, ...]:
        """Every panel for which the same question stands, the asked one first."""
        stakes = self._inquiry.stakes(self.evaluation)
        same = [
            panel
            for panel in self.job.panels
            if (panel, question.fact) in stakes
            and not self.by_panel
            and (fact not in self.job.panels[panel] or question.fact in self._set_aside(panel))
        ]
        first = str(question.panel)
        return (first, *(panel for panel in same if panel != first))

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
        default = prompt.panels if prompt.together else prompt.panels[:1]
        job = self.job
        for part in self._parts(prompt.spec, text, default):
            for panel in part.panels:
                job = self._tell(job, prompt.spec, panel, part.value)
        return job

    def proposal(self, prompt: Prompt, text: str) -> Proposal | None:
        """What free words may mean as an answer, to be confirmed; None where nothing is found."""
        if prompt.spec is None:
            return None
        if not prompt.panels:
            return proposal(prompt.spec, (Part((), text),))
        default = prompt.panels if prompt.together else prompt.panels[:1]
        try:
            return proposal(prompt.spec, self._parts(prompt.spec, text, default))
        except InputError:
            return None

    def _parts(self, spec: FactSpec, text: str, default: Sequence[str]) -> tuple[Part, ...]:
        names = tuple(self.job.panels)
        if ":" not in text and ";" not in text and self._reads(spec, text):
            return (Part(tuple(default), text.strip()),)
        return split_bulk(text, names, default)

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

    def _set_aside(self, panel: str | None) -> tuple[str, ...]:
        """Facts of a panel that were told and refused."""
        return tuple(self.evaluation.subject(panel).refused)

    def _with_panels(self, text: str) -> JobFacts:
        names = [read_panel_name(name.strip()) for name in split_names(text)]
        if not names:
            raise InputError(
                Problem(
                    "no-panels", "no panel was named", fix="For example: bonnet, roof, tailgate."
                )
            )
        panels = dict(self.job.panels)
        for name in names:
            if any(name.lower() == had.lower() for had in panels):
                raise InputError(
                    Problem("same-panel", f"`{name}` is there twice", fix="Name each panel once.")
                )
            panels[name] = {}
        return replace(self.job, panels=panels)

    def add_panels(self, text: str) -> list[Settlement]:
        """Add panels later on."""
        prompt = Prompt(None, (), "Panels added", (), (), False)
        return self._accept(self._with_panels(text), Turn(self.job, prompt, text))

    def take_over(self, job: JobFacts) -> list[Settlement]:
        """Go on with a job that somebody else changed; returns what that settled.

        Earlier answers cannot be taken back any more: going back would undo the other's work.
        """
        was = self.treatments()
        self.evaluation = self._evaluate(job)
        self.job = job
        self.turns.clear()
        return self._settled_since(was)

    def _accept(self, job: JobFacts, turn: Turn) -> list[Settlement]:
        evaluation = self._evaluate(job)
        # Saved before anything is shown: an answer that was taken is never lost.
        self._save(job)
        was = self.treatments()
        self.job, self.evaluation = job, evaluation
        self.turns.append(turn)
        return self._settled_since(was)

    def back(self) -> Turn | None:
        """Withdraw the last answer; returns it, or None where there is none."""
        if not self.turns:
            return None
        turn = self.turns[-1]
        self._save(turn.before)
        self.turns.pop()
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
        prompt = Prompt(trouble.answers[0][0], trouble.panels, "Faults", (), (), False)
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

    # --- telling -------------------------------------------------------------------------------

    def treatments(self) -> dict[str, str | None]:
        """The treatment of every panel, None while it is open."""
        return {name: self._settled(name).treatment for name in self.evaluation.panels}

    def _settled(self, panel: str) -> Settled:
        return settle(self.evaluation.program, self.evaluation.panels[panel].truths)

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

    def why(self, prompt: Prompt) -> list[str]:
        """Why a question is asked: the rules that wait for it and what may still come of them."""
        if prompt.spec is None:
            return ["Every decision is made panel by panel."]
        lines: list[str] = []
        rules = {compiled.rule.id: compiled.rule for compiled in self.evaluation.program.rules}
        for rule_id in prompt.rules[:6]:
            rule = rules[rule_id]
            leads_to = rule.then.treatment or ", ".join(
                (*rule.then.holds, *rule.then.cautions, *rule.then.steps)
            )
            lines.append(f"{rule_id} could lead to {leads_to or 'another fact'} ({rule.source}).")
        if len(prompt.rules) > 6:
            lines.append(f"... and {len(prompt.rules) - 6} more rules wait for it.")
        lines += leads(self._inquiry, self.job, prompt)
        for panel in prompt.panels[:3]:
            possible = self._settled(panel).possible
            if possible:
                lines.append(f"{panel}: still possible: {', '.join(possible)}.")
        return lines

    def explain(self, panel: str) -> list[str]:
        """The tree of reasons for one panel, indented."""
        return [
            "  " * depth + reason.text
            for depth, reason in Explainer(self.evaluation).treatment(panel).walk()
        ]

    def show(self, who: str = "") -> list[str]:
        """What was told so far, for all or for the panels that fit a name."""
        names = match_panels(who, tuple(self.job.panels)) if who else tuple(self.job.panels)
        lines: list[str] = []
        wording = Wording(self.evaluation)
        if not who:
            for about in ("shop", "car"):
                lines += [
                    f"{self.ruleset.facts[fact].title}: {told.written or show_told(told)}"
                    for fact, told in self.job.sheet(about).items()
                ]
        for name in names:
            settled = self._settled(name)
            state = (
                settled.treatment or f"open ({', '.join(settled.possible) or 'no rule applies'})"
            )
            lines.append(f"{name}: {state}")
            for fact, told in self.job.panels[name].items():
                spec = self.ruleset.facts[fact]
                shown = show_value(spec, told.value, wording.unit(spec.quantity))
                lines.append(f"  {spec.title}: {shown}")
        return lines

    def shown(self, spec: FactSpec, told: Told) -> str:
        """How a told fact was understood, in the units of the region."""
        if told.value is None:
            return "not known"
        return show_value(spec, told.value, Wording(self.evaluation).unit(spec.quantity))

    def told(self, prompt: Prompt) -> str:
        """What was answered before to a question, to be changed; empty where panels differ."""
        if prompt.spec is None:
            return ""
        answers = {
            told.written
            for panel in prompt.panels or (None,)
            if (told := self.job.sheet(str(prompt.spec.about), panel).get(prompt.spec.id))
        }
        return answers.pop() if len(answers) == 1 else ""

    def words(self, prompt: Prompt) -> list[str]:
        """What may be typed: choices with their other words, and panel names."""
        found = list(choice_words(prompt.spec)) if prompt.spec else []
        return [*found, *self.job.panels]

    def _evaluate(self, job: JobFacts) -> Evaluation:
        return evaluate(self._inquiry.program, job, self._watch)
