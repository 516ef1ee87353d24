"""From the facts told of a job to a decision for every panel. Same inputs, same decision."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import cast

from engine.decision import (
    Asked,
    Because,
    Decision,
    Findings,
    InsteadOf,
    Notice,
    PanelDecision,
    Refused,
    ShownFact,
    StepDue,
)
from engine.facts import JobFacts
from engine.reasoning.asking import Inquiry, Question
from engine.reasoning.evaluate import Evaluation, Known, Subject, Watch, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, Truth
from engine.reasoning.program import CompiledRule, Program, compile_ruleset
from engine.reasoning.settling import Settled, most_telling, settle
from engine.reasoning.wording import Wording
from engine.ruleset.model import RuleSet
from engine.words import in_its_tongue

EVALUATOR = "evaluator"


@lru_cache(maxsize=16)
def inquiry_for(ruleset: RuleSet) -> Inquiry:
    """The inquiry of a rule set; what it works out about answers is kept between decisions."""
    return Inquiry(compile_ruleset(ruleset))


def decide(
    ruleset: RuleSet,
    facts: JobFacts,
    *,
    watch: Watch | None = None,
    engines: tuple[str, ...] = (EVALUATOR,),
    ask: bool = True,
) -> Decision:
    """Decide every panel of a job.

    `watch` sees every level as it runs (a second engine checks it there); `engines` is recorded
    in the decision. Without `ask` no questions are looked for. Raises `ReasoningDisagreement`
    where a watching engine concludes otherwise.
    """
    return decided(ruleset, facts, watch=watch, engines=engines, ask=ask)[0]


@in_its_tongue
def decided(
    ruleset: RuleSet,
    facts: JobFacts,
    *,
    watch: Watch | None = None,
    engines: tuple[str, ...] = (EVALUATOR,),
    ask: bool = True,
) -> tuple[Decision, Evaluation]:
    """As `decide`, with the evaluation that the decision puts into words."""
    evaluation, questions = evaluated(ruleset, facts, watch=watch, ask=ask)
    return Assembly(evaluation).decision(engines, questions), evaluation


def evaluated(
    ruleset: RuleSet, facts: JobFacts, *, watch: Watch | None = None, ask: bool = True
) -> tuple[Evaluation, tuple[Question, ...]]:
    """What `decide` puts into words: the states it comes to, and the questions it asks."""
    inquiry = inquiry_for(ruleset)
    evaluation = evaluate(inquiry.program, facts, watch)
    if not ask:
        return evaluation, ()
    questions = tuple(inquiry.questions(evaluation))
    return _settle_what_no_answer_changes(inquiry, evaluation, questions), questions


def _settle_what_no_answer_changes(
    inquiry: Inquiry, evaluation: Evaluation, questions: Iterable[Question]
) -> Evaluation:
    """Complete panels whose treatment looks open although no answer can change it.

    It happens where rules cover every answer between them. Any completion then gives the
    treatment; its reasons name the rules that fire in the one chosen.
    """
    anyway: dict[str, list[Truth]] = {}
    for name, panel in evaluation.panels.items():
        settled = settle(inquiry.program, panel.truths)
        if settled.treatment is not None or settled.gap:
            continue
        if any("treatment" in question.parts for question in questions if _bears(question, name)):
            continue
        completed = inquiry.complete(evaluation, name)
        if completed is not None:
            anyway[name] = completed.truths
    if not anyway:
        return evaluation
    return evaluate(inquiry.program, evaluation.job, anyway=anyway)


def _bears(question: Question, panel: str) -> bool:
    return question.panel is None or question.panel == panel


class Assembly:
    """Puts an evaluation into the form in which it is shown and recorded."""

    def __init__(self, evaluation: Evaluation) -> None:
        self._evaluation = evaluation
        self._program: Program = evaluation.program
        self._ruleset = evaluation.program.ruleset
        self._wording = Wording(evaluation)
        self._explainer = Explainer(evaluation)

    def decision(self, engines: tuple[str, ...], questions: Iterable[Question]) -> Decision:
        panels = {name: self._panel(name) for name in self._evaluation.panels}
        return Decision(
            job=self._evaluation.job.job,
            complete=bool(panels) and all(panel.treatment for panel in panels.values()),
            ruleset=self._ruleset.name,
            version=self._ruleset.version,
            digest=self._ruleset.digest,
            engines=engines,
            panels=panels,
            car=self._findings(None),
            questions=tuple(self._asked(question) for question in questions),
            standing_caution=self._ruleset.standing_caution,
        )

    def bare(self) -> Decision:
        """The decision without a word of it: treatments, facts and steps, which plans are made of.

        It has no reasons, holds, cautions or questions, and no texts of facts.
        """
        panels: dict[str, PanelDecision] = {}
        for name, subject in self._evaluation.panels.items():
            settled = settle(self._program, subject.truths)
            panels[name] = PanelDecision(
                name=name,
                treatment=settled.treatment,
                title=None,
                because=(),
                instead_of=(),
                possible=settled.possible,
                gap=settled.gap,
                found=self._bare(name),
            )
        return Decision(
            job=self._evaluation.job.job,
            complete=bool(panels) and all(panel.treatment for panel in panels.values()),
            ruleset=self._ruleset.name,
            version=self._ruleset.version,
            digest=self._ruleset.digest,
            engines=(),
            panels=panels,
            car=self._bare(None),
            questions=(),
            standing_caution="",
        )

    def _bare(self, where: str | None) -> Findings:
        subject = self._evaluation.subject(where)
        facts = self._facts(where, subject, worded=False)
        return Findings(facts, (), (), self._steps(self._rules(where, subject), subject), ())

    def _panel(self, name: str) -> PanelDecision:
        subject = self._evaluation.panels[name]
        settled = settle(self._program, subject.truths)
        return PanelDecision(
            name=name,
            treatment=settled.treatment,
            title=self._title(settled),
            because=tuple(
                self._because(index, name) for index in most_telling(self._program, settled.winners)
            ),
            instead_of=self._instead_of(settled, name),
            possible=settled.possible,
            gap=settled.gap,
            found=self._findings(name),
        )

    def _title(self, settled: Settled) -> str | None:
        return self._ruleset.treatments[settled.treatment].title if settled.treatment else None

    def _because(self, index: int, where: str | None) -> Because:
        rule = self._program.rules[index].rule
        return Because(rule.id, self._wording.because(rule, where), rule.source)

    def _instead_of(self, settled: Settled, name: str) -> tuple[InsteadOf, ...]:
        if settled.treatment is None:
            return ()
        return tuple(
            InsteadOf(treatment, self._explainer.why_not(name, treatment))
            for treatment in self._ruleset.treatments
            if treatment != settled.treatment
        )

    def _findings(self, where: str | None) -> Findings:
        subject = self._evaluation.subject(where)
        rules = self._rules(where, subject)
        return Findings(
            facts=self._facts(where, subject),
            holds=tuple(self._holds(rules, where, subject)),
            cautions=tuple(self._cautions(rules, where, subject)),
            steps=self._steps(rules, subject),
            refused=tuple(
                Refused(fact, self._wording.fill(why, where))
                for fact, why in (*subject.refused.items(), *subject.failed.items())
            ),
        )

    def _rules(self, where: str | None, subject: Subject) -> list[CompiledRule]:
        """The rules that stand for the car or a panel, in the order of the rule set."""
        rules = self._program.rules
        return [
            rules[index]
            for index, truth in enumerate(subject.truths)
            # Of rules that are not about this subject none is anything but false.
            if truth is True or (truth is None and rules[index].rule.applies_while_open)
        ]

    def _holds(
        self, rules: list[CompiledRule], where: str | None, subject: Subject
    ) -> Iterable[Notice]:
        asking = [compiled for compiled in rules if compiled.rule.then.holds]
        for topic in self._ruleset.holds.values() if asking else ():
            for compiled in asking:
                if topic.id in compiled.rule.then.holds:
                    text = self._wording.because(compiled.rule, where)
                    yield self._notice(
                        compiled, subject, topic.id, topic.title, text, text, topic.release
                    )

    def _cautions(
        self, rules: list[CompiledRule], where: str | None, subject: Subject
    ) -> Iterable[Notice]:
        asking = [compiled for compiled in rules if compiled.rule.then.cautions]
        for caution in self._ruleset.cautions.values() if asking else ():
            for compiled in asking:
                if caution.id in compiled.rule.then.cautions:
                    because = self._wording.because(compiled.rule, where)
                    yield self._notice(
                        compiled, subject, caution.id, caution.title, caution.text, because, None
                    )
                    break

    def _notice(
        self,
        compiled: CompiledRule,
        subject: Subject,
        topic: str,
        title: str,
        text: str,
        because: str,
        release: str | None,
    ) -> Notice:
        provisional = subject.truths[compiled.index] is None
        return Notice(
            topic=topic,
            title=title,
            text=text,
            rule=compiled.rule.id,
            because=because,
            source=compiled.rule.source,
            release=release,
            provisional=provisional,
            until=self._unknown_in(compiled, subject) if provisional else (),
        )

    def _unknown_in(self, compiled: CompiledRule, subject: Subject) -> tuple[str, ...]:
        names = {slot: fact for fact, slot in self._program.slots.items()}
        return tuple(
            names[slot]
            for slot in sorted(compiled.reads)
            if subject.vector[slot] is OPEN or subject.vector[slot] is UNSURE
        )

    def _steps(self, rules: list[CompiledRule], subject: Subject) -> tuple[StepDue, ...]:
        found: dict[str, StepDue] = {}
        for compiled in rules:
            if subject.truths[compiled.index] is not True:
                continue
            for name in compiled.rule.then.steps:
                step = self._ruleset.steps[name]
                due = StepDue(name, step.title, step.text, compiled.rule.id, step.phase)
                found.setdefault(name, due)
        order = self._program.step_order
        return tuple(sorted(found.values(), key=lambda due: (due.phase, order[due.step])))

    def _facts(
        self, where: str | None, subject: Subject, *, worded: bool = True
    ) -> dict[str, ShownFact]:
        found: dict[str, ShownFact] = {}
        vector, exact = subject.vector, subject.exact
        for compiled in self._program.car_facts if where is None else self._program.panel_facts:
            state = vector[compiled.slot]
            if state is OPEN or state is UNSURE or state is NOT_APPLICABLE:
                continue
            name = compiled.spec.id
            value: Known = exact.get(compiled.slot, cast(Known, state))
            told = subject.told.get(compiled.slot)
            text = self._wording.value(compiled.spec, value) if worded else ""
            found[name] = ShownFact(compiled.spec, value, text, told)
        return found

    def _asked(self, question: Question) -> Asked:
        spec = self._program.facts[question.fact].spec
        where = question.panel
        return Asked(
            about=question.about,
            panel=where,
            fact=question.fact,
            ask=self._wording.fill(spec.ask or f"{spec.title}?", where),
            how=tuple(self._wording.fill(line, where) for line in spec.how),
            why=question.rules,
            parts=question.parts,
            unsure=question.unsure,
        )


__all__ = ["EVALUATOR", "Assembly", "decide", "decided", "evaluated", "inquiry_for"]
