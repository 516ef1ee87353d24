"""A plan as a crew reads it: days, cautions, tasks in order, lists, and what is not certain."""

from __future__ import annotations

from collections.abc import Iterable

from cli.output.cautions import write_cautions
from cli.output.gathering import WHOLE_CAR
from cli.output.page import Page
from cli.output.plan_calendar import write_calendar
from cli.output.plan_lists import write_cost, write_hours, write_materials, write_notes
from cli.output.plan_mixes import write_mixes
from cli.output.plan_solvent import write_solvent
from cli.output.plan_tasks import write_tasks
from cli.output.plan_words import counted, in_all, in_full, moment
from cli.output.style import Style
from engine.decision import Decision
from engine.plan import Plan
from engine.plan.setting import BOOTH
from engine.ruleset.model import RuleSet
from engine.words import language_note, say


def plan_text(plan: Plan, decision: Decision, ruleset: RuleSet, style: Style) -> str:
    """The whole plan, wrapped to the style's width."""
    page = Page(style)
    _write_top(page, plan, decision)
    if plan.tasks:
        write_calendar(page, plan)
        write_cautions(page, decision, ruleset, lambda where: _called(plan, where))
        write_tasks(page, plan)
        write_materials(page, plan)
        write_mixes(page, plan)
        write_solvent(page, plan)
        write_hours(page, plan)
        write_cost(page, plan)
    write_notes(page, plan)
    page.blank()
    page.paragraph(
        say(
            "Rule set {ruleset} {version}, {digest}.",
            ruleset=decision.ruleset,
            version=decision.version,
            digest=decision.digest,
        ),
        dress=style.faint,
    )
    note = language_note()
    if note:
        page.paragraph(note, dress=style.faint)
    return page.text()


def about_plan(plan: Plan, command: str | None = None) -> str | None:
    """The plan in one line, with the command that shows it; None where no work is due."""
    if not plan.tasks:
        return None
    where = say("; see `{command}`", command=command) if command else ""
    return say("Planned: {in_all}{where}.", in_all=in_all(plan), where=where)


def _called(plan: Plan, where: Iterable[str]) -> str:
    return in_full(plan, (None if name == say(WHOLE_CAR) else name for name in where))


def _write_top(page: Page, plan: Plan, decision: Decision) -> None:
    if not plan.tasks:
        page.heading(
            say(
                "Plan of job {job}: {nothing_left}",
                job=decision.job,
                nothing_left=_nothing_left(plan),
            )
        )
    else:
        tasks = counted(len(plan.tasks), "task")
        page.heading(
            say(
                "Plan of job {job}: {tasks}, {in_all}",
                job=decision.job,
                tasks=tasks,
                in_all=in_all(plan),
            )
        )
    _write_span(page, plan)
    _write_state(page, plan, decision)


def _nothing_left(plan: Plan) -> str:
    return say("all work is done") if plan.done else say("no work is due")


def _write_span(page: Page, plan: Plan) -> None:
    calendar = plan.calendar
    if calendar is None or not calendar.layout.laid:
        return
    time, layout, labour = calendar.worktime, calendar.layout, plan.labour
    begins = moment(time, min(laid.start for laid in layout.laid.values()))
    page.paragraph(
        say(
            "Begins {begins}, ends {moment} by the longest times, {moment2} by the shortest.",
            begins=begins,
            moment=moment(time, layout.end),
            moment2=moment(time, calendar.at_best.end),
        )
    )
    if labour is not None:
        outside = plan.setting.choice(BOOTH) == "no"
        where = say("one place to spray") if outside else counted(labour.booths, "spray booth")
        page.paragraph(
            say(
                "Laid for {people} and {where}.",
                people=counted(labour.people, "person", "people"),
                where=where,
            )
        )


def _write_state(page: Page, plan: Plan, decision: Decision) -> None:
    if plan.done and plan.tasks:
        page.paragraph(
            say(
                "Done already: {pieces}.",
                pieces=counted(len(plan.done), "piece of work", "pieces of work"),
            )
        )
    undecided = [name for name, panel in decision.panels.items() if panel.treatment is None]
    if undecided:
        page.paragraph(
            say(
                "Still undecided: {in_full}. Only settled work is planned.",
                in_full=in_full(plan, undecided),
            ),
            dress=page.style.warning,
        )
    held = sum(1 for planned in plan.tasks if any(not hold.released for hold in planned.holds))
    if held:
        page.paragraph(
            say(
                "Held: {held} may not begin before something is released.",
                held=counted(held, "task"),
            )
        )
    notes = [
        counted(len(found), noun)
        for found, noun in ((plan.conflicts, "conflict"), (plan.missing, "missing input"))
        if found
    ]
    if notes:
        page.paragraph(
            say("To settle, at the end: {notes}.", notes=say(" and ").join(notes)),
            dress=page.style.warning,
        )
