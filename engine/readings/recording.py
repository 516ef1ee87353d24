"""From an understood file to entries of the record: its origin, gauge checks and readings."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from engine.facts import JobFacts
from engine.readings.understood import GaugeCheck, Understood
from engine.readings.words import When
from engine.trail.changing import changes
from engine.trail.entry import Draft, EntryKind


def reading_drafts(
    understood: Understood, before: JobFacts, after: JobFacts, actor: str
) -> tuple[Draft, ...]:
    """The entries that record readings taken into a job, in the order in which things happened.

    `after` is the job with the readings told. Checks of the gauge stand around the readings as the
    file has them, so that the record shows which checks cover which readings.
    """
    job = after.job
    file = PurePath(understood.file).name
    origin = {"text": understood.origin(), "file": file, "digest": understood.digest}
    earlier = [check for check in understood.checks if check.when is When.BEFORE]
    later = [check for check in understood.checks if check.when is not When.BEFORE]
    return (
        Draft(EntryKind.NOTE, actor, origin, job),
        *(_check(check, file, job, actor) for check in earlier),
        *changes(before, after, actor, kind=EntryKind.READING),
        *(_check(check, file, job, actor) for check in later),
        *(Draft(EntryKind.NOTE, actor, {"text": text}, job) for text in understood.beyond()),
    )


def _check(check: GaugeCheck, file: str, job: str, actor: str) -> Draft:
    payload: dict[str, Any] = {
        "text": check.text(),
        "on": check.kind,
        "when": check.when.value,
        "read": [reading.written for reading in check.readings],
        "file": file,
    }
    if check.nominal is not None:
        payload["nominal"] = check.nominal
    if check.time is not None:
        payload["time"] = check.time
    return Draft(EntryKind.GAUGE_CHECK, actor, payload, job)
