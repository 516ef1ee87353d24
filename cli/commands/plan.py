"""`prepwright plan JOB`: the plan of a job for the crew."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import (
    completed_by,
    json_option,
    language_option,
    one_engine_option,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.option(
    "--start",
    metavar="DAY",
    help="The day on which work begins, such as 2026-11-30 or 2026-11-30T13:00.",
)
@click.option(
    "--people",
    metavar="N",
    type=click.IntRange(1, 1000),
    help="How many people work on it (default: as labour.yaml says).",
)
@click.option(
    "--booths",
    metavar="N",
    type=click.IntRange(0, 1000),
    help="How many spray booths there are (default: as labour.yaml says).",
)
@json_option
@store_option
@ruleset_option
@language_option
@plain_option
@width_option
@one_engine_option
def plan(
    job: str,
    start: str | None,
    people: int | None,
    booths: int | None,
    as_json: bool,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Plan the work on JOB: calendar, tasks in order, materials, hours, cost.

    JOB is a job file or a job of the store. What is undecided is left out and said so; what is
    done already is left out too. Nothing is recorded.
    """
    from cli.consult import consult, load
    from cli.jobs import open_job, progress_of, seal_line
    from cli.planning import plan_for, start_from

    begin = start_from(start) if start is not None else None
    ruleset = load(ruleset_folder, language=language)
    decision = consult(ruleset, open_job(job, ruleset, store_path), one_engine=one_engine)
    progress = progress_of(job, store_path)
    made = plan_for(ruleset, decision, progress, start=begin, people=people, booths=booths)
    line = seal_line(job, store_path)
    if as_json:
        from cli.output.jsontext import write_json
        from engine.plan import merged
        from engine.words import language as spoken

        write_json({**merged(decision, made), "language": spoken()})
        if line:
            sys.stderr.write(f"{line}\n")
        return
    from cli.output.plan_text import plan_text
    from cli.output.style import style_for_stdout

    style = style_for_stdout(plain=plain, width=width)
    sys.stdout.write(plan_text(made, decision, ruleset, style))
    if line:
        sys.stdout.write(f"\n{line}\n")
