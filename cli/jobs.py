"""Opens the job that a command names: a job file, or a job in the shop's store."""

from __future__ import annotations

import getpass
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from engine.errors import InputError, Problem, UsageError, did_you_mean
from engine.plaintext import printable, quoted
from engine.words import say

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.plan import Progress
    from engine.ruleset.model import RuleSet
    from engine.trail import Entry, Store
    from engine.trail.summaries import Summary

_JOB_FILES = (".yaml", ".yml", ".json")
_ACTOR = "PREPWRIGHT_BY"


def is_file(name: str) -> bool:
    """Whether a job is named by its file: ending as one, with a folder, or being there."""
    if name.lower().endswith(_JOB_FILES) or "/" in name or os.sep in name:
        return True
    try:
        return Path(name).exists()
    except (OSError, ValueError):
        return False


def actor(by: str | None) -> str:
    """Who acts: the name given, that of PREPWRIGHT_BY, or the one logged in.

    Raises InputError where it is no text that is safe to keep.
    """
    named = by or os.environ.get(_ACTOR)
    if named and named.strip():
        from engine.answers import read_text

        return read_text(named.strip(), "the name of who does this")
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        raise UsageError(f"say who does this, with --by NAME or in {_ACTOR}") from None


@contextmanager
def open_store(path: Path | None, *, read_only: bool = False) -> Iterator[Store]:
    """The shop's store, closed at the end. Raises StoreError where it cannot be used."""
    from engine.trail import Store

    with Store.open(path, read_only=read_only) as store:
        yield store


@contextmanager
def store_if_there(path: Path | None, *, needed: bool = False) -> Iterator[Store | str]:
    """The shop's store to read from, or where it would be if there is none yet.

    One that was named, or is `needed`, has to be there. Raises StoreError as `open_store`.
    """
    from engine.trail.sqlite import home

    where = home(path)
    if path is None and not needed and not where.is_file():
        yield str(where)
        return
    with open_store(path, read_only=True) as store:
        yield store


def open_job(name: str, ruleset: RuleSet, store: Path | None = None) -> JobFacts:
    """The told facts of a job.

    Raises InputError where its file cannot be read or tells facts the rule set does not know,
    TrailError where there is no such job in the store.
    """
    if is_file(name):
        from engine.jobfile import read_job

        return read_job(Path(name), ruleset)
    from engine.trail import job_facts

    with open_store(store, read_only=True) as opened:
        facts = job_facts(opened, name)
    check_known(facts, ruleset)
    return facts


def progress_of(name: str, store: Path | None = None, *, by_clock: bool = True) -> Progress:
    """What of a job is done and released; a job file says nothing of that.

    Without `by_clock` the present time is left out, so that the same job gives the same plan.
    """
    from engine.plan import Progress

    if is_file(name):
        return Progress.none()
    from engine.trail.store import now
    from engine.trail.work import progress

    with open_store(store, read_only=True) as opened:
        return progress(opened, name, now() if by_clock else None)


def seal_line(name: str, store: Path | None = None) -> str | None:
    """The seal of the record a stored job stands in, as a line to print; None for a job file."""
    if is_file(name):
        return None
    with open_store(store, read_only=True) as opened:
        return seal_words(opened)


def seal_words(store: Store) -> str:
    """The seal of the record as it stands, as a line to print under what only reads it."""
    return f"{say('Seal of the record')}: {store.head()}"


def told_entries(name: str, store: Path | None = None) -> dict[tuple[str | None, str], Entry]:
    """The entries that told the facts of a stored job; none for a job file."""
    if is_file(name):
        return {}
    from engine.trail.jobs import told_in

    with open_store(store, read_only=True) as opened:
        return told_in(opened, name)


def standing(summary: Summary) -> str:
    """How far a job of the store is decided, in words."""
    if summary.panels is None:
        return "not decided yet"
    return f"{summary.decided} of {summary.panels} panels decided"


def check_known(facts: JobFacts, ruleset: RuleSet) -> None:
    """Raise InputError where a job tells facts that this rule set does not know."""
    problems = [
        Problem(
            "unknown-fact",
            f"job {printable(facts.job)} tells {quoted(fact)} of {printable(panel or about)}, "
            f"which the rule set {ruleset.name} {ruleset.version} does not know",
            fix="Name the rule set it was told under with --ruleset.",
        )
        for about, panel, fact, _ in facts
        if fact not in ruleset.facts or not ruleset.facts[fact].told
    ]
    if problems:
        raise InputError(problems)


def check_job(store: Store, job: str) -> None:
    """Raise TrailError, with what is near, where the store has no such job."""
    from engine.errors import TrailError

    if not store.last(job):
        near = store.near(job)
        raise TrailError(f"there is no job {quoted(job)} in the record. {near or ''}".rstrip())


def panel_named(job: JobFacts, name: str) -> str:
    """The panel a person means. Raises UsageError with what is near."""
    from cli.chat.bulk import match_panels

    found = match_panels(name, tuple(job.panels))
    if len(found) == 1:
        return found[0]
    if found:
        several = ", ".join(map(quoted, found))
        raise UsageError(f"{quoted(name)} could mean {several}; say which")
    near = did_you_mean(name, job.panels) or f"The panels: {', '.join(map(printable, job.panels))}."
    raise UsageError(f"job {printable(job.job)} has no panel {quoted(name)}. {near}")
