"""`prepwright decide JOB`: every panel of a job decided, with reasons."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.errors import INCOMPLETE, Outcome
from cli.options import (
    by_option,
    json_option,
    one_engine_option,
    plain_option,
    require_complete_option,
    ruleset_option,
    store_option,
    width_option,
)

if TYPE_CHECKING:
    from engine.decision import Decision
    from engine.facts import JobFacts
    from engine.ruleset.model import RuleSet


@click.command()
@click.argument("job", metavar="JOB")
@click.option(
    "--save",
    is_flag=True,
    help="Record the decision in the store; a job file is taken in, or brings its job up to date.",
)
@json_option
@require_complete_option
@by_option
@store_option
@ruleset_option
@plain_option
@width_option
@one_engine_option
def decide(
    job: str,
    save: bool,
    as_json: bool,
    require_complete: bool,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Decide how far down to take each panel of JOB, and say why.

    JOB is a job file, YAML or JSON, or a job of the store. Without --save nothing is recorded.
    """
    from cli.consult import consult, load
    from cli.jobs import open_job, progress_of, seal_line
    from cli.output.emit import write_decision

    ruleset = load(ruleset_folder)
    facts = open_job(job, ruleset, store_path)
    decision = consult(ruleset, facts, one_engine=one_engine)
    write_decision(
        decision,
        ruleset,
        as_json=as_json,
        plain=plain,
        width=width,
        job=job,
        progress=progress_of(job, store_path, by_clock=False),
    )
    line = None if save else seal_line(job, store_path)
    if line:
        _write_seal(line, as_json=as_json)
    if save:
        _save(facts, decision, ruleset, ruleset_folder, store_path, by, as_json=as_json)
    if require_complete and not decision.complete:
        raise Outcome(INCOMPLETE)


def _save(
    facts: JobFacts,
    decision: Decision,
    ruleset: RuleSet,
    folder: Path | None,
    store_path: Path | None,
    by: str | None,
    *,
    as_json: bool,
) -> None:
    from cli.chat.keeping import StoreKeeper
    from cli.jobs import actor, open_store
    from cli.recording import record, sealed

    who = actor(by)
    with open_store(store_path) as store:
        with store.writing():
            keeper = StoreKeeper(store, facts.job, ruleset, who)
            keeper.load()
            keeper.save(facts)
            record(store, folder, ruleset, facts, decision, who)
        line = sealed(store, who, "decision", facts.job)
    _write_seal(line, as_json=as_json)


def _write_seal(line: str, *, as_json: bool) -> None:
    # JSON goes to standard output alone.
    (sys.stderr if as_json else sys.stdout).write(f"{line}\n")
