"""`prepwright sign JOB HOLD`: release a hold with what was measured or who signs."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import by_option, completed_by, ruleset_option, store_option


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("hold", shell_complete=completed_by("hold_names"))
@click.argument("panel", required=False, shell_complete=completed_by("panel_names"))
@click.option(
    "--record",
    "recorded",
    metavar="TEXT",
    required=True,
    help="The measurement, or the words signed under.",
)
@click.option("--with", "instrument", metavar="NAME", help="What it was measured with.")
@by_option
@store_option
@ruleset_option
def sign(
    job: str,
    hold: str,
    panel: str | None,
    recorded: str,
    instrument: str | None,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
) -> None:
    """Release HOLD of JOB, on PANEL or wherever it stands, with a record of why it may pass."""
    from cli.jobs import actor
    from cli.recording import pinned
    from cli.work import Workbench
    from cli.working import record_signed

    with Workbench.open(job, store_path, ruleset_folder) as bench:
        lines = record_signed(bench, hold, panel, recorded, actor(by), instrument=instrument)
        lines.append(pinned(bench.store))
        sys.stdout.write("\n".join(lines) + "\n")
