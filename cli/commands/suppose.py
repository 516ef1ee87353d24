"""`prepwright suppose JOB ...`: what would be decided if some facts were otherwise."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import completed_by, plain_option, ruleset_option, store_option, width_option


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("changes", nargs=-1, metavar="['PANEL FACT: VALUE' ...]")
@click.option(
    "--flip",
    "flip_panel",
    metavar="PANEL",
    help="Find the smallest change that would give PANEL each other treatment.",
)
@store_option
@ruleset_option
@plain_option
@width_option
def suppose(
    job: str,
    changes: tuple[str, ...],
    flip_panel: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Suppose facts of JOB to be otherwise and see what would differ.

    A change names the panel, the fact and the value: 'roof rust: perforated', 'roof film
    readings: 13 13.2 13.1 mil', 'wash soap: silicone-free'. Nothing is recorded.
    """
    from cli.consult import load
    from cli.jobs import open_job, panel_named, seal_line
    from cli.output.page import Page
    from cli.output.reasons import write_difference, write_flip
    from cli.output.style import style_for_stdout
    from cli.telling import told_changes
    from engine.errors import UsageError
    from engine.reasoning import supposing
    from engine.reasoning.decide import decide

    if not changes and flip_panel is None:
        raise UsageError(
            "say what to suppose, such as 'roof rust: perforated', or use --flip PANEL"
        )
    ruleset = load(ruleset_folder)
    facts = open_job(job, ruleset, store_path)
    page = Page(style_for_stdout(plain=plain, width=width))
    if changes:
        flat = told_changes(ruleset, facts, changes)
        page.heading(f"{facts.job}, supposing {'; '.join(changes)}")
        after = supposing.suppose(ruleset, facts, flat)
        write_difference(page, supposing.difference(decide(ruleset, facts), after), ruleset)
    if flip_panel is not None:
        name = panel_named(facts, flip_panel)
        page.heading(f"{facts.job}, {name}: the smallest change that gives another treatment")
        for flip in supposing.flips(ruleset, facts, name):
            write_flip(page, flip)
    line = seal_line(job, store_path)
    if line:
        page.blank()
        page.paragraph(line)
    sys.stdout.write(page.text())
