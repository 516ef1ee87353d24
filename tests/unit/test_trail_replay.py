"""Every recorded decision decided again by the rules of its day."""

from __future__ import annotations

import copy
import os
import shutil
from pathlib import Path

import pytest

from engine.document import parse_document
from engine.errors import ReasoningDisagreement, TrailError
from engine.jobfile import parse_job
from engine.reasoning.decide import decide
from engine.trail import (
    EntryKind,
    Store,
    export_file,
    import_file,
    job_facts,
    opening,
    verify,
)
from engine.trail.deciding import decide_again, deciding, record_decision
from engine.trail.differences import differences
from engine.trail.replay import CHUNK, replay, replay_entry
from tests.unit.trail_sample import SetClock, keep_ruleset, without_protection

RULES = Path(__file__).with_name("small_ruleset")

JOB = """
prepwright: job/1
job: {job}
shop: {{air-temperature: 21 degC}}
car: {{year: 1996, topcoat: base-and-clear, washed: no}}
panels:
  roof: {{substrate: steel}}
  bonnet:
    substrate: steel
    defects: [none]
    film: {{gauge: magnetic, readings: [{film} mil, [12.0 mil, 12.2 mil]]}}
"""


def a_job(ruleset, name="BM-7", film="4.9"):
    return parse_job(parse_document(JOB.format(job=name, film=film), "job"), ruleset)


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """A record of a few decisions, with and without questions, complete and not."""
    path = tmp_path_factory.mktemp("record") / "shop.db"
    with Store.open(path, clock=SetClock()) as store:
        ruleset = keep_ruleset(store, RULES, "Kim")
        for index, film in enumerate(("4.9", "9.5", "11.9", "14.2")):
            job = a_job(ruleset, f"BM-{index}", film)
            store.append(opening(job, "Kim"))
            for asked in (True, False):
                decision = decide(ruleset, job, ask=asked)
                record_decision(store, ruleset, job, decision, "Kim", asked=asked)
        store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


@pytest.fixture
def store(template, tmp_path):
    shutil.copy(template, tmp_path / "shop.db")
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as opened:
        yield opened


# Functions of this module, so that processes find them.


def by_other_words(ruleset, recorded):
    now = copy.deepcopy(decide_again(ruleset, recorded))
    now["outcome"]["standing_caution"] += " Mind the step."
    return now


def by_other_rules(ruleset, recorded):
    now = copy.deepcopy(decide_again(ruleset, recorded))
    now["outcome"]["panels"]["bonnet"]["treatment"] = "leave"
    del now["outcome"]["car"]["holds"][0]
    return now


def by_nobody(ruleset, recorded):
    raise ReasoningDisagreement("the engines disagree")


def by_a_dying_process(ruleset, recorded):
    os._exit(9)


def test_all_decisions_are_the_same_again(store):
    report = replay(store, workers=1)
    assert (report.decisions, report.same, report.identical) == (8, 8, True)
    assert report.shown == ()
    assert verify(store).sound


calls = []


def by_counting(ruleset, recorded):
    calls.append(recorded["inputs"]["job"])
    return decide_again(ruleset, recorded)


def test_what_was_told_alike_is_decided_once_and_each_record_compared(store):
    """Whatever the job is called; another answer, asked or not, is decided by itself."""
    ruleset = keep_ruleset(store, RULES, "Kim")
    again = a_job(ruleset, "BM-70", "4.9")
    store.append(opening(again, "Kim"))
    record_decision(store, ruleset, again, decide(ruleset, again), "Kim")
    wrong = deciding(ruleset, again, decide(ruleset, again), "Kim")
    wrong.payload["outcome"]["panels"]["bonnet"]["treatment"] = "leave"
    (forged,) = store.append(wrong)
    calls.clear()
    report = replay(store, workers=1, again=by_counting)
    assert (report.decisions, report.same, report.changed) == (10, 9, 1)
    assert [each.sequence for each in report.shown] == [forged.sequence]
    assert calls == ["BM-0", "BM-0", "BM-1", "BM-1", "BM-2", "BM-2", "BM-3", "BM-3"]


def test_the_name_of_a_job_goes_into_nothing_but_its_place(store):
    ruleset = keep_ruleset(store, RULES, "Kim")
    one, other = (a_job(ruleset, name, "11.9") for name in ("BM-7", "roof"))
    first, second = (decide(ruleset, job).as_json() for job in (one, other))
    assert {**first, "job": "roof"} == second


