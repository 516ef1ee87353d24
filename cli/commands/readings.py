"""`prepwright readings JOB FILE`: gauge readings taken into a job, once they are shown."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.errors import NO, Outcome, say
from cli.options import (
    by_option,
    completed_by,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.readings import Given, Understood
    from engine.ruleset.model import RuleSet

# Spelled out, not imported: `--help` must not load the engine.
_SEPARATORS = ("comma", "semicolon", "tab", "bar")
_DECIMALS = ("point", "comma")

Show = Callable[["Understood"], None]


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--panel",
    metavar="NAME",
    shell_complete=completed_by("panel_names"),
    help="Whose readings these are, where FILE does not say.",
)
@click.option("--unit", metavar="U", help="The unit of the readings, where FILE does not say.")
@click.option(
    "--spots",
    "per_spot",
    metavar="N",
    type=click.IntRange(1, 100),
    help="Every N readings in a row were taken at one spot.",
)
@click.option(
    "--map",
    "mapped",
    metavar='"A=roof"',
    multiple=True,
    help='The name A in FILE means the panel roof; "A=" leaves A out. May be given several times.',
)
@click.option("--separator", type=click.Choice(_SEPARATORS), help="What stands between cells.")
@click.option("--decimal", type=click.Choice(_DECIMALS), help="The decimal mark.")
@click.option("--replace", is_flag=True, help="Replace readings that the job has of these panels.")
@click.option("--yes", is_flag=True, help="Take what is shown without asking.")
@by_option
@store_option
@ruleset_option
@plain_option
@width_option
def readings(
    job: str,
    file: Path,
    panel: str | None,
    unit: str | None,
    per_spot: int | None,
    mapped: tuple[str, ...],
    separator: str | None,
    decimal: str | None,
    replace: bool,
    yes: bool,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Show what FILE says of the film, and take it into JOB.

    FILE is a table as text, as gauges and spreadsheets export it: one reading a line, a panel a
    line or a panel a column, with commas, semicolons, tabs or bars between. What was understood is
    shown before anything is taken. JOB is a job of the store, or a job file in YAML, whose comments
    are not kept. The readings are told with the gauge and the time; gauge checks stand beside them.
    """
    from cli.consult import load
    from cli.jobs import is_file
    from cli.output.readings_text import readings_text
    from cli.output.style import style_for_stdout
    from engine.readings import Given

    given = Given(panel, unit, per_spot, _names(mapped), separator, decimal)
    ruleset = load(ruleset_folder)
    style = style_for_stdout(plain=plain, width=width)

    def show(understood: Understood) -> None:
        sys.stdout.write(readings_text(understood, ruleset, style))
        sys.stdout.flush()

    taking = _Taking(ruleset, file, given, show, replace=replace, yes=yes)
    if is_file(job):
        taking.into_file(Path(job), by)
    else:
        taking.into_store(job, store_path, by)


class _Taking:
    """Takes the readings of one file into a job, once they were shown and confirmed."""

    def __init__(
        self,
        ruleset: RuleSet,
        file: Path,
        given: Given,
        show: Show,
        *,
        replace: bool,
        yes: bool,
    ) -> None:
        self._ruleset = ruleset
        self._file = file
        self._given = given
        self._show = show
        self._replace = replace
        self._yes = yes

    def into_file(self, path: Path, by: str | None) -> None:
        """Into a job file; checks of the gauge become notes of it."""
        from engine.document import read_document
        from engine.jobfile import job_notes, parse_job, write_job

        if path.suffix.lower() == ".json":
            raise click.UsageError("readings are taken into job files in YAML; this one is JSON")
        document = read_document(path)
        before = parse_job(document, self._ruleset)
        after, understood = self._told(before, str(path), by)
        notes = dict.fromkeys((*job_notes(document), *understood.notes()))
        write_job(path, after, self._ruleset, tuple(notes))
        self._done(before, after, str(path))

    def into_store(self, job: str, store_path: Path | None, by: str | None) -> None:
        """Into a job of the store; every reading and every check is an entry of the record."""
        from cli.jobs import actor, check_known, open_store
        from cli.recording import pinned
        from engine.readings.recording import reading_drafts
        from engine.trail import job_facts

        who = actor(by)
        with open_store(store_path) as store:
            with store.reading():
                before, last = job_facts(store, job), store.last(job)
            check_known(before, self._ruleset)
            after, understood = self._told(before, f"the job {job}", who)
            drafts = reading_drafts(understood, before, after, who)
            store.append(*drafts, expected_last=last)
            seal = pinned(store)
        self._done(before, after, f"the record of {job}")
        sys.stdout.write(f"{seal}\n")

    def _told(self, job: JobFacts, what: str, by: str | None) -> tuple[JobFacts, Understood]:
        """The job with the readings told. Ends the command where they are not to be taken."""
        from engine.errors import ReadingsError
        from engine.readings import READINGS, understand

        spec = self._ruleset.facts.get(READINGS)
        if spec is None:
            raise click.UsageError(f"the rule set `{self._ruleset.name}` has no fact `{READINGS}`")
        words = self._ruleset.vocabulary
        understood = understand(self._file, tuple(job.panels), words, spec, self._given)
        self._show(understood)
        if understood.problems:
            raise ReadingsError(understood.problems)
        told = understood.told(spec, by)
        if not told:
            say("no reading is left to take; nothing was taken")
            raise Outcome(NO)
        if not self._replace:
            _refuse_replacing(job, list(told))
        if not self._yes:
            _confirm(understood, what)
        for panel, fact in told.items():
            job = job.tell("panel", panel, READINGS, fact)
        return job, understood

    def _done(self, before: JobFacts, after: JobFacts, where: str) -> None:
        count = sum(before.panels[panel] != sheet for panel, sheet in after.panels.items())
        say(f"the readings of {count} panel{'s' if count != 1 else ''} are now in {where}")


def _names(mapped: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for each in mapped:
        name, sign, panel = each.rpartition("=")
        if not sign or not name.strip():
            raise click.UsageError(f'`--map {each}` is not understood; write it as in "A=roof"')
        if found.setdefault(name.strip(), panel.strip()) != panel.strip():
            raise click.UsageError(f"`--map` gives two panels for `{name.strip()}`")
    return found


def _refuse_replacing(job: JobFacts, panels: Sequence[str]) -> None:
    from engine.errors import Problem, ReadingsError
    from engine.readings import READINGS

    there = [panel for panel in panels if READINGS in job.panels[panel]]
    if there:
        raise ReadingsError(
            Problem(
                "readings-there",
                f"the job already has film readings of {', '.join(f'`{each}`' for each in there)}",
                job.panels[there[0]][READINGS].place,
                "Nothing was taken. Say `--replace` to put these in their place.",
            )
        )


def _confirm(understood: Understood, what: str) -> None:
    """Asks on a terminal; anywhere else `--yes` has to be said."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise click.UsageError("nothing was taken; say --yes to take what is shown")
    doubts = len(understood.to_confirm)
    marked = f", with {doubts} point{'s' if doubts != 1 else ''} to look at" if doubts else ""
    if not click.confirm(f"Take these readings into {what}{marked}?", default=False):
        say("nothing was taken")
        raise Outcome(NO)
