"""Stored decisions under other rules: which are looked at, by how many processes, what fails."""

from __future__ import annotations

import shutil

import pytest

from engine.errors import TrailError, UsageError
from engine.impact.stored import stored_impact
from engine.reasoning.decide import decide
from engine.trail import EntryKind, Store, export_file, import_file, opening
from engine.trail.deciding import record_decision
from engine.trail.latest import latest_decisions
from engine.trail.spread import CHUNK
from tests.unit.impact_edits import LIMIT_HIGHER, LIMIT_LOWER, RULES, a_job, edited
from tests.unit.trail_sample import SetClock, keep_ruleset, without_protection

FILMS = ("5 mil", "10 mil", "11 mil", "14 mil")


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """Four jobs of one panel, each decided twice: first at 20 mil, then as in FILMS."""
    path = tmp_path_factory.mktemp("record") / "shop.db"
    with Store.open(path, clock=SetClock()) as store:
        ruleset = keep_ruleset(store, RULES, "Kim")
        for index, film in enumerate(FILMS):
            for told in ("20 mil", film):
                job = named(a_job(ruleset, {"roof": told}), f"BM-{index}")
                if told == "20 mil":
                    store.append(opening(job, "Kim"))
                record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
        store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


def named(job, name):
    return job.__class__(name, job.shop, job.car, job.panels)


@pytest.fixture
def store(template, tmp_path):
    shutil.copy(template, tmp_path / "shop.db")
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as opened:
        yield opened


@pytest.fixture
def lower(tmp_path):
    return edited(tmp_path / "lower", LIMIT_LOWER)


def deeper(tally):
    return {(key.was, key.now): found.panels.subjects for key, found in tally.treated.items()}


def test_the_last_decision_of_each_job_is_looked_at(store, lower):
    tally = stored_impact(store, lower, workers=1)
    assert (tally.jobs, tally.changed, tally.same, tally.failed) == (4, 2, 2, 0)
    assert deeper(tally) == {("sand", "strip"): 2}
    (found,) = tally.treated.values()
    assert [(example.job, example.panel) for example in found.panels.examples] == [
        ("BM-1", "roof"),
        ("BM-2", "roof"),
    ]
    recorded = {example.entry for example in found.panels.examples}
    assert recorded == {store.last("BM-1"), store.last("BM-2")}


def test_every_decision_is_looked_at_where_that_is_asked(store, tmp_path):
    higher = edited(tmp_path / "higher", LIMIT_HIGHER)
    tally = stored_impact(store, higher, every=True, workers=1)
    assert (tally.jobs, deeper(tally)) == (8, {("strip", "sand"): 1})
    assert stored_impact(store, higher, jobs=["BM-0", "BM-3"], every=True, workers=1).jobs == 4
    assert stored_impact(store, higher, jobs=["BM-3"], workers=1).jobs == 1


def test_without_old_rules_each_decision_stands_by_those_of_its_day(store, lower):
    """The second time the store was decided by the new rules already, so nothing changes."""
    ruleset = keep_ruleset(store, lower, "Kim")
    for index, film in enumerate(FILMS):
        job = named(a_job(ruleset, {"roof": film}), f"BM-{index}")
        record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
    assert stored_impact(store, lower, workers=1).changed == 0
    assert deeper(stored_impact(store, lower, RULES, workers=1)) == {("sand", "strip"): 2}
    # Looked at one by one, those of earlier days still would.
    assert stored_impact(store, lower, every=True, workers=1).changed == 2


def test_many_processes_find_what_one_finds(store, lower):
    ruleset = keep_ruleset(store, RULES, "Kim")
    for index in range(3 * CHUNK):
        job = named(a_job(ruleset, {"roof": f"{3 + index % 12} mil"}), f"MORE-{index}")
        store.append(opening(job, "Kim"))
        record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
    seen = []
    alone = stored_impact(store, lower, workers=1)
    together = stored_impact(
        store, lower, workers=2, progress=lambda done, total: seen.append((done, total))
    )
    assert together == alone
    assert alone.jobs == 4 + 3 * CHUNK
    assert seen == sorted(seen)
    assert seen[-1] == (alone.jobs, alone.jobs)


def test_what_was_changed_or_lacks_a_part_is_named_and_never_dropped(store, lower):
    last = store.last("BM-1")
    without_protection(
        store.connection, f"UPDATE entries SET actor = 'Lee' WHERE sequence = {last}"
    )
    tally = stored_impact(store, lower, workers=1)
    assert (tally.jobs, tally.failed, tally.changed) == (4, 1, 1)
    (failed,) = tally.shown_failed
    assert f"entry {last} of the record was changed" in failed.why
    assert failed.entry == last


def test_a_rule_set_that_is_damaged_is_named(store, lower):
    without_protection(store.connection, "UPDATE contents SET packed = x'00'")
    tally = stored_impact(store, lower, workers=1)
    assert (tally.failed, tally.changed) == (4, 0)
    assert "its rule set cannot be had" in tally.shown_failed[0].why
    assert tally.shown_failed[0].job == "BM-0"
    # With old rules named, those of its day are not needed.
    assert stored_impact(store, lower, RULES, workers=1).failed == 0


def test_jobs_taken_over_from_another_record_count_by_their_last_decision(store, lower, tmp_path):
    export_file(store, tmp_path / "one.json", "BM-1")
    with Store.open(tmp_path / "other.db", clock=SetClock()) as other:
        import_file(other, tmp_path / "one.json", "Lee")
        assert len(latest_decisions(other)) == 1
        assert deeper(stored_impact(other, lower, workers=1)) == {("sand", "strip"): 1}
        ruleset = keep_ruleset(other, RULES, "Lee")
        job = named(a_job(ruleset, {"roof": "4 mil"}), "BM-1")
        entry = record_decision(other, ruleset, job, decide(ruleset, job), "Lee")
        assert list(latest_decisions(other)) == [entry.sequence]
        assert stored_impact(other, lower, workers=1).changed == 0


def test_the_last_decisions_are_those_a_look_through_the_record_finds(store):
    ruleset = keep_ruleset(store, RULES, "Kim")
    job = named(a_job(ruleset, {"roof": "6 mil"}), "BM-1")
    record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
    store.append(opening(named(job, "BM-9"), "Kim"))
    last = {}
    for entry in store.entries(kinds=[EntryKind.DECISION]):
        last[entry.job] = entry.sequence
    assert list(latest_decisions(store)) == sorted(last.values())
    assert list(latest_decisions(store, "BM-1")) == [last["BM-1"]]
    assert list(latest_decisions(store, "BM-9")) == []


def test_a_process_that_cannot_begin_ends_in_one_clear_message(store, tmp_path):
    ruleset = keep_ruleset(store, RULES, "Kim")
    job = named(a_job(ruleset, {"roof": "6 mil"}), "BM-1")
    for _ in range(CHUNK):
        record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
    with pytest.raises((TrailError, UsageError), match="was ended from outside"):
        stored_impact(store, tmp_path / "nothing here", every=True, workers=2)
