"""What a job tells, and the record that a page printed of it is sealed by."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cli.jobs import check_known, is_file, open_job, open_store, progress_of
from cli.recording import record
from engine.decision import Decision
from engine.errors import JobChangedError
from engine.facts import JobFacts
from engine.plan import Progress
from engine.ruleset.model import RuleSet


@dataclass(frozen=True, slots=True)
class ToldOf:
    """The facts and progress of a job; `last` is its last entry in the store, None for a file."""

    facts: JobFacts
    progress: Progress
    last: int | None

    @property
    def stored(self) -> bool:
        return self.last is not None

    def sealed(
        self,
        ruleset: RuleSet,
        decision: Decision,
        store_path: Path | None,
        folder: Path | None,
        who: str,
        printed_on: str,
    ) -> str:
        """The seal of a record that holds this decision; that it was printed is recorded too.

        Raises JobChangedError where somebody else changed the job since it was read.
        """
        from engine.trail.work import last_decision

        job = self.facts.job
        with open_store(store_path) as store, store.writing():
            if store.last(job) != self.last:
                raise JobChangedError(f"job {job} was changed while its report was made; try again")
            kept = last_decision(store, job)
            if kept is None or kept.payload["outcome"] != decision.as_json():
                record(store, folder, ruleset, self.facts, decision, who)
            return str(store.print_seal(who, printed_on, job))


def told_of(job: str, ruleset: RuleSet, store_path: Path | None) -> ToldOf:
    """What is told of a job, from its file or from the store. Raises as `cli.jobs.open_job`."""
    if is_file(job):
        return ToldOf(open_job(job, ruleset), progress_of(job), None)
    from engine.trail import job_facts
    from engine.trail.store import now
    from engine.trail.work import progress

    with open_store(store_path, read_only=True) as store, store.reading():
        told = ToldOf(job_facts(store, job), progress(store, job, now()), store.last(job))
    check_known(told.facts, ruleset)
    return told
