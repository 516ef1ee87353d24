"""Replaying a record and comparing rule sets over it, and what memory many decisions take."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from engine.facts import JobFacts
from engine.impact.stored import stored_impact
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet
from engine.supplied import supplied_ruleset_folder
from engine.trail import Draft, EntryKind, Store
from engine.trail.deciding import deciding
from engine.trail.facts import facts_payload
from engine.trail.replay import replay
from engine.trail.rulesets import load_for_deciding
from tests.benchmarks import varied
from tests.benchmarks.measuring import Measured, resident_mb
from tests.unit.trail_sample import keep_ruleset

PART = "bulk"
JOBS = 300
DECISIONS = 100_000
_ONE_PANEL = 2000
_WHO = "benchmark"


def measure(ruleset: RuleSet, jobs: int = JOBS, decisions: int = DECISIONS) -> Iterator[Measured]:
    """Replay and impact in this process alone; memory over single-panel decisions."""
    with tempfile.TemporaryDirectory() as place:
        for what, made in (
            ("one panel", _single(ruleset, jobs)),
            ("one to fifteen panels", varied.jobs(ruleset, jobs)),
        ):
            panels = sum(len(job.panels) for job in made) / len(made)
            path = Path(place) / f"{len(what)}.db"
            with Store.open(path) as store:
                size = _record(store, ruleset, made)
            of = f"{jobs} jobs of {what} ({panels:.1f} on average, {size / 1000:.0f} kB each)"
            with Store.open(path, read_only=True) as store:
                rate = _replayed(store, jobs)
                yield Measured(
                    PART, f"replay, {of}", rate, "decisions/s/core", goal=2000, at_most=False
                )
                yield Measured(PART, f"impact, {of}", _compared(store, jobs), "decisions/s/core")
    yield from _memory(ruleset, decisions)


def _single(ruleset: RuleSet, count: int) -> list[JobFacts]:
    found = []
    for number, job in enumerate(varied.jobs(ruleset, count, seed=11)):
        name = next(iter(job.panels))
        found.append(JobFacts(f"ONE-{number}", job.shop, job.car, {name: job.panels[name]}))
    return found


def _record(store: Store, ruleset: RuleSet, jobs: list[JobFacts]) -> float:
    """Record a decision of every job; returns the average length of one."""
    from engine.trail.canonical import canonical

    keep_ruleset(store, supplied_ruleset_folder(), _WHO)
    drafts = [deciding(ruleset, job, decide(ruleset, job), _WHO) for job in jobs]
    with store.writing():
        store.append(
            *(Draft(EntryKind.JOB_OPENED, _WHO, facts_payload((), ()), job.job) for job in jobs)
        )
        store.append(*drafts)
    return sum(len(canonical(draft.payload)) for draft in drafts) / len(drafts)


def _replayed(store: Store, count: int) -> float:
    began = time.process_time()
    report = replay(store, workers=1)
    took = time.process_time() - began
    if not report.identical or report.decisions != count:
        raise SystemExit("replaying came out otherwise")
    return count / took


def _compared(store: Store, count: int) -> float:
    """Impact of one limit changed, over the decisions of the store."""
    with tempfile.TemporaryDirectory() as place:
        changed = Path(shutil.copytree(supplied_ruleset_folder(), Path(place) / "rules"))
        limits = changed / "limits.yaml"
        before = limits.read_text(encoding="utf-8")
        after = before.replace("value: 12 mil", "value: 11 mil", 1)
        if before == after:
            raise SystemExit("there is no limit of 12 mil to change")
        limits.write_text(after, encoding="utf-8")
        load_for_deciding(changed)
        began = time.process_time()
        stored_impact(store, changed, workers=1)
        return count / (time.process_time() - began)


def _memory(ruleset: RuleSet, decisions: int) -> Iterator[Measured]:
    jobs = _single(ruleset, _ONE_PANEL)
    tenth = max(decisions // 10, 1)
    began = time.process_time()
    after_tenth = 0.0
    for number in range(decisions):
        decide(ruleset, jobs[number % len(jobs)], ask=False)
        if number + 1 == tenth:
            after_tenth = resident_mb()
    rate = decisions / (time.process_time() - began)
    yield Measured(PART, "one-panel decisions", rate, "decisions/s/core")
    grown = resident_mb() - after_tenth
    yield Measured(PART, f"memory after {tenth:,} decisions", after_tenth, "MB")
    yield Measured(PART, f"memory more after {decisions:,} decisions", grown, "MB", goal=5)