def test_one_jobs_decisions_are_replayed_alone(store):
    assert replay(store, "BM-2", workers=1).decisions == 2
    assert replay(store, "BM-9", workers=1).decisions == 0


def test_a_decision_keeps_its_inputs_rules_engines_firings_and_texts(store):
    entry = next(store.entries("BM-3", kinds=[EntryKind.DECISION]))
    recorded = entry.payload
    assert recorded["engines"] == ["evaluator"]
    assert recorded["ruleset"]["digest"].startswith("sha256:")
    bonnet = recorded["outcome"]["panels"]["bonnet"]
    assert bonnet["treatment"] == "strip"
    rule = bonnet["because"][0]["rule"]
    assert rule in recorded["firings"]["panels"]["bonnet"]
    assert rule not in recorded["firings"]["panels"]["roof"]
    assert "um" in bonnet["because"][0]["text"]
    told = [fact["told"]["written"] for fact in recorded["inputs"]["facts"]]
    assert "14.2 mil, 12.0 mil/12.2 mil" in told


def test_the_inputs_of_a_decision_are_the_job_as_it_was_told(store):
    from engine.trail.facts import job_from

    for entry in store.entries(kinds=[EntryKind.DECISION]):
        assert job_from(entry.payload["inputs"]) == job_facts(store, entry.job)


def test_a_decision_stands_under_the_rules_of_its_day_when_the_rules_change(store, tmp_path):
    folder = tmp_path / "rules"
    shutil.copytree(RULES, folder)
    limits = folder / "limits.yaml"
    text = limits.read_text("utf-8")
    assert "12 mil" in text
    limits.write_text(text.replace("12 mil", "9 mil"), "utf-8")
    changed = keep_ruleset(store, folder, "Kim")
    job = job_facts(store, "BM-1")
    record_decision(store, changed, job, decide(changed, job), "Kim")
    assert replay(store, workers=1).identical
    impact = [
        replay_entry(changed, entry) for entry in store.entries("BM-2", kinds=[EntryKind.DECISION])
    ]
    paths = {found.path for differing in impact for found in differing.differences}
    assert ("outcome", "ruleset", "digest") in paths
    assert ("outcome", "panels", "bonnet", "treatment") in paths
    assert ("firings", "panels", "bonnet", "film-over-limit") in paths


def test_other_texts_are_told_from_other_outcomes(store):
    report = replay(store, workers=1, again=by_other_words)
    assert (report.same, report.reworded, report.changed, report.failed) == (0, 8, 0, 0)
    difference = report.shown[0].differences[0]
    assert difference.path == ("outcome", "standing_caution")
    assert difference.wording
    assert str(difference).endswith("Mind the step.'")


def test_other_outcomes_are_named_fact_by_fact(store):
    report = replay(store, "BM-0", workers=1, again=by_other_rules)
    assert (report.changed, report.reworded, report.identical) == (2, 0, False)
    first = {found.path[-2:]: found for found in report.shown[0].differences}
    treatment = first["bonnet", "treatment"]
    assert (treatment.recorded, treatment.now) == ("sand", "leave")
    (hold,) = [found for path, found in first.items() if path[0] == "holds"]
    assert hold.absent == "now"
    assert len(report.shown[0].differences) == 2


def test_what_cannot_be_decided_again_is_counted_with_its_reason(store):
    report = replay(store, workers=1, again=by_nobody)
    assert (report.decisions, report.failed, report.same) == (8, 8, 0)
    assert report.shown[0].failed == "the engines disagree"


def test_a_decision_that_was_changed_is_not_replayed_as_if_it_were_sound(store):
    number = next(store.numbers(kinds=[EntryKind.DECISION]))
    without_protection(
        store.connection, f"UPDATE entries SET actor = 'Lee' WHERE sequence = {number}"
    )
    report = replay(store, workers=1)
    assert (report.failed, report.same) == (1, 7)
    assert f"entry {number} of the record was changed" in report.shown[0].failed


def test_a_decision_whose_rule_set_is_damaged_is_told(store):
    without_protection(store.connection, "UPDATE contents SET packed = x'00'")
    report = replay(store, workers=1)
    assert report.failed == 8
    assert "its rule set cannot be had: the kept rule set" in report.shown[0].failed


