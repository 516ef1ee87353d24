"""The state of a job is its entries replayed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from engine.errors import Place, TrailError
from engine.facts import Told
from engine.trail import (
    Draft,
    EntryKind,
    Store,
    history,
    job_facts,
    opening,
    telling,
    withdrawing,
)
from engine.trail.facts import job_from, job_payload
from tests.unit.trail_sample import BOOKMOBILE, SetClock, readings


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as opened:
        opened.append(opening(BOOKMOBILE, "Kim"))
        yield opened


def test_a_job_comes_back_as_it_was_told(store):
    again = job_facts(store, "BM-7")
    assert again == BOOKMOBILE
    assert list(again.panels) == ["roof", "bonnet", "left door"]
    assert again.panels["roof"]["film.readings"].value[0][1] == Fraction(127)
    assert again.panels["bonnet"]["substrate"].value is None
    assert again.car["car.year"].place == Place("bm7.yaml", 4, 9)


def test_entries_change_what_is_known_in_their_order(store):
    expected = BOOKMOBILE
    store.append(
        telling(
            "BM-7",
            "Ada",
            [
                ("panel", "bonnet", "substrate", Told("steel", "steel")),
                ("shop", None, "shop.region", Told("eu", "eu")),
                ("panel", "tailgate", "film.readings", readings((1,))),
            ],
            panels=["spoiler"],
            instrument="gauge 2",
            kind=EntryKind.READING,
        ),
        withdrawing("BM-7", "Kim", [("car", None, "car.year"), ("panel", "roof", "film.readings")]),
        telling("BM-7", "Ada", [("panel", "roof", "rust", Told("pitted", "pitted"))],
                kind=EntryKind.FOUND),
        Draft(EntryKind.NOTE, "Ada", {"facts": "a note tells none"}, "BM-7"),
    )  # fmt: skip
    expected = replace(expected, panels={**expected.panels, "spoiler": {}})
    expected = expected.tell("panel", "bonnet", "substrate", Told("steel", "steel"))
    expected = expected.tell("shop", None, "shop.region", Told("eu", "eu"))
    expected = expected.tell("panel", "tailgate", "film.readings", readings((1,)))
    expected = expected.withdraw("car", None, "car.year")
    expected = expected.withdraw("panel", "roof", "film.readings")
    expected = expected.tell("panel", "roof", "rust", Told("pitted", "pitted"))
    found = job_facts(store, "BM-7")
    assert found == expected
    assert list(found.panels) == ["roof", "bonnet", "left door", "spoiler", "tailgate"]


def test_a_job_is_known_as_it_stood_at_any_entry(store):
    store.append(withdrawing("BM-7", "Kim", [("car", None, "car.year")]))
    assert job_facts(store, "BM-7", upto=1) == BOOKMOBILE
    assert not job_facts(store, "BM-7", upto=2).car


def test_withdrawing_a_panel_takes_it_away_and_what_is_not_there_makes_no_difference(store):
    store.append(
        withdrawing(
            "BM-7",
            "Kim",
            [("panel", "no such panel", "rust"), ("shop", None, "no.such.fact")],
            panels=["roof", "no such panel"],
        )
    )
    assert list(job_facts(store, "BM-7").panels) == ["bonnet", "left door"]


def test_the_history_tells_who_did_what_when_and_with_what(store):
    store.append(Draft(EntryKind.GAUGE_CHECK, "Ada", {"read": "126 um"}, "BM-7", "gauge 2"))
    told = [(each.kind, each.actor, each.instrument) for each in history(store, "BM-7")]
    assert told == [
        (EntryKind.JOB_OPENED, "Kim", None),
        (EntryKind.GAUGE_CHECK, "Ada", "gauge 2"),
    ]


def test_a_job_that_is_not_there_is_told(store):
    with pytest.raises(TrailError, match=r"no job `BM-8` in the record. Did you mean `BM-7`"):
        job_facts(store, "BM-8")
    assert list(history(store, "BM-7", upto=0)) == []


def test_only_kinds_that_tell_facts_tell_them():
    with pytest.raises(TrailError, match="`note` tells no facts"):
        telling("BM-7", "Kim", [], kind=EntryKind.NOTE)


def test_a_job_stands_alone_in_its_payload():
    assert job_from(job_payload(BOOKMOBILE)) == BOOKMOBILE


def told(value, **more):
    fact = {"about": "car", "panel": None, "fact": "f", "told": {"value": value, "written": "x"}}
    return {"job": "J", "facts": [fact | more]}


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "the job has no name"),
        ({"job": "J", "panels": "roof"}, "`panels` must be a list of names"),
        ({"job": "J", "panels": [1]}, "`panels` must be a list of names"),
        ({"job": "J", "facts": {}}, "`facts` must be a list"),
        ({"job": "J", "facts": [1]}, "`facts` must be a list"),
        (told(None, about="boat"), "whom it is about"),
        (told(None, fact=1), "whom it is about"),
        (told(None, panel="roof"), "`f` must name a panel where it is about one"),
        (told(None, about="panel"), "`f` must name a panel where it is about one"),
        (told(None, about="panel", panel=3), "`f` must name a panel where it is about one"),
        (told(None, told=None), "what was told"),
        (told(None, told={"value": None}), "what was told"),
        (told(None, told={"written": "x", "colour": "red"}), "`colour` is nothing that is kept"),
        (told(None, told={"written": "x", "by": 1}), "must be text"),
        (told(None, told={"written": "x", "place": [1, 2, 3]}), "its place in a file"),
        (told(128.3), "its value cannot be read"),
        (told("steel"), "its value cannot be read"),
        (told({"number": 12}), "`12` is no exact number"),
        (told({"number": "12.5"}), "`12.5` is no exact number"),
        (told({"number": "1e3"}), "`1e3` is no exact number"),
        (told({"number": "1/0"}), "`1/0` is no exact number"),
        (told({"number": "٣"}), "is no exact number"),
        (told({"number": "9" * 5000}), "is no exact number"),
        (told({"number": "1", "text": "1"}), "its value cannot be read"),
        (told({"set": ["a", 1]}), "its value cannot be read"),
        (told({"readings": ["1"]}), "its value cannot be read"),
        (told({"readings": [[1]]}), "`1` is no exact number"),
    ],
)
def test_what_is_no_fact_is_refused(data, says):
    with pytest.raises(TrailError) as caught:
        job_from(data)
    assert says in caught.value.format_message()
    assert len(caught.value.format_message()) < 200
