"""`prepwright rules impact`: what an edit of the rules would change."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.errors import NO, Outcome
from cli.options import completed_by, plain_option, store_option, width_option

if TYPE_CHECKING:
    from engine.impact.versions import Version
    from engine.trail import Store


@click.command()
@click.argument("new", required=False, metavar="[FOLDER]")
@click.option(
    "--old",
    metavar="OLD",
    help="Compare with this folder, or with REVISION:PATH of the git repository here.",
)
@click.option(
    "--since", metavar="REVISION", help="Compare with FOLDER as it stood in this git revision."
)
@click.option(
    "--job",
    "jobs",
    metavar="JOB",
    multiple=True,
    shell_complete=completed_by("job_names"),
    help="Only this job; may be repeated.",
)
@click.option("--every", is_flag=True, help="Every recorded decision, not the last of each job.")
@click.option("--cases-only", is_flag=True, help="Only the worked cases; leave the store alone.")
@click.option("--no-cases", is_flag=True, help="Only the stored decisions; no worked cases.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes (default: one a core).")
@click.option(
    "--fail-on-change",
    is_flag=True,
    help="End with 1 where any outcome or work changes or cannot be compared.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Write JSON (prepwright/impact/1) to standard output."
)
@store_option
@plain_option
@width_option
def impact(
    new: str | None,
    old: str | None,
    since: str | None,
    jobs: tuple[str, ...],
    every: bool,
    cases_only: bool,
    no_cases: bool,
    workers: int | None,
    fail_on_change: bool,
    as_json: bool,
    store_path: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """What would the rules in FOLDER change? Decides stored jobs and worked cases again.

    FOLDER holds a rule set or a shop's changes, or is REVISION:PATH of a git repository; without
    it the supplied set is looked at. Without --old or --since each stored decision is compared
    with the rules it was taken by, and the worked cases with the rules of the same name last used
    in the store, else with the supplied set. Nothing is recorded.

    A shop's changes of a git revision lie over the supplied set of that revision where the
    repository holds it, else over the supplied set as it is installed.

    Ends with 0 once the report is made, whatever changes; see --fail-on-change.
    """
    from cli.output.impact_text import impact_text
    from cli.output.jsontext import write_json
    from cli.output.progress import progress_by_part
    from cli.output.style import style_for_stdout
    from engine.impact import impact as compare
    from engine.impact.as_json import impact_json

    if old is not None and since is not None:
        raise click.UsageError("name what to compare with once, by --old or by --since")
    if cases_only and (no_cases or jobs or every):
        raise click.UsageError("--cases-only leaves no stored decisions to choose from")
    with (
        tempfile.TemporaryDirectory(prefix="prepwright-") as place,
        _store(store_path, cases_only=cases_only, needed=no_cases or bool(jobs)) as (store, why),
        progress_by_part() as progress,
    ):
        _check_jobs(store, jobs)
        versions = _Versions(Path(place), store)
        newer = versions.new(new)
        found = compare(
            newer,
            versions.old(newer, new, old, since),
            store,
            of_their_day=old is None and since is None,
            jobs=jobs,
            every=every,
            cases=not no_cases,
            workers=workers,
            progress=progress,
        )
    if as_json:
        write_json(impact_json(found))
    else:
        style = style_for_stdout(plain=plain, width=width)
        sys.stdout.write(impact_text(found, style, no_store=why))
    if fail_on_change and found.changed:
        raise Outcome(NO)


@contextmanager
def _store(
    path: Path | None, *, cases_only: bool, needed: bool
) -> Iterator[tuple[Store | None, str | None]]:
    """The store to look at, or why there is none; it is needed where it was asked for."""
    from cli.jobs import store_if_there

    if cases_only:
        yield None, None
        return
    with store_if_there(path, needed=needed) as store:
        if isinstance(store, str):
            yield None, f"There is no store at {store} yet, so no stored decision was looked at."
        else:
            yield store, None


def _check_jobs(store: Store | None, jobs: tuple[str, ...]) -> None:
    from cli.jobs import check_job

    for job in jobs:
        assert store is not None
        check_job(store, job)


class _Versions:
    """Finds the rule sets that are named, each copied into a folder of its own."""

    def __init__(self, place: Path, store: Store | None) -> None:
        self._place = place
        self._store = store

    def new(self, named: str | None) -> Version:
        from engine.impact.versions import in_folder
        from engine.supplied import supplied_ruleset_folder

        if named is None:
            into = self._place / "new"
            return in_folder(supplied_ruleset_folder(), into, named="the supplied set")
        return self._named(named, "new")

    def old(
        self, new: Version, new_named: str | None, old: str | None, since: str | None
    ) -> Version:
        from engine.errors import UsageError
        from engine.impact import versions
        from engine.supplied import supplied_ruleset_folder

        into = self._place / "old"
        if old is not None:
            return self._named(old, "old")
        if since is not None:
            if new_named is not None and versions.git_name(new_named) is not None:
                raise UsageError(
                    "--since goes back from the files of a folder; with REVISION:PATH name the "
                    "older one by --old"
                )
            folder = Path(new_named) if new_named is not None else supplied_ruleset_folder()
            return versions.since(since, folder, into)
        return versions.before(new, self._store, into)

    def _named(self, named: str, as_: str) -> Version:
        from engine.impact.versions import git_name, in_folder, in_git

        from_git = git_name(named)
        if from_git is not None:
            return in_git(*from_git, self._place / as_)
        return in_folder(Path(named), self._place / as_)
