"""Exports that prove themselves, and jobs taken over from one record into another."""

from __future__ import annotations

import io
import json
import random

import pytest

from engine.errors import DocumentError, StoreError, TrailError, UsageError
from engine.trail import (
    Draft,
    EntryKind,
    Store,
    export_file,
    history,
    import_file,
    job_facts,
    opening,
    verify,
    verify_export,
)
from engine.trail.jsonstream import JsonObject
from tests.unit.trail_sample import BOOKMOBILE, FILES, SetClock, codes, filled, without_protection


@pytest.fixture
def store(tmp_path):
    with filled(tmp_path / "shop.db") as opened:
        yield opened


@pytest.fixture
def whole(store, tmp_path):
    export_file(store, tmp_path / "all.json")
    return tmp_path / "all.json"


@pytest.fixture
def one(store, tmp_path):
    export_file(store, tmp_path / "one.json", "BM-7")
    return tmp_path / "one.json"


@pytest.fixture
def other(tmp_path):
    with Store.open(tmp_path / "other.db", clock=SetClock()) as opened:
        yield opened


def edited(path, change):
    data = json.loads(path.read_text("utf-8"))
    change(data)
    path.write_text(json.dumps(data), "utf-8")
    return path


def test_an_export_verifies_without_its_store(store, whole, one):
    seal = str(store.head())
    store.close()
    for path in (whole, one):
        assert verify_export(path).sound
        report = verify_export(path, seal)
        assert report.sound
        assert str(report.head) == seal


def test_the_same_record_gives_the_same_export(store, whole, tmp_path):
    export_file(store, tmp_path / "again.json")
    assert (tmp_path / "again.json").read_bytes() == whole.read_bytes()


def test_laying_the_json_out_otherwise_changes_nothing(whole):
    data = json.loads(whole.read_text("utf-8"))
    whole.write_text(json.dumps(dict(sorted(data.items())), indent=3, ensure_ascii=True), "utf-8")
    assert verify_export(whole).sound


def test_an_export_of_one_job_shows_no_word_of_the_others(store, one):
    text = one.read_text("utf-8")
    data = json.loads(text)
    assert data["of"] == "BM-7"
    assert "BM-8" not in text
    assert "waits for the booth" not in text
    shown = [item for item in data["chain"] if isinstance(item, dict)]
    assert {item["job"] for item in shown} == {"BM-7", None}
    assert {item["kind"] for item in shown if item["job"] is None} == {"ruleset-kept"}
    assert len(data["chain"]) == store.count()
    assert list(data["rulesets"].values()) == [
        {name: content.decode() for name, content in FILES.items()}
    ]


def test_a_clock_set_back_between_closed_entries_is_no_contradiction(store, tmp_path):
    store._clock.moment = store._clock.moment.replace(year=2030)
    store.append(Draft(EntryKind.NOTE, "Ada", {}, "BM-8"))
    store.append(Draft(EntryKind.NOTE, "Ada", {}, "BM-7"))
    store._clock.moment = store._clock.moment.replace(year=2029)
    store.append(Draft(EntryKind.NOTE, "Ada", {}, "BM-7"))
    export_file(store, tmp_path / "back.json", "BM-8")
    export_file(store, tmp_path / "back7.json", "BM-7")
    for name, notes in (("back.json", 1), ("back7.json", 1)):
        report = verify_export(tmp_path / name)
        assert report.sound
        assert len(report.notes) == notes
    assert len(verify(store).notes) == 2


