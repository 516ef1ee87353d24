"""From a job before to the same job after: the entries that record the change."""

from __future__ import annotations

from engine.facts import JobFacts
from engine.trail.entry import Draft, EntryKind
from engine.trail.jobs import telling, withdrawing


def changes(
    before: JobFacts,
    after: JobFacts,
    actor: str,
    *,
    kind: EntryKind = EntryKind.TOLD,
    instrument: str | None = None,
) -> tuple[Draft, ...]:
    """What was withdrawn, then what was told or told anew; nothing where nothing changed.

    `kind` is that of the facts told: by a person, by a gauge, or found as a surprise.
    """
    had = {(about, panel, fact): told for about, panel, fact, told in before}
    has = {(about, panel, fact): told for about, panel, fact, told in after}
    gone_panels = [panel for panel in before.panels if panel not in after.panels]
    gone = [key for key in had if key not in has and key[1] not in gone_panels]
    new_panels = [panel for panel in after.panels if panel not in before.panels]
    told = [(*key, value) for key, value in has.items() if had.get(key) != value]
    drafts: list[Draft] = []
    if gone or gone_panels:
        drafts.append(withdrawing(after.job, actor, gone, panels=gone_panels))
    if told or new_panels:
        drafts.append(
            telling(after.job, actor, told, panels=new_panels, kind=kind, instrument=instrument)
        )
    return tuple(drafts)
