"""Puts the times a plan is given on one clock."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from engine.errors import UsageError
from engine.plan.merge import Progress


def on_one_clock(progress: Progress, start: datetime | None) -> tuple[Progress, datetime | None]:
    """The same times without time zones, in the zone of `start`, else of `now`.

    Raises UsageError where some times name their zone and others do not: the hours between them
    could only be guessed.
    """
    times = [at for at in (start, progress.now, *progress.done.values()) if at is not None]
    zoned = [at for at in times if at.tzinfo is not None]
    if not zoned:
        return progress, start
    if len(zoned) < len(times):
        raise UsageError(
            "some times name their time zone and some do not; give all of them with a zone, or "
            "all in the time of the shop"
        )
    zone = (start or progress.now or zoned[0]).tzinfo

    def local(at: datetime | None) -> datetime | None:
        return None if at is None else at.astimezone(zone).replace(tzinfo=None)

    done = {key: local(at) for key, at in progress.done.items()}
    return replace(progress, done=done, now=local(progress.now)), local(start)
