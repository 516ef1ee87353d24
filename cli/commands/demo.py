"""`prepwright demo`: the demonstration job decided, and what to try next."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path

import click

from cli.options import json_option, one_engine_option, plain_option, ruleset_option, width_option

_JOB = "bookmobile.yaml"
_INTRODUCTION = (
    "The job is invented: a library's retired bookmobile, an old van that is to be repainted "
    "after years of shop repairs."
)


@click.command()
@json_option
@click.option(
    "--write",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Copy the job file into DIR, to change it and decide it again.",
)
@ruleset_option
@plain_option
@width_option
@one_engine_option
def demo(
    as_json: bool,
    folder: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Decide the demonstration job: a retired library bookmobile van, invented for the purpose."""
    from cli.consult import consult, load
    from cli.output.emit import write_decision
    from cli.output.page import Page
    from cli.output.style import style_for_stdout
    from engine.jobfile import read_job
    from engine.supplied import demo_folder

    source = demo_folder() / _JOB
    ruleset = load(ruleset_folder)
    decision = consult(ruleset, read_job(source, ruleset), one_engine=one_engine)
    copy = _written(source, folder) if folder is not None else None
    if as_json:
        write_decision(decision, ruleset, as_json=True, plain=plain, width=width)
        return
    style = style_for_stdout(plain=plain, width=width)
    before = Page(style)
    before.paragraph(_INTRODUCTION)
    sys.stdout.write(before.text() + "\n")
    write_decision(decision, ruleset, as_json=False, plain=plain, width=width)
    after = Page(style)
    after.heading("What to try next")
    for what, command in _next(copy):
        after.item(f"{what}:")
        after.command(command)
    sys.stdout.write("\n" + after.text())


def _written(source: Path, folder: Path) -> Path:
    """Copy the job into `folder`, unless a file of that name is there already."""
    target = folder / _JOB
    if target.exists():
        from engine.errors import UsageError

        raise UsageError(f"{target} is there already; name another folder or move it away")
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
    return target


def _next(copy: Path | None) -> list[tuple[str, str]]:
    job = shlex.quote(str(copy) if copy is not None else f"van/{_JOB}")
    first = (
        [] if copy is not None else [("Take the job file with you", "prepwright demo --write van")]
    )
    return [
        *first,
        ("Change a reading in it and decide it again", f"prepwright decide {job}"),
        ("See the plan for the crew", f"prepwright plan {job} --start 2026-11-30"),
        ("See what may be done now", f"prepwright next {job}"),
        ("Have the decision and the plan for a program", f"prepwright decide {job} --json"),
        ("Talk through a car of your own", "prepwright"),
    ]
