"""`prepwright jobs`: the jobs of the shop's store and how each stands."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import plain_option, store_option, width_option


@click.command()
@store_option
@plain_option
@width_option
def jobs(store_path: Path | None, plain: bool, width: int | None) -> None:
    """List the jobs in the store: panels decided, last change and by whom."""
    from cli.jobs import open_store, standing
    from cli.output.page import Page
    from cli.output.style import style_for_stdout
    from engine.trail.summaries import summaries

    page = Page(style_for_stdout(plain=plain, width=width))
    with open_store(store_path, read_only=True) as store:
        rows = [
            (
                each.job,
                standing(each),
                f"{each.changed_at[:16].replace('T', ' ')} UTC by {each.changed_by}",
            )
            for each in summaries(store)
        ]
        where, head = store.path, store.head()
    if rows:
        page.table(("Job", "State", "Last change"), rows)
    else:
        page.paragraph(f"There is no job in {where} yet. Begin one with: prepwright chat MY-JOB")
    if head:
        page.blank()
        page.paragraph(f"Seal of the record: {head}")
    sys.stdout.write(page.text())
