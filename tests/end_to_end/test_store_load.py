"""Many terminals at one store, and a store of many jobs, small enough to try every time.

`tests/benchmarks/store_load.py` does the same for minutes and with very many jobs.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Prepwright

from engine.trail import Store, job_facts, verify
from engine.trail.replay import replay
from tests.benchmarks.store_load import many_jobs, missing, ten_terminals

JOBS = 300


def test_many_terminals_at_one_store_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    accepted = ten_terminals(path, 2.0, terminals=4)
    assert missing(path, accepted) == []
    assert len({text.partition(".")[0] for text in accepted.values()}) == 4
    with Store.open(path, read_only=True) as store:
        assert verify(store).sound
        assert store.count() == len(accepted) + 4
    first = min(accepted)
    assert missing(path, {**accepted, first: "another text"}) == [first]


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("many") / "shop.db"
    many_jobs(path, JOBS)
    return path


def test_a_store_of_many_jobs_answers_for_each(prepwright: Prepwright, many: Path) -> None:
    shop = {"PREPWRIGHT_STORE": str(many)}
    listed = " ".join(prepwright("jobs", "--width", "200", **shop).stdout.decode().split())
    assert f"BM-{JOBS - 1} 1 of 1 panels decided" in listed
    assert f"1 to 30 of {JOBS} jobs." in listed
    for words in (("next", "BM-77"), ("why", "BM-77", "roof")):
        done = prepwright(*words, **shop)
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"BM-77" in done.stdout


def test_the_jobs_made_in_bulk_are_such_as_the_commands_make(many: Path) -> None:
    with Store.open(many, read_only=True) as store:
        assert verify(store).sound
        assert job_facts(store, "BM-77").panels.keys() == {"roof"}
        assert replay(store, "BM-77", workers=1).identical
        assert len(store.jobs()) == JOBS
