"""`prepwright trail`: show, verify, replay, export and import the record."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import by_option, completed_by, plain_option, store_option, width_option

if TYPE_CHECKING:
    from engine.trail import TrailReport


@click.group()
def trail() -> None:
    """The record: every answer, decision, signature and finished step, chained by hashes.

    A sound chain shows that nothing was changed, removed, put in or moved since it was added. It
    does not show that what was recorded was true, who really made an entry, or that the clock was
    right. Whether the last entries were cut off can only be told against a seal kept elsewhere,
    such as one printed on paper.
    """


@trail.command()
@click.argument("job", required=False, shell_complete=completed_by("job_names"))
@click.option("--full", is_flag=True, help="Show the whole of every entry.")
@click.option(
    "--from", "first", metavar="N", type=click.IntRange(1), help="Begin with entry number N."
)
@click.option("--to", "last", metavar="N", type=click.IntRange(1), help="End with entry number N.")
@store_option
@plain_option
@width_option
def show(
    job: str | None,
    full: bool,
    first: int | None,
    last: int | None,
    store_path: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Show what was recorded of JOB, or of the whole shop, in order.

    Very long texts are cut; --full shows them, and the hash of every entry.
    """
    from cli.jobs import check_job, open_store
    from cli.output.page import Page
    from cli.output.style import style_for_stdout
    from cli.output.trail_text import write_entry

    page = Page(style_for_stdout(plain=plain, width=width), whole=full)
    with open_store(store_path, read_only=True) as store, store.reading():
        if job is not None:
            check_job(store, job)
        for entry in store.entries(job, first=first, last=last):
            write_entry(page, entry, full=full)
            sys.stdout.write(page.taken())
        head = store.head()
    page.paragraph(f"Seal: {head}" if head else "The record is empty.")
    sys.stdout.write(f"\n{page.taken()}" if head else page.taken())


@trail.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@store_option
@plain_option
@width_option
def history(job: str, store_path: Path | None, plain: bool, width: int | None) -> None:
    """Tell the story of JOB: what was decided when, what changed it, who signed what."""
    from cli.jobs import check_job, open_store
    from cli.output.history_text import write_history
    from cli.output.page import Page
    from cli.output.style import style_for_stdout

    page = Page(style_for_stdout(plain=plain, width=width))
    with open_store(store_path, read_only=True) as store, store.reading():
        check_job(store, job)
        page.heading(f"{job}: what happened")
        for _ in write_history(page, store.entries(job)):
            sys.stdout.write(page.taken())
        head = store.head()
    page.paragraph(f"Seal: {head}")
    sys.stdout.write(f"\n{page.taken()}")


@trail.command()
@click.argument("export", required=False, type=click.Path(path_type=Path))
@click.option("--seal", metavar="SEAL", help="A seal kept elsewhere, such as one on paper.")
@store_option
def verify(export: Path | None, seal: str | None, store_path: Path | None) -> None:
    """Verify every link of the record, or of an exported file by itself."""
    from cli.errors import NO, Outcome
    from cli.jobs import open_store
    from cli.output.progress import progress_on_stderr
    from engine.trail import verify as verify_store
    from engine.trail import verify_export

    if export is not None:
        report = verify_export(export, seal)
    else:
        with (
            open_store(store_path, read_only=True) as store,
            progress_on_stderr("Verifying") as progress,
        ):
            report = verify_store(store, seal, progress)
    _say_report(report)
    if not report.sound:
        raise Outcome(NO)


def _say_report(report: TrailReport) -> None:
    from cli.output.page import Page
    from cli.output.style import style_for_stdout

    lines = [str(finding) for finding in report.findings]
    if report.more:
        lines.append(f"and {report.more} more")
    state = "sound" if report.sound else "BROKEN"
    entries = f"{report.entries} {'entry' if report.entries == 1 else 'entries'}"
    lines.append(f"The record is {state}: {entries}, seal {report.head or 'none'}.")
    lines += [*report.notes, *report.not_shown]
    page = Page(style_for_stdout(plain=False, width=None), whole=True)
    for line in lines:
        page.paragraph(line)
    sys.stdout.write(page.text())


@trail.command()
@click.argument("job", required=False, shell_complete=completed_by("job_names"))
@click.option("--all", "everything", is_flag=True, help="Every decision of every job.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes (default: one a core).")
@store_option
def replay(job: str | None, everything: bool, workers: int | None, store_path: Path | None) -> None:
    """Decide every recorded decision of JOB (or --all) again by the rules of its day."""
    from cli.errors import NO, Outcome
    from cli.jobs import open_store
    from cli.output.progress import progress_on_stderr
    from cli.output.safe import neutral
    from engine.errors import UsageError
    from engine.trail.replay import replay as replay_store

    if (job is None) is not everything:
        raise UsageError("name a job, or use --all for every decision of every job")
    with (
        open_store(store_path, read_only=True) as store,
        progress_on_stderr("Replaying") as progress,
    ):
        report = replay_store(store, job, workers=workers, progress=progress)
        head = store.head()
    for each in report.shown:
        named = f"entry {each.sequence} (job {each.job})"
        if each.failed:
            sys.stdout.write(f"{neutral(f'{named}: {each.failed}')}\n")
        for found in each.differences:
            sys.stdout.write(f"{neutral(f'{named}: {found}')}\n")
    replayed = f"{report.decisions} {'decision' if report.decisions == 1 else 'decisions'}"
    sys.stdout.write(
        f"{replayed}: {report.same} the same again, {report.changed} with "
        f"another outcome, {report.reworded} with other words only, {report.failed} not "
        f"replayed.\nSeal of the record: {head}\n"
    )
    if not report.identical:
        raise Outcome(NO)


@trail.command(name="export")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--job", metavar="JOB", help="One job alone; the others stay closed.")
@store_option
def export_(file: Path, job: str | None, store_path: Path | None) -> None:
    """Write the record, or one job of it, to FILE; `trail verify FILE` checks it anywhere."""
    from cli.jobs import open_store
    from cli.output.safe import neutral
    from engine.errors import UsageError
    from engine.trail import export_file

    with open_store(store_path, read_only=True) as store:
        if job is None and str(file) in store.jobs():
            raise UsageError(
                f"`{file}` is a job; name the file as well: "
                f"prepwright trail export {shlex.quote(f'{file}.json')} "
                f"--job {shlex.quote(str(file))}"
            )
        seal = export_file(store, file, job)
    sys.stdout.write(f"{neutral(f'Written to {file}. Seal: {seal}')}\n")


@trail.command(name="import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--as", "as_job", metavar="NAME", help="The name the job gets here.")
@by_option
@store_option
def import_(file: Path, as_job: str | None, by: str | None, store_path: Path | None) -> None:
    """Take the jobs of an exported FILE into the store, each entry as it was recorded there."""
    from cli.jobs import actor, open_store
    from cli.output.safe import neutral
    from cli.recording import pinned
    from engine.answers import read_text
    from engine.trail import import_file

    if as_job is not None:
        read_text(as_job, "the job's name")
    with open_store(store_path) as store:
        taken = import_file(store, file, actor(by), as_job=as_job)
        seal = pinned(store)
    sys.stdout.write(f"{neutral('Taken in: ' + ', '.join(taken))}\n{seal}\n")
