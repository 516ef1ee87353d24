"""`prepwright decide FILE`: every panel of a job file decided, with reasons."""

from __future__ import annotations

from pathlib import Path

import click

from cli.errors import INCOMPLETE, Outcome
from cli.options import (
    json_option,
    one_engine_option,
    plain_option,
    require_complete_option,
    ruleset_option,
    width_option,
)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@require_complete_option
@ruleset_option
@plain_option
@width_option
@one_engine_option
def decide(
    file: Path,
    as_json: bool,
    require_complete: bool,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Decide how far down to take each panel of the job in FILE, and say why.

    FILE is a job file, YAML or JSON. Nothing is recorded.
    """
    from cli.consult import consult, load
    from cli.output.emit import write_decision
    from engine.jobfile import read_job

    ruleset = load(ruleset_folder)
    decision = consult(ruleset, read_job(file, ruleset), one_engine=one_engine)
    write_decision(decision, ruleset, as_json=as_json, plain=plain, width=width)
    if require_complete and not decision.complete:
        raise Outcome(INCOMPLETE)