TAMPERED = [
    (lambda d: d["chain"][3].update(actor="Nobody"), "changed"),
    (lambda d: d["chain"][3]["payload"].update(more=1), "changed"),
    (lambda d: d["chain"][3].update(at=None), "changed"),
    (lambda d: d["chain"][3].update(sequence=4.0), "changed"),
    (lambda d: d["chain"][3].update(hash=None), "changed"),
    (lambda d: d["chain"][3].update(previous=7), "changed"),
    (lambda d: d["chain"][3].update(extra=1), "not-whole"),
    (lambda d: d["chain"][3].update(clock_set_back=0), "not-whole"),
    (lambda d: d["chain"][3].update(payload=[]), "not-whole"),
    (lambda d: d["chain"][3].update(payload={"n": 2**60}), "not-whole"),
    (lambda d: d["chain"].pop(3), "removed"),
    (lambda d: d["chain"].insert(3, d["chain"][5]), "removed"),
    (lambda d: d["chain"].append(d["chain"][5]), "moved"),
    (lambda d: d["chain"].reverse(), "removed"),
    (lambda d: d["chain"].pop(), "other-seal"),
    (lambda d: d["chain"].clear(), "not-whole"),
    (lambda d: d["chain"].insert(3, 7), "not-whole"),
    (lambda d: d["chain"].insert(3, ["0" * 64, None]), "moved"),
    (lambda d: d["seal"].update(short="1-AAAA"), "other-seal"),
    (lambda d: d["seal"].update(full="1:sha256:00"), "other-seal"),
    (lambda d: d.pop("seal"), "not-whole"),
    (lambda d: d.update(more=1), "not-whole"),
    (lambda d: d.update(of=3), "not-whole"),
    (lambda d: d.update(rulesets={}), "ruleset"),
    (lambda d: d.update(rulesets=[]), "not-whole"),
    (lambda d: d.update(rulesets={"x": {"a": 1}}), "not-whole"),
    (lambda d: next(iter(d["rulesets"].values())).update({"limits.yaml": "x"}), "ruleset"),
    (lambda d: d["rulesets"].update({"sha256:00": {}}), "ruleset"),
]


@pytest.mark.parametrize(("change", "code"), TAMPERED)
def test_what_was_done_to_an_export_is_named(whole, change, code):
    report = verify_export(edited(whole, change))
    assert code in codes(report)
    assert not report.sound


def test_leaving_an_entry_of_the_job_closed_is_found(store, one):
    def close(data):
        full = json.loads(whole_text)["chain"]
        index = next(i for i, item in enumerate(full) if item["kind"] == "decision")
        hidden = json.loads(other_text)["chain"][index]
        assert isinstance(hidden, list)
        data["chain"][index] = hidden

    folder = one.parent
    export_file(store, folder / "w.json")
    export_file(store, folder / "o.json", "BM-8")
    whole_text, other_text = (folder / "w.json").read_text(), (folder / "o.json").read_text()
    assert codes(verify_export(edited(one, close))) == {"withheld"}


def test_naming_another_job_on_an_export_is_found(one):
    assert "other-job" in codes(verify_export(edited(one, lambda d: d.update(of="BM-8"))))
    assert "withheld" in codes(verify_export(edited(one, lambda d: d.update(of=None))))


def test_a_tail_cut_off_an_export_is_found_by_a_seal(store, whole):
    before = list(store.entries())[-2]
    from engine.trail import Seal

    last = Seal(before.sequence, before.hash)

    def cut(data):
        data["chain"].pop()
        data["seal"] = {"full": last.full, "short": str(last)}

    edited(whole, cut)
    assert verify_export(whole).sound
    assert codes(verify_export(whole, str(store.head()))) == {"cut-off"}


def test_files_that_are_no_export_are_told(tmp_path):
    path = tmp_path / "x.json"
    for text in ("{}", '{"format": "prepwright/trail/2", "chain": []}', '{"format": 7}'):
        path.write_text(text)
        with pytest.raises(DocumentError, match="no export of a record") as caught:
            verify_export(path)
        assert caught.value.exit_code == 3
    with pytest.raises(DocumentError, match="cannot be read"):
        verify_export(tmp_path / "none.json")
    with pytest.raises(DocumentError, match="cannot be read"):
        verify_export(tmp_path)
    for raw in (
        b"",
        b"[]",
        b"nonsense",
        b"\xff\xfe",
        b'{"format"',
        b'{"format": "\xff"}',
        b"[" * 5000,
    ):
        path.write_bytes(raw)
        assert codes(verify_export(path)) == {"not-whole"}


def test_half_an_export_is_not_whole(whole):
    raw = whole.read_bytes()
    random.seed(3)
    for cut in random.sample(range(30, len(raw) - 3), 40):
        whole.write_bytes(raw[:cut])
        assert "not-whole" in codes(verify_export(whole))


def test_nothing_is_written_over_and_nothing_half(store, whole, tmp_path):
    with pytest.raises(UsageError, match="is there already"):
        export_file(store, whole)
    with pytest.raises(StoreError, match="cannot be written"):
        export_file(store, tmp_path / "no folder" / "x.json")
    with pytest.raises(TrailError, match="no job `BM-9`"):
        export_file(store, tmp_path / "x.json", "BM-9")
    without_protection(store.connection, "UPDATE entries SET actor = 'X' WHERE sequence = 9")
    with pytest.raises(TrailError, match="entry 9 of the record was changed"):
        export_file(store, tmp_path / "x.json")
    assert not [path.name for path in tmp_path.iterdir() if path.name.startswith((".", "x"))]