def test_a_decision_that_lacks_a_part_is_told(store):
    ruleset = keep_ruleset(store, RULES, "Kim")
    job = job_facts(store, "BM-0")
    draft = deciding(ruleset, job, decide(ruleset, job, ask=False), "Kim", asked=False)
    for part in ("inputs", "outcome", "engines"):
        broken = {key: value for key, value in draft.payload.items() if key != part}
        store.append(draft.__class__(draft.kind, "Kim", broken, draft.job))
    report = replay(store, "BM-0", workers=1)
    assert (report.same, report.failed) == (2, 3)
    assert all("lacks a part" in each.failed for each in report.shown)


def test_decisions_taken_over_from_another_record_are_replayed_too(store, tmp_path):
    export_file(store, tmp_path / "one.json", "BM-2")
    with Store.open(tmp_path / "other.db", clock=SetClock()) as other:
        import_file(other, tmp_path / "one.json", "Lee")
        report = replay(other, workers=1)
        assert (report.decisions, report.same) == (2, 2)


def test_many_processes_find_what_one_finds(store, tmp_path):
    ruleset = keep_ruleset(store, RULES, "Kim")
    job = job_facts(store, "BM-1")
    draft = deciding(ruleset, job, decide(ruleset, job, ask=False), "Kim", asked=False)
    wrong = copy.deepcopy(draft.payload)
    wrong["outcome"]["complete"] = "perhaps"
    for index in range(3 * CHUNK):
        store.append(draft.__class__(draft.kind, "Kim", wrong, "BM-1") if index == 70 else draft)
    seen = []
    report = replay(store, workers=2, progress=lambda done, total: seen.append((done, total)))
    assert (report.decisions, report.same, report.changed) == (158, 157, 1)
    assert [found.path for found in report.shown[0].differences] == [("outcome", "complete")]
    assert seen == sorted(seen)
    assert seen[-1] == (158, 158)
    assert replay(store, workers=1) == report


def test_a_process_that_dies_ends_in_one_clear_message(store):
    ruleset = keep_ruleset(store, RULES, "Kim")
    job = job_facts(store, "BM-1")
    draft = deciding(ruleset, job, decide(ruleset, job, ask=False), "Kim", asked=False)
    store.append(*[draft] * CHUNK)
    with pytest.raises(TrailError, match="was ended from outside"):
        replay(store, workers=2, again=by_a_dying_process)


def test_replaying_a_record_that_may_only_be_read(template, tmp_path):
    shutil.copy(template, tmp_path / "shop.db")
    with Store.open(tmp_path / "shop.db", read_only=True) as store:
        assert replay(store, workers=1).identical


# --- differences ------------------------------------------------------------------------------


def shown(before, now):
    return [(each.path, each.recorded, each.now, each.absent) for each in differences(before, now)]


def test_equal_data_has_no_differences():
    data = {"a": [1, {"rule": "x", "text": "y"}], "b": None}
    assert shown(data, copy.deepcopy(data)) == []


@pytest.mark.parametrize(
    ("before", "now", "expected"),
    [
        (1, True, [((), 1, True, None)]),
        (0, False, [((), 0, False, None)]),
        (1, 1.0, [((), 1, 1.0, None)]),
        ("1", 1, [((), "1", 1, None)]),
        ({"a": 1}, {}, [(("a",), 1, None, "now")]),
        ({}, {"a": None}, [(("a",), None, None, "recorded")]),
        ([1, 2], [1, 3, 4], [(("1",), 2, 3, None), (("2",), None, 4, "recorded")]),
        (["x", "y"], ["y", "x"], [(("(order)",), ["x", "y"], ["y", "x"], None)]),
        (["x", "y"], ["y"], [(("x",), "x", None, "now")]),
        (
            [{"rule": "r", "text": "a"}, {"rule": "s", "text": "b"}],
            [{"rule": "s", "text": "c"}],
            [
                (("r",), {"rule": "r", "text": "a"}, None, "now"),
                (("s", "text"), "b", "c", None),
            ],
        ),
        (
            [{"rule": "r", "n": 1}, {"rule": "r", "n": 2}],
            [{"rule": "r", "n": 2}],
            [(("0", "n"), 1, 2, None), (("1",), {"rule": "r", "n": 2}, None, "now")],
        ),
    ],
)
def test_every_difference_is_named_once(before, now, expected):
    assert shown(before, now) == expected


def test_only_texts_for_people_count_as_wording():
    assert next(differences({"text": "a"}, {"text": "b"})).wording
    assert next(differences({"how": ["a"]}, {"how": ["b"]})).absent
    assert not next(differences({"rule": "a"}, {"rule": "b"})).wording
    assert not next(differences({"text": "a"}, {"text": None})).wording
