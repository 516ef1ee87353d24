"""`prepwright done JOB STEP`: record that a step is done."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import by_option, completed_by, ruleset_option, store_option


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("step", shell_complete=completed_by("step_names"))
@click.argument("panel", required=False, shell_complete=completed_by("panel_names"))
@click.option("--note", metavar="TEXT", help="What is worth knowing about it.")
@click.option(
    "--anyway",
    is_flag=True,
    help="Record it although something comes before it; needs --note to say why.",
)
@by_option
@store_option
@ruleset_option
def done(
    job: str,
    step: str,
    panel: str | None,
    note: str | None,
    anyway: bool,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
) -> None:
    """Record that STEP of JOB is done: on PANEL, or wherever it is due.

    STEP is a step's id, its title, or the number of its task, as `prepwright next` shows them now;
    what is left is numbered anew once a task is done. A step that a hold or an
    earlier step still blocks is refused, with what has to come first.
    """
    from cli.errors import NO, Outcome, say
    from cli.jobs import actor
    from cli.recording import pinned
    from cli.work import Workbench
    from cli.working import NotYet, record_done
    from engine.errors import UsageError

    if anyway and not note:
        raise UsageError("--anyway needs --note TEXT, so that the record says why")
    with Workbench.open(job, store_path, ruleset_folder) as bench:
        try:
            lines = record_done(bench, step, panel, actor(by), note=note, anyway=anyway)
        except NotYet as blocked:
            say("not yet:\n" + "\n".join(f"    {text}" for text in blocked.blockers))
            raise Outcome(NO) from None
        lines.append(pinned(bench.store))
        sys.stdout.write("\n".join(lines) + "\n")
