"""How often rules fired in the decisions that stand."""

from __future__ import annotations

import pytest

from engine.reasoning.decide import decide
from engine.trail import Store, export_file, import_file, opening
from engine.trail.deciding import record_decision
from engine.trail.fired import Fired, firings_in
from tests.unit.impact_edits import RULES, a_job
from tests.unit.trail_sample import SetClock, keep_ruleset, without_protection


@pytest.fixture
def store(tmp_path):
    """BM-7 was decided twice, first with a film that comes down; BM-8 once, with two panels."""
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        ruleset = keep_ruleset(store, RULES, "Kim")
        for name, films in (
            ("BM-7", {"roof": "20 mil"}),
            ("BM-8", {"roof": "14 mil", "bonnet": "15 mil"}),
            ("BM-7", {"roof": "5 mil"}),
        ):
            facts = a_job(ruleset, films)
            job = facts.__class__(name, facts.shop, facts.car, facts.panels)
            if not store.last(name):
                store.append(opening(job, "Kim"))
            record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
        yield store


def test_the_last_decision_of_each_job_counts(store):
    found = firings_in(store)
    assert (found.decisions, found.unreadable) == (2, 0)
    over, within = found.of("film-over-limit"), found.of("film-within-limit")
    assert (over.decisions, over.subjects) == (1, 2)
    assert (within.decisions, within.subjects) == (1, 1)
    assert within.last > over.last
    assert found.of("not-refinished") == Fired()


def test_counts_are_those_of_reading_every_entry_in_full(store):
    counts: dict[str, int] = {}
    for job in store.jobs():
        payload = store.entry(store.last(job)).payload
        for fired in (payload["firings"]["car"], *payload["firings"]["panels"].values()):
            for rule in fired:
                counts[rule] = counts.get(rule, 0) + 1
    found = firings_in(store)
    assert {rule: each.subjects for rule, each in found.rules.items()} == counts


def test_decisions_taken_over_count_too(store, tmp_path):
    export_file(store, tmp_path / "one.json", "BM-8")
    with Store.open(tmp_path / "other.db", clock=SetClock()) as other:
        import_file(other, tmp_path / "one.json", "Lee")
        found = firings_in(other)
        assert (found.decisions, found.of("film-over-limit").subjects) == (1, 2)


def test_what_cannot_be_read_is_counted(store):
    last = store.last("BM-8")
    without_protection(
        store.connection, f"UPDATE entries SET payload = '{{}}' WHERE sequence = {last}"
    )
    found = firings_in(store)
    assert (found.decisions, found.unreadable) == (2, 1)


def test_an_empty_store(tmp_path):
    with Store.open(tmp_path / "shop.db") as store:
        assert firings_in(store).decisions == 0
