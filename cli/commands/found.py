"""`prepwright found JOB ...`: a surprise in the middle of the work, and what it changes."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import by_option, plain_option, ruleset_option, store_option, width_option

if TYPE_CHECKING:
    from cli.output.page import Page
    from engine.plan.compare import PlanDifference


@click.command()
@click.argument("job")
@click.argument("findings", nargs=-1, required=True, metavar="'PANEL FACT: VALUE' ...")
@click.option("--with", "instrument", metavar="NAME", help="What it was measured with.")
@by_option
@store_option
@ruleset_option
@plain_option
@width_option
def found(
    job: str,
    findings: tuple[str, ...],
    instrument: str | None,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Record what was found in the middle of JOB, decide again, and show what changes.

    A finding names the panel, the fact and the value: 'roof rust: perforated', 'bonnet filler
    depth: 8 mm'. What is done stays done; the earlier decision stays in the record.
    """
    from cli.consult import consult
    from cli.jobs import actor
    from cli.output.page import Page
    from cli.output.reasons import write_difference
    from cli.output.style import style_for_stdout
    from cli.recording import record, sealed
    from cli.telling import told_changes
    from cli.work import Workbench
    from engine.plan import make_plan
    from engine.plan.compare import compare
    from engine.reasoning.supposing import difference
    from engine.trail import EntryKind
    from engine.trail.changing import changes

    who = actor(by)
    with Workbench.open(job, store_path, ruleset_folder) as bench:
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
        page = Page(style_for_stdout(plain=plain, width=width))
        page.heading(f"{job}: found {'; '.join(findings)}")
        write_difference(page, difference(before, after))
        plans = [
            make_plan(bench.ruleset, decision, progress=bench.progress)
            for decision in (before, after)
        ]
        _write_plan(page, compare(plans[0], plans[1]))
        page.blank()
        page.paragraph(sealed(bench.store, who, "finding", job))
        sys.stdout.write(page.text())


def _write_plan(page: Page, change: PlanDifference) -> None:
    page.heading("What it does to the plan")
    if not change:
        page.paragraph("Nothing changes in the work left.")
        return
    for marker, pieces in (("+", change.new), ("-", change.gone)):
        for title, panel in pieces:
            page.item(f"{title} ({panel or 'the car'})", marker=marker)
    page.item(f"Hours of all people: {change.hours.before}, now {change.hours.after}", marker="*")
    for amount in change.materials:
        page.item(
            f"{amount.title}: {amount.before or 'none'}, now {amount.after or 'none'}", marker="*"
        )
