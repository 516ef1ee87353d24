"""`prepwright found JOB ...`: a surprise in the middle of the work, and what it changes."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import (
    by_option,
    completed_by,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
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
    from cli.jobs import actor
    from cli.output.style import style_for_stdout
    from cli.work import Workbench
    from cli.working import record_found

    style = style_for_stdout(plain=plain, width=width)
    with Workbench.open(job, store_path, ruleset_folder) as bench:
        text = record_found(
            bench, ruleset_folder, findings, actor(by), style, instrument=instrument
        )
        sys.stdout.write(text)