def test_an_empty_record_has_nothing_to_export(other, tmp_path):
    with pytest.raises(TrailError, match="nothing to export"):
        export_file(other, tmp_path / "x.json")


# --- taking over ------------------------------------------------------------------------------


def test_a_job_taken_over_is_the_same_job(store, one, other):
    assert import_file(other, one, "Lee") == ("BM-7",)
    assert list(history(other, "BM-7")) == list(history(store, "BM-7"))
    assert job_facts(other, "BM-7") == job_facts(store, "BM-7")
    assert verify(other).sound
    assert {entry.actor for entry in other.entries("BM-7")} == {"Lee"}


def test_a_job_that_went_through_three_records_is_still_the_same(store, one, other, tmp_path):
    import_file(other, one, "Lee")
    export_file(other, tmp_path / "second.json", "BM-7")
    assert verify_export(tmp_path / "second.json").sound
    with Store.open(tmp_path / "third.db", clock=SetClock()) as third:
        import_file(third, tmp_path / "second.json", "Max")
        assert list(history(third, "BM-7")) == list(history(store, "BM-7"))
        assert job_facts(third, "BM-7") == job_facts(store, "BM-7")


def test_a_whole_record_is_taken_over(store, whole, other):
    assert import_file(other, whole, "Lee") == ("BM-7", "BM-8")
    for job in store.jobs():
        assert list(history(other, job)) == list(history(store, job))
    kinds = [entry.original.kind for entry in other.entries() if entry.job is None]
    assert kinds == [EntryKind.RULESET_KEPT, EntryKind.GAUGE_CHECK]
    assert verify(other).sound


def test_a_job_taken_over_goes_on(store, one, other):
    import_file(other, one, "Lee")
    other.append(Draft(EntryKind.NOTE, "Lee", {"text": "goes on"}, "BM-7"))
    assert [each.kind for each in history(other, "BM-7")][-1] is EntryKind.NOTE


def test_a_job_of_the_same_name_is_not_mixed_up_with_it(one, other):
    other.append(opening(BOOKMOBILE, "Lee"))
    with pytest.raises(TrailError, match="already a job `BM-7`"):
        import_file(other, one, "Lee")
    assert other.count() == 1
    assert import_file(other, one, "Lee", as_job="BM-7 again") == ("BM-7 again",)
    assert other.jobs() == ("BM-7", "BM-7 again")
    assert job_facts(other, "BM-7 again").panels.keys() == BOOKMOBILE.panels.keys()


def test_many_jobs_cannot_all_get_one_name(whole, other):
    with pytest.raises(UsageError, match="only an export of one job"):
        import_file(other, whole, "Lee", as_job="X")


def test_a_broken_export_is_not_taken_over(one, other):
    edited(one, lambda d: d["chain"][-1].update(actor="Nobody"))
    with pytest.raises(TrailError, match="the record is broken"):
        import_file(other, one, "Lee")
    assert other.count() == 0


# --- reading piece by piece -------------------------------------------------------------------


class Dribble(io.StringIO):
    """A file that gives a few characters at a time."""

    def read(self, size=-1):
        return super().read(3)


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        ' { "a" : 1 } ',
        '{"a":12345678,"b":[1.5e3 , "x\\u00e9\\n", {"k":[[]]}],"c":[],"d":null,"e":true}\n',
        '{"a":["' + "long " * 100 + '",-17]}',
    ],
)
def test_json_read_piece_by_piece_is_the_same_json(text):
    expected = json.loads(text)
    reader = JsonObject(Dribble(text))
    assert {key: reader.value() for key in reader.members()} == expected
    reader = JsonObject(Dribble(text))
    found = {}
    for key in reader.members():
        is_list = isinstance(expected[key], list)
        found[key] = list(reader.items()) if is_list else reader.value()
    assert found == expected


@pytest.mark.parametrize(
    "text",
    ["", "[1]", "{", '{"a"', '{"a":', '{"a":1', '{"a":1,}', '{"a":1}x', '{a:1}', '{"a":1 "b":2}',
     '{"a":1,"a":2}', '{"a":NaN}', '{"a":{"b":1,"b":2}}', '{"a":9007199254740993}', '{1:2}'],
)  # fmt: skip
def test_what_is_not_one_json_object_is_refused(text):
    reader = JsonObject(Dribble(text))
    with pytest.raises(TrailError):
        {key: reader.value() for key in reader.members()}
