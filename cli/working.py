"""Recording work on a stored job, and saying what came of it: for the commands and for the chat."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cli.output.safe import neutral
from engine.words import say

if TYPE_CHECKING:
    from cli.output.page import Page
    from cli.output.style import Style
    from cli.work import Workbench
    from engine.decision import Decision
    from engine.plan.compare import PlanDifference


_LONGEST = 2000
"""The longest note or record of a signature, in characters."""


_MOST_ASKED = 8


class NotYet(Exception):
    """Something comes before the work that was said to be done; `blockers` says what, in words."""

    def __init__(self, blockers: Sequence[str]) -> None:
        super().__init__("; ".join(blockers))
        self.blockers = tuple(blockers)


def record_done(
    bench: Workbench,
    step: str,
    panel: str | None,
    who: str,
    *,
    note: str | None = None,
    anyway: bool = False,
) -> list[str]:
    """Record that a step is done; returns what to say.

    Raises UsageError where it is not due, NotYet where something comes before it (unless
    `anyway`).
    """
    from engine.answers import read_text
    from engine.trail.work import step_done

    if note is not None:
        read_text(note, say("the note"), longest=_LONGEST, lines=True)
    due = bench.due(step, panel)
    blockers = bench.blockers(due)
    if blockers and not anyway:
        raise NotYet(blockers)
    bench.append(*(step_done(bench.job, who, each.step.id, each.panel, note=note) for each in due))
    lines = [
        neutral(
            say(
                "Done: {title} ({where})", title=each.step.title, where=each.panel or say("the car")
            )
        )
        for each in due
    ]
    if bench.is_number(step):
        lines.append(say("What is left is numbered anew; `next` shows it."))
    return lines


def record_signed(
    bench: Workbench,
    hold: str,
    panel: str | None,
    recorded: str,
    who: str,
    *,
    instrument: str | None = None,
) -> list[str]:
    """Release a hold; returns what to say. Raises UsageError, InputError for the text."""
    from engine.answers import read_text
    from engine.trail.work import hold_signed

    text = read_text(recorded, say("what is recorded"), longest=_LONGEST, lines=True)
    _check_instrument(instrument)
    topic, panels = bench.hold(hold, panel)
    bench.append(
        *(
            hold_signed(bench.job, who, topic.id, name, text, instrument=instrument)
            for name in panels
        )
    )
    return [
        neutral(
            say(
                "Signed by {who}: {title} ({where}): {text}",
                who=who,
                title=topic.title,
                where=name or say("the car"),
                text=text,
            )
        )
        for name in panels
    ]


def _check_instrument(instrument: str | None) -> None:
    from engine.answers import read_text

    if instrument is not None:
        read_text(instrument, say("what it was measured with"))


def record_found(
    bench: Workbench,
    ruleset_folder: Path | None,
    findings: Sequence[str],
    who: str,
    style: Style,
    *,
    instrument: str | None = None,
) -> str:
    """Record a surprise and decide again; returns what it changes.

    Raises UsageError, InputError.
    """
    from cli.consult import consult
    from cli.output.page import Page
    from cli.output.reasons import write_difference
    from cli.recording import record, sealed
    from cli.telling import told_changes
    from engine.plan import make_plan
    from engine.plan.compare import compare
    from engine.reasoning.supposing import difference
    from engine.trail import EntryKind
    from engine.trail.changing import changes

    _check_instrument(instrument)
    facts = bench.facts
    for change in told_changes(bench.ruleset, facts, findings, by=who):
        facts = facts.tell(change.about, change.panel, change.fact, change.told)
    before = consult(bench.ruleset, bench.facts)
    after = consult(bench.ruleset, facts)
    drafts = changes(bench.facts, facts, who, kind=EntryKind.FOUND, instrument=instrument)
    with bench.store.writing():
        if drafts:
            bench.append(*drafts)
        record(
            bench.store,
            ruleset_folder,
            bench.ruleset,
            facts,
            after,
            who,
            expected_last=bench.last,
        )
    page = Page(style)
    page.heading(say("{job}: found {findings}", job=bench.job, findings="; ".join(findings)))
    write_difference(page, difference(before, after), bench.ruleset)
    plans = [
        make_plan(bench.ruleset, decision, progress=bench.progress) for decision in (before, after)
    ]
    _write_open(page, after)
    _write_plan(page, compare(plans[0], plans[1]))
    page.blank()
    page.paragraph(sealed(bench.store, who, "finding", bench.job))
    return page.text()


def _write_open(page: Page, decision: Decision) -> None:
    """What has to be answered before the plan is whole: work on an open panel is not in it."""
    undecided = [name for name, panel in decision.panels.items() if panel.treatment is None]
    if not undecided:
        return
    page.heading(say("What has to be answered first"))
    page.paragraph(
        say(
            "Not decided: {undecided}. Till then the plan lacks their work.",
            undecided=", ".join(undecided),
        )
    )
    asked = [question for question in decision.open_questions if question.decides]
    for question in asked[:_MOST_ASKED]:
        page.item(f"{question.ask} ({question.panel or 'the car'})", marker="?")
    if len(asked) > _MOST_ASKED:
        page.paragraph(
            say(
                "and {asked} more; the conversation asks them in turn",
                asked=len(asked) - _MOST_ASKED,
            )
        )


def _write_plan(page: Page, change: PlanDifference) -> None:
    page.heading(say("What it does to the plan"))
    if not change:
        page.paragraph(say("Nothing changes in the work left."))
        return
    for marker, pieces in (("+", change.new), ("-", change.gone)):
        for title, panel in pieces:
            page.item(f"{title} ({panel or 'the car'})", marker=marker)
    page.item(
        say(
            "Hours of all people: {before}, now {after}",
            before=change.hours.before,
            after=change.hours.after,
        ),
        marker="*",
    )
    for amount in change.materials:
        page.item(
            say(
                "{title}: {before}, now {after}",
                title=amount.title,
                before=amount.before or say("none"),
                after=amount.after or say("none"),
            ),
            marker="*",
        )
