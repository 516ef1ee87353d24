"""What a consultation can say of itself: what was told, what is settled, and why."""

from __future__ import annotations

from cli.chat.bulk import match_panels
from cli.chat.outlook import leads
from cli.chat.turns import Prompt
from engine.answers import show_value
from engine.choices import choice_words
from engine.facts import JobFacts, Told
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import Evaluation, Watch, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.rerun import evaluate_again
from engine.reasoning.settling import Settled, settle
from engine.reasoning.wording import Wording
from engine.ruleset.model import FactSpec, Rule, RuleSet
from engine.words import say, sentence

NOT_KNOWN = sentence("not known")
"""How an answer "don't know" is shown."""

_RULES = 6
"""Waiting rules named one by one before the rest is counted."""


class Account:
    """The job as it was told, and the state of its evaluation."""

    def __init__(self, ruleset: RuleSet, job: JobFacts, watch: Watch | None) -> None:
        self.ruleset = ruleset
        self.job = job
        self._watch = watch
        self._inquiry = inquiry_for(ruleset)
        self.evaluation = evaluate(self._inquiry.program, job, watch)

    def _evaluate(self, job: JobFacts) -> Evaluation:
        return evaluate_again(self.evaluation, job, self._watch)

    def treatments(self) -> dict[str, str | None]:
        """The treatment of every panel, None while it is open."""
        return {name: self._settled(name).treatment for name in self.evaluation.panels}

    def _settled(self, panel: str) -> Settled:
        return settle(self.evaluation.program, self.evaluation.panels[panel].truths)

    def why(self, prompt: Prompt) -> list[str]:
        """Why a question is asked: the rules that wait for it and what may still come of them."""
        if prompt.spec is None:
            return [say("Every decision is made panel by panel.")]
        found = {compiled.rule.id: compiled.rule for compiled in self.evaluation.program.rules}
        rules = sorted((found[name] for name in prompt.rules), key=_weight)
        lines: list[str] = []
        if len(rules) == 1:
            lines.append(say("1 rule waits for it:"))
        elif rules:
            lines.append(say("{count} rules wait for it:", count=len(rules)))
        for rule in rules[:_RULES]:
            lines.append(f"  {self._could_bring(rule)} ({rule.id}; {rule.source})")
        if len(rules) > _RULES:
            lines.append(say("  and {rules} more.", rules=len(rules) - _RULES))
        lines += leads(self._inquiry, self.job, prompt)
        for panel in prompt.panels[:3]:
            possible = self._settled(panel).possible
            if possible:
                lines.append(
                    say(
                        "{panel}: still possible: {possible}.",
                        panel=panel,
                        possible=", ".join(map(Wording(self.evaluation).treatment, possible)),
                    )
                )
        return lines

    def _could_bring(self, rule: Rule) -> str:
        """What a rule brings where it fires, in the words of its outcomes."""
        then, ruleset = rule.then, self.ruleset
        wording = Wording(self.evaluation)
        brought = []
        if then.treatment:
            treatment = wording.treatment(then.treatment)
            brought.append(say("treatment {treatment}", treatment=treatment))
        brought += [say("hold: {title}", title=ruleset.holds[name].title) for name in then.holds]
        brought += [
            say("caution: {title}", title=ruleset.cautions[name].title) for name in then.cautions
        ]
        brought += [say("step: {title}", title=ruleset.steps[name].title) for name in then.steps]
        brought += [
            f"{ruleset.facts[name].title}: {wording.choice(ruleset.facts[name], value)}"
            for name, value in then.conclude
        ]
        return ", ".join(brought)

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
                for fact, told in self.job.sheet(about).items():
                    spec = self.ruleset.facts[fact]
                    lines.append(f"{spec.title}: {self.shown(spec, told)}")
        for name in names:
            settled = self._settled(name)
            possible = ", ".join(map(wording.treatment, settled.possible))
            state = (
                wording.treatment(settled.treatment)
                if settled.treatment
                else say("open ({treatments})", treatments=possible or say("no rule applies"))
            )
            lines.append(f"{name}: {state}")
            for fact, told in self.job.panels[name].items():
                spec = self.ruleset.facts[fact]
                lines.append(f"  {spec.title}: {self.shown(spec, told)}")
        return lines

    def shown(self, spec: FactSpec, told: Told) -> str:
        """How a told fact was understood, in the units of the region."""
        if told.value is None:
            return say(NOT_KNOWN)
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


def _weight(rule: Rule) -> tuple[bool, bool, bool]:
    """Rules that bear on the treatment come first, then those on holds and cautions."""
    then = rule.then
    return not then.treatment, not then.holds, not then.cautions
