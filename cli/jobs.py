"""Opens the job that a command names."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from engine.errors import UsageError, did_you_mean

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.ruleset.model import RuleSet


def open_job(name: str, ruleset: RuleSet) -> JobFacts:
    """The told facts of a job file. Raises InputError where it cannot be read."""
    from engine.jobfile import read_job

    return read_job(Path(name), ruleset)


def panel_named(job: JobFacts, name: str) -> str:
    """The panel a person means. Raises UsageError with what is near."""
    from cli.chat.bulk import match_panels

    found = match_panels(name, tuple(job.panels))
    if len(found) == 1:
        return found[0]
    if found:
        raise UsageError(
            f"`{name}` could mean {', '.join(f'`{each}`' for each in found)}; say which"
        )
    near = did_you_mean(name, job.panels) or f"The panels: {', '.join(job.panels)}."
    raise UsageError(f"job {job.job} has no panel `{name}`. {near}")
