"""`prepwright jobs`: the jobs of the shop's store and how each stands."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import plain_option, store_option, width_option

if TYPE_CHECKING:
    from engine.trail.summaries import Summary

_MOST = 30
_LONGEST = 200
"""The longest name that is shown, in characters: an imported record may hold any."""


@click.command()
@click.argument("words", required=False)
@click.option(
    "--most",
    metavar="N",
    type=click.IntRange(1),
    default=_MOST,
    show_default=True,
    help="List so many at most.",
)
@click.option(
    "--skip", metavar="N", type=click.IntRange(0), default=0, help="Leave out the first N."
)
@click.option("--all", "everything", is_flag=True, help="List all of them.")
@store_option
@plain_option
@width_option
def jobs(
    words: str | None,
    most: int,
    skip: int,
    everything: bool,
    store_path: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """List the jobs in the store, the one changed last first: panels decided, by whom changed.

    With WORDS, those that have them in their names.
    """
    from cli.jobs import open_store
    from cli.output.page import Page
    from cli.output.style import style_for_stdout
    from engine.plaintext import printable, quoted
    from engine.trail.summaries import summaries

    page = Page(style_for_stdout(plain=plain, width=width))
    with open_store(store_path, read_only=True) as store, store.reading():
        found, total = store.changed_jobs(
            words or "", most=None if everything else most, skip=0 if everything else skip
        )
        rows = [_row(each) for each in summaries(store, found)]
        where, head = store.path, store.head()
    if rows:
        page.table(("Job", "State", "Last change"), rows)
    elif total:
        page.paragraph(f"There are {total:,} jobs, and {skip:,} were left out.")
    elif words:
        page.paragraph(f"No job in {where} has {quoted(words)} in its name.")
    else:
        page.paragraph(f"There is no job in {where} yet. Begin one with: prepwright chat MY-JOB")
    if len(rows) < total and rows:
        named = f" with {printable(words)} in their names" if words else ""
        page.blank()
        page.paragraph(
            f"{skip + 1:,} to {skip + len(rows):,} of {total:,} jobs{named}. Name a part of a "
            "job's name to find it; --skip and --most list others, --all lists all."
        )
    if head:
        page.blank()
        page.paragraph(f"Seal of the record: {head}")
    sys.stdout.write(page.text())


def _row(each: Summary) -> tuple[str, str, str]:
    from cli.jobs import standing
    from engine.plaintext import printable

    changed = f"{each.changed_at[:16].replace('T', ' ')} UTC"
    by = printable(each.changed_by, _LONGEST)
    return printable(each.job, _LONGEST), standing(each), f"{changed} by {by}"
