"""Jobs in the record: drafts of what happens to one, and its state as its entries replayed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine.errors import TrailError
from engine.facts import JobFacts
from engine.plaintext import quoted
from engine.trail.entry import Draft, Entry, EntryKind, Original
from engine.trail.facts import (
    FACT_KINDS,
    ToldFact,
    facts_payload,
    with_entry,
    withdrawn_payload,
)
from engine.trail.store import Store


def opening(job: JobFacts, actor: str) -> Draft:
    """Opens a job with everything already told of it."""
    return Draft(EntryKind.JOB_OPENED, actor, facts_payload(job, job.panels), job.job)


def telling(
    job: str,
    actor: str,
    facts: Iterable[ToldFact],
    *,
    panels: Iterable[str] = (),
    instrument: str | None = None,
    kind: EntryKind = EntryKind.TOLD,
) -> Draft:
    """Tells facts of a job: by a person (`told`), a gauge (`reading`) or as a surprise (`found`).

    `panels` names new panels. Raises TrailError for a kind that tells no facts.
    """
    if kind not in FACT_KINDS:
        raise TrailError(f"an entry `{kind.value}` tells no facts")
    return Draft(kind, actor, facts_payload(facts, panels), job, instrument)


def withdrawing(
    job: str,
    actor: str,
    facts: Iterable[tuple[str, str | None, str]],
    *,
    panels: Iterable[str] = (),
) -> Draft:
    """Withdraws facts, each as (about, panel, fact id), and whole panels."""
    return Draft(EntryKind.WITHDRAWN, actor, withdrawn_payload(facts, panels), job)


def history(store: Store, job: str, upto: int | None = None) -> Iterator[Original]:
    """What was recorded of a job, in order, imported entries as they were in the first place.

    Raises TrailError where there is no such job, or an entry was changed.
    """
    found = False
    for entry in store.entries(job, last=upto):
        found = True
        yield entry.original
    if not found and not store.last(job):
        near = store.near(job)
        raise TrailError(f"there is no job {quoted(job)} in the record. {near or ''}".rstrip())


def job_facts(store: Store, job: str, upto: int | None = None) -> JobFacts:
    """What is known of a job: its entries replayed, as far as entry `upto` where that is given.

    Raises TrailError where there is no such job, or an entry was changed.
    """
    facts = JobFacts(job)
    for recorded in history(store, job, upto):
        facts = with_entry(facts, recorded.kind, recorded.payload)
    return facts


def told_in(store: Store, job: str) -> dict[tuple[str | None, str], Entry]:
    """The entry that told each fact of a job last, by panel (None: car or shop) and fact id.

    Raises TrailError where an entry was changed.
    """
    found: dict[tuple[str | None, str], Entry] = {}
    for entry in store.entries(job):
        recorded = entry.original
        if recorded.kind is EntryKind.WITHDRAWN:
            gone = recorded.payload.get("panels", ())
            for key in [key for key in found if key[0] in gone]:
                del found[key]
            for item in recorded.payload.get("facts", ()):
                found.pop((item["panel"], item["fact"]), None)
        elif recorded.kind in FACT_KINDS:
            for item in recorded.payload.get("facts", ()):
                found[item["panel"], item["fact"]] = entry
    return found
