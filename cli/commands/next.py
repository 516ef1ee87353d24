"""`prepwright next JOB`: what may be done now, and what stands in the way of the rest."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import (
    completed_by,
    language_option,
    one_engine_option,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@store_option
@ruleset_option
@language_option
@plain_option
@width_option
@one_engine_option
def next(
    job: str,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Show which work on JOB may be done now, and what has to be released or done first.

    JOB is a job file or a job of the store; only the store knows what is done. A program finds
    the same in `prepwright plan JOB --json`, under `plan` and `next`.
    """
    from cli.consult import consult, load
    from cli.jobs import open_job, progress_of, seal_line
    from cli.output.next_text import next_text
    from cli.output.style import style_for_stdout
    from cli.planning import plan_for

    ruleset = load(ruleset_folder, language=language)
    decision = consult(ruleset, open_job(job, ruleset, store_path), one_engine=one_engine)
    made = plan_for(ruleset, decision, progress_of(job, store_path))
    sys.stdout.write(next_text(made, decision, style_for_stdout(plain=plain, width=width)))
    line = seal_line(job, store_path)
    if line:
        sys.stdout.write(f"\n{line}\n")
