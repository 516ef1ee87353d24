"""A decision as a person reads it: the short table first, then holds, cautions and each panel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cli.output.cautions import until_text, write_cautions
from cli.output.gathering import Held, due_steps, held
from cli.output.page import Page
from cli.output.style import Style
from engine.decision import Asked, Decision, Findings, PanelDecision, Refused
from engine.ruleset.model import RuleSet
from engine.words import counted, language_note, say, separator, within

if TYPE_CHECKING:
    from engine.plan import Progress


def decision_text(
    decision: Decision,
    ruleset: RuleSet,
    style: Style,
    *,
    about_plan: str | None = None,
    at_most: int | None = None,
    whole: str = "prepwright decide",
    progress: Progress | None = None,
) -> str:
    """The whole decision, wrapped to the style's width. `ruleset` is the one that decided it.

    Holds that `progress` says were released no longer hold anything up and are told as released.

    `about_plan` is a line on the plan that stands below the table. A text of more than `at_most`
    lines gives way to its top, with the holds and cautions there are by name and `whole`, the
    command that shows all of it.
    """
    page = _DecisionPage(decision, ruleset, style, about_plan, progress)
    page.write()
    text = page.text()
    if at_most is None or text.count("\n") <= at_most:
        return text
    top = _DecisionPage(decision, ruleset, style, about_plan, progress)
    top.write_top(whole)
    return top.text()


class _DecisionPage(Page):
    def __init__(
        self,
        decision: Decision,
        ruleset: RuleSet,
        style: Style,
        about_plan: str | None,
        progress: Progress | None,
    ) -> None:
        super().__init__(style)
        self._progress = progress
        self._decision = decision
        self._ruleset = ruleset
        self._about_plan = about_plan

    def write(self) -> None:
        self._summary()
        self._car()
        write_cautions(self, self._decision, self._ruleset)
        for panel in self._decision.panels.values():
            self._panel(panel)
        self._step_texts()
        self._colophon()

    def write_top(self, whole: str) -> None:
        self._summary()
        found: list[tuple[str | None, Findings]] = [(None, self._decision.car)]
        found += [(panel.name, panel.found) for panel in self._decision.panels.values()]
        holds = [(where, notice) for where, each in found for notice in each.holds]
        standing = [notice for where, notice in holds if not self._released(notice.topic, where)]
        for heading, notices in (
            (say("Held until"), standing),
            (say("Cautions"), [notice for _, each in found for notice in each.cautions]),
        ):
            if notices:
                self.blank()
                titles = separator().join(dict.fromkeys(notice.title for notice in notices))
                self.paragraph(f"{heading}: {titles}.")
        self.blank()
        self.paragraph(self._decision.standing_caution)
        self.blank()
        self.paragraph(
            say("All of it, with reasons, holds, cautions and steps: {command}", command=whole)
        )
        self._colophon()

    # --- the top -------------------------------------------------------------------------------

    def _summary(self) -> None:
        decision = self._decision
        open_panels = [p for p in decision.panels.values() if p.treatment is None]
        if decision.complete:
            state = say("every panel is decided")
        elif not decision.panels:
            state = say("no panel is named yet")
        else:
            every = counted(len(decision.panels), "panel")
            state = say("{some} of {panels} still open", some=len(open_panels), panels=every)
        self.heading(say("Job {job}: {state}", job=decision.job, state=state))
        rows = [
            (panel.name, self._short(panel), self._main_reason(panel))
            for panel in decision.panels.values()
        ]
        if rows:
            self.blank()
            self.table((say("Panel"), say("Treatment"), say("Main reason")), rows)
        self._meanings()
        if self._about_plan:
            self.blank()
            self.paragraph(self._about_plan)

    def _short(self, panel: PanelDecision) -> str:
        if panel.treatment is None:
            return say("no rule decides") if panel.gap else say("open")
        stands = self._stand(panel.found, panel.name) or self._stand(self._decision.car, None)
        held_back = say(", held") if stands else ""
        # The title of a treatment reads better than its id where that is another language's.
        return f"{self._named(panel.treatment)}{held_back}"

    def _released(self, topic: str, panel: str | None) -> bool:
        return self._progress is not None and self._progress.is_released(topic, panel)

    def _stand(self, found: Findings, panel: str | None) -> bool:
        """Whether a hold there is not released."""
        return any(not self._released(hold.topic, panel) for hold in found.holds)

    def _named(self, treatment: str) -> str:
        english = self._ruleset.tongue is None
        return treatment if english else self._ruleset.treatments[treatment].title

    def _main_reason(self, panel: PanelDecision) -> str:
        if panel.treatment is None:
            return self._open_reason(panel)
        if panel.because:
            return panel.because[0].text
        return say("No answer still missing can change it.")

    def _open_reason(self, panel: PanelDecision) -> str:
        if panel.gap:
            return say("No rule gives a treatment for what was found. Show it to the shop lead.")
        asked = sum(1 for question in self._decision.questions if question.panel == panel.name)
        possible = ""
        if panel.possible:
            possible = say(
                "Still possible: {treatments}.",
                treatments=", ".join(map(self._named, panel.possible)),
            )
        below = say("{questions} open, see below.", questions=counted(asked, "question"))
        return f"{possible} {below}".strip()

    def _meanings(self) -> None:
        given = {panel.treatment for panel in self._decision.panels.values()}
        shown = [each for each in self._ruleset.treatments.values() if each.id in given]
        if shown:
            self.blank()
        for treatment in shown:
            self.paragraph(f"{treatment.id} - {treatment.title}: {treatment.text}")

    # --- the car -------------------------------------------------------------------------------

    def _car(self) -> None:
        found = self._decision.car
        questions = [question for question in self._decision.questions if question.panel is None]
        reckoned = any(fact.spec.reckoned is not None for fact in found.facts.values())
        if not (found.holds or found.steps or found.refused or questions or reckoned):
            return
        self.heading(say("The whole car"))
        self._holds(found, None)
        self._worked_out(found)
        self._step_titles(found)
        self._refused(found.refused)
        self._unknown(questions)

    # --- one panel -----------------------------------------------------------------------------

    def _panel(self, panel: PanelDecision) -> None:
        self.heading(f"{panel.name}: {self._verdict(panel)}")
        self._holds(panel.found, panel.name)
        if panel.treatment is None:
            self.blank()
            self.paragraph(self._open_reason(panel))
        if panel.because:
            self.blank()
            self.label(say("Why"))
            for why in panel.because:
                self.item(f"{why.text} [{why.rule}; {why.source}]")
        self._worked_out(panel.found)
        if panel.instead_of:
            self.blank()
            self.label(say("Why not"))
            for other in panel.instead_of:
                self.item(f"{other.treatment}: {other.why}")
        if panel.found.cautions:
            self.blank()
            titles = dict.fromkeys(caution.title for caution in panel.found.cautions)
            self.paragraph(say("Cautions, in full above: {titles}.", titles="; ".join(titles)))
        self._step_titles(panel.found)
        self._refused(panel.found.refused)
        self._unknown(q for q in self._decision.questions if q.panel == panel.name)

    def _verdict(self, panel: PanelDecision) -> str:
        if panel.treatment is None:
            return say("no rule decides") if panel.gap else say("still open")
        return f"{panel.treatment} - {panel.title}"

    def _holds(self, found: Findings, panel: str | None) -> None:
        holds = held(found)
        standing = [hold for hold in holds if not self._released(hold.topic, panel)]
        if standing:
            self.blank()
            self.label(say("Held until"), self.style.warning)
        for hold in standing:
            self._hold(hold)
        released = [hold.title for hold in holds if self._released(hold.topic, panel)]
        if released:
            self.blank()
            self.paragraph(say("Released: {titles}.", titles="; ".join(released)))

    def _hold(self, hold: Held) -> None:
        reasons = " ".join(hold.reasons)
        rules = ", ".join(hold.rules)
        self.item(f"{hold.title}: {reasons} [{rules}]", marker=self._marker("!"))
        if hold.release:
            self.paragraph(say("Lifted by: {release}", release=hold.release), indent=3)
        if hold.provisional:
            self.paragraph(until_text(self._ruleset, hold.until), indent=3)

    def _worked_out(self, found: Findings) -> None:
        reckoned = [fact for fact in found.facts.values() if fact.spec.reckoned is not None]
        if not reckoned:
            return
        self.blank()
        listed = "; ".join(f"{within(fact.spec.title)}: {fact.in_words}" for fact in reckoned)
        self.paragraph(say("Worked out: {facts}.", facts=listed))

    def _step_titles(self, found: Findings) -> None:
        if not found.steps:
            return
        self.blank()
        self.label(say("Steps, in order"))
        for number, step in enumerate(found.steps, 1):
            self.item(f"{step.title}", marker=f"{number}.")

    def _refused(self, refused: Iterable[Refused]) -> None:
        listed = list(refused)
        if not listed:
            return
        self.blank()
        self.label(say("Set aside"), self.style.warning)
        for each in listed:
            spec = self._ruleset.facts.get(each.fact)
            self.item(f"{spec.title if spec else each.fact}: {each.why}")

    def _unknown(self, questions: Iterable[Asked]) -> None:
        listed = list(questions)
        if not listed:
            return
        self.blank()
        self.label(say("Still unknown"))
        for asked in listed:
            tail = "" if asked.decides else " " + say("(bears on the steps only)")
            unsure = " " + say("You said you do not know.") if asked.unsure else ""
            self.item(f"{asked.ask}{tail}{unsure} [{asked.fact}]", marker=self._marker("?"))
            for line in asked.how:
                self.item(line, marker="-", indent=3)

    def _marker(self, sign: str) -> str:
        return "-" if self.style.plain else sign

    # --- the end -------------------------------------------------------------------------------

    def _step_texts(self) -> None:
        steps = due_steps(self._decision)
        if not steps:
            return
        self.heading(say("How each step is done"))
        for due in steps:
            self.label(f"{due.step.title} ({', '.join(due.where)})")
            self.paragraph(due.step.text, indent=2)

    def _colophon(self) -> None:
        decision = self._decision
        self.blank()
        about = say(
            "Rule set {name} {version}, {digest}. Reasoned by {engines}.",
            name=decision.ruleset,
            version=decision.version,
            digest=decision.digest,
            engines=say(" and ").join(decision.engines),
        )
        self.paragraph(about, dress=self.style.faint)
        note = language_note()
        if note:
            self.paragraph(note, dress=self.style.faint)
