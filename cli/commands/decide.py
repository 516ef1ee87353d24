"""`prepwright decide JOB`: every panel of a job decided, with reasons."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.errors import INCOMPLETE, Outcome
from cli.options import (
    by_option,
    completed_by,
    json_option,
    language_option,
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

_MOST_SHOWN = 5


@click.command()
@click.argument("job", metavar="JOB", shell_complete=completed_by("job_names"))
@click.option(
    "--save",
    is_flag=True,
    help="Record the decision in the store; a job file is taken in, or brings its job up to date.",
)
@click.option(
    "--replace",
    is_flag=True,
    help="With --save: the job file stands, also where the store was told otherwise since.",
)
@click.option(
    "--pictures",
    is_flag=True,
    help="Draw the film of each panel as well: readings, and the build against its limits.",
)
@json_option
@require_complete_option
@by_option
@store_option
@ruleset_option
@language_option
@plain_option
@width_option
@one_engine_option
def decide(
    job: str,
    save: bool,
    replace: bool,
    pictures: bool,
    as_json: bool,
    require_complete: bool,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
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

    if pictures and as_json:
        raise click.UsageError("--pictures draws for people; leave it out with --json")
    ruleset = load(ruleset_folder, language=language)
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
    if pictures:
        from cli.output.film_strip import film_strips

        sys.stdout.write(film_strips(ruleset, facts, plain=plain, width=width))
    line = None if save else seal_line(job, store_path)
    if line:
        _write_seal(line, as_json=as_json)
    if save:
        _save(
            job,
            facts,
            decision,
            ruleset,
            ruleset_folder,
            store_path,
            by,
            replace=replace,
            as_json=as_json,
        )
    if require_complete and not decision.complete:
        raise Outcome(INCOMPLETE)


def _save(
    job: str,
    facts: JobFacts,
    decision: Decision,
    ruleset: RuleSet,
    folder: Path | None,
    store_path: Path | None,
    by: str | None,
    *,
    replace: bool,
    as_json: bool,
) -> None:
    from cli.chat.keeping import StoreKeeper
    from cli.jobs import actor, is_file, open_store
    from cli.recording import record, sealed

    who = actor(by)
    with open_store(store_path) as store:
        with store.writing():
            keeper = StoreKeeper(store, facts.job, ruleset, who)
            kept = keeper.load()
            if not is_file(job):
                _check_still(kept, facts)
            elif not replace:
                _check_nothing_lost(kept, facts, job)
            keeper.save(facts)
            record(store, folder, ruleset, facts, decision, who)
        line = sealed(store, who, "decision", facts.job)
    _write_seal(line, as_json=as_json)


def _check_still(kept: JobFacts, decided: JobFacts) -> None:
    from engine.errors import JobChangedError
    from engine.plaintext import quoted

    if list(kept) != list(decided):
        raise JobChangedError(
            f"the job {quoted(kept.job)} was changed while it was being decided. Nothing was "
            "recorded. Decide it again."
        )


def _check_nothing_lost(kept: JobFacts, told: JobFacts, path: str) -> None:
    """Refuse to undo, by a job file, what was told in the store and is not in that file."""
    from engine.errors import UsageError
    from engine.plaintext import quoted

    has = {(panel, fact): each.value for _, panel, fact, each in told}
    lost = [
        " ".join(part for part in (panel, fact) if part)
        for _, panel, fact, each in kept
        # What came out of a job file may change with it.
        if each.place is None and has.get((panel, fact), each) != each.value
    ]
    if lost:
        shown = ", ".join(quoted(name) for name in lost[:_MOST_SHOWN])
        more = f" and {len(lost) - _MOST_SHOWN} more" if len(lost) > _MOST_SHOWN else ""
        raise UsageError(
            f"job {quoted(kept.job)} was told in the store what {quoted(path)} lacks or has "
            f"otherwise: {shown}{more}. Nothing was recorded. Put it into the file, decide the "
            "job by its name, or say --replace to let the file stand."
        )


def _write_seal(line: str, *, as_json: bool) -> None:
    # JSON goes to standard output alone.
    (sys.stderr if as_json else sys.stdout).write(f"{line}\n")
