"""`prepwright note JOB TEXT`: put a remark into the record of a job."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import by_option, completed_by, store_option


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("text")
@by_option
@store_option
def note(job: str, text: str, by: str | None, store_path: Path | None) -> None:
    """Put a remark into the record of JOB; it changes no fact and no decision."""
    from cli.jobs import actor, is_file, open_store
    from cli.output.safe import neutral
    from cli.recording import pinned
    from engine.answers import read_text
    from engine.errors import UsageError
    from engine.trail import Draft, EntryKind

    if is_file(job):
        raise UsageError("notes are kept in the store; name a job of the store, not a job file")
    who = actor(by)
    kept = read_text(text, "the note", longest=2000, lines=True)
    with open_store(store_path) as store:
        (entry,) = store.append(Draft(EntryKind.NOTE, who, {"text": kept}, job))
        seal = pinned(store)
    said = f"Noted by {who}, entry {entry.sequence}: {kept}"
    sys.stdout.write(f"{neutral(said)}\n{seal}\n")
