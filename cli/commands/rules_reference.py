"""`prepwright rules reference`: pages on everything there is in a rule set, for rule authors."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from cli.options import ruleset_option

_folder_type = click.Path(path_type=Path, file_okay=False)


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ruleset_option
@click.option("--write", "target", metavar="DIR", type=_folder_type, help="Write them into DIR.")
@click.option(
    "--check",
    "written",
    metavar="DIR",
    type=_folder_type,
    help="Say whether the pages in DIR still hold, and write nothing.",
)
@click.pass_context
def reference(
    ctx: click.Context,
    folder: Path | None,
    ruleset_folder: Path | None,
    target: Path | None,
    written: Path | None,
) -> None:
    """Write what there is in a rule set as pages of Markdown: facts, tests, topics, limits, files.

    FOLDER holds a rule set or a shop's changes; without it the supplied set is described. Pages
    made by hand beside those written are left alone.
    """
    from cli.consult import load
    from cli.errors import NO, Outcome
    from cli.output.safe import neutral
    from cli.reference import out_of_date, reference, write

    if (target is None) is (written is None):
        raise click.UsageError("say where: --write DIR writes the pages, --check DIR compares them")
    if folder is not None and ruleset_folder is not None:
        raise click.UsageError("FOLDER and --ruleset name the same thing; give one of them")
    named = folder or ruleset_folder
    pages = reference(load(named), ctx.find_root())
    if target is not None:
        write(pages, target)
        click.echo(neutral(f"{len(pages)} pages are in {target}; begin with README.md."))
        return
    assert written is not None
    stale = out_of_date(pages, written)
    if not stale:
        click.echo(neutral(f"The {len(pages)} pages in {written} hold."))
        return
    for name in stale:
        click.echo(neutral(f"{written / name}: missing or out of date"))
    what = f" {shlex.quote(str(named))}" if named else ""
    where = shlex.quote(str(written))
    click.echo(neutral(f"Renew them: prepwright rules reference{what} --write {where}"))
    raise Outcome(NO)
