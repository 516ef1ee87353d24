"""Adding to the record and reading it back."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest

from engine.errors import JobChangedError, StoreError, TrailError
from engine.facts import JobFacts
from engine.trail import Draft, EntryKind, Store, opening, verify
from engine.trail import schema as store_schema
from engine.trail import sqlite as store_file
from tests.unit.trail_sample import BOOKMOBILE, SetClock, filled, rows, tables

NOTE = EntryKind.NOTE


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as opened:
        opened.append(opening(BOOKMOBILE, "Kim"))
        yield opened


def note(text="dusty", job="BM-7", actor="Ada"):
    return Draft(NOTE, actor, {"text": text}, job)


def test_what_is_added_is_read_back(store):
    added = store.append(note(), Draft(EntryKind.READING, "Ada", {}, "BM-7", "gauge 2"))
    assert list(store.entries("BM-7"))[1:] == list(added)
    assert [entry.sequence for entry in added] == [2, 3]
    first, second = added
    assert (first.kind, first.actor, first.payload) == (NOTE, "Ada", {"text": "dusty"})
    assert (first.at, second.instrument) == ("2031-05-06T07:08:11.000000Z", "gauge 2")
    assert second.previous == first.hash


def test_entries_are_found_by_job_kind_and_number(tmp_path):
    with filled(tmp_path / "shop.db") as store:
        everything = list(store.entries())
        assert store.jobs() == ("BM-7", "BM-8")
        assert [e for e in everything if e.job == "BM-8"] == list(store.entries("BM-8"))
        decisions = list(store.entries(kinds=[EntryKind.DECISION]))
        assert [e.payload["outcome"]["bonnet"] for e in decisions] == ["sand", "partial-strip"]
        assert list(store.entries(first=3, last=5)) == everything[2:5]
        assert list(store.numbers("BM-8")) == [e.sequence for e in store.entries("BM-8")]
        assert store.count() == len(everything) == store.head().sequence
        assert store.last("BM-7") == everything[-1].sequence
        assert store.last("BM-9") == 0


def test_jobs_are_listed_by_their_last_change_and_by_part_of_their_names(store):
    for number in range(8, 12):
        store.append(opening(JobFacts(f"BM-{number}"), "Kim"))
    store.append(opening(JobFacts("100 % van_1"), "Kim"), note())
    latest = ["BM-7", "100 % van_1", "BM-11", "BM-10", "BM-9", "BM-8"]
    found, total = store.changed_jobs()
    assert ([name for name, _ in found], total) == (latest, 6)
    assert found == tuple((name, store.last(name)) for name in latest)
    found, total = store.changed_jobs(most=2, skip=1)
    assert ([name for name, _ in found], total) == (latest[1:3], 6)
    assert store.changed_jobs("bm-1")[0] == (found[1], ("BM-10", store.last("BM-10")))
    assert [name for name, _ in store.changed_jobs("% VAN_")[0]] == ["100 % van_1"]
    for nothing in ("%%", "_", "\\", "BM%1", "'"):
        assert all(nothing in name for name, _ in store.changed_jobs(nothing)[0]), nothing
    assert store.changed_jobs("BM", skip=99) == ((), 5)


def test_a_name_like_another_is_suggested_wherever_it_differs(store):
    store.append(opening(JobFacts("library van"), "Kim"))
    for typed in ("library vam", "librray van", "ibrary van", "xlibrary van"):
        assert store.near(typed) == "Did you mean `library van`?"
    assert store.near("quite another") is None
    with pytest.raises(TrailError, match="half a character"):
        store.near("\udcff")


def test_times_are_kept_in_utc(tmp_path):
    east = timezone(timedelta(hours=5, minutes=30))
    with Store.open(tmp_path / "s.db", clock=lambda: datetime(2031, 1, 1, 2, tzinfo=east)) as store:
        assert store.append(opening(BOOKMOBILE, "Kim"))[0].at == "2030-12-31T20:30:00.000000Z"
    with (
        Store.open(tmp_path / "s.db", clock=lambda: datetime(2031, 1, 1)) as store,
        pytest.raises(TrailError, match="without its time zone"),
    ):
        store.append(note())


def test_a_clock_set_back_is_recorded_and_told(store):
    store._clock.moment -= timedelta(hours=3)
    back, after = store.append(note(), note())
    assert back.clock_set_back
    assert not after.clock_set_back
    report = verify(store)
    assert report.sound
    assert len(report.notes) == 1
    assert "entry 2" in report.notes[0]
    assert "the clock was set back" in report.notes[0]


def test_somebody_elses_entry_in_between_is_told(store):
    seen = store.last("BM-7")
    with Store.open(store.path, clock=SetClock()) as other:
        other.append(note("first", actor="Lee"), expected_last=seen)
    with pytest.raises(JobChangedError) as caught:
        store.append(note("second"), expected_last=seen)
    message = caught.value.format_message()
    assert "`BM-7` was changed in the meantime: entry 2, note, by `Lee`" in message
    assert "Nothing was added" in message
    assert caught.value.exit_code == 1
    store.append(note("second"), expected_last=2)
    assert [entry.payload.get("text") for entry in store.entries(first=2)] == ["first", "second"]


def test_another_jobs_entries_do_not_stand_in_the_way(store):
    store.append(opening(JobFacts("BM-8"), "Lee"), expected_last=0)
    store.append(note(), expected_last=1)


def test_all_entries_are_added_or_none(store):
    before = tables(store.connection)
    with pytest.raises(TrailError):
        store.append(note(), note(), note(job="BM-70"))
    assert tables(store.connection) == before
    store.append(note())
    assert verify(store).sound


def test_a_job_is_opened_once_and_before_all_else(store):
    with pytest.raises(TrailError, match="already a job `BM-7`"):
        store.append(opening(BOOKMOBILE, "Kim"))
    with pytest.raises(TrailError, match=r"no job `BM-77`\. Did you mean `BM-7`"):
        store.append(note(job="BM-77"))


@pytest.mark.parametrize(
    ("draft", "says"),
    [
        (Draft(NOTE, " ", {}, "BM-7"), "who made it"),
        (Draft(NOTE, "Kim", {}, ""), "name of a job cannot be empty"),
        (Draft(EntryKind.TOLD, "Kim", {}), "`told` must name its job"),
        (Draft(NOTE, "Kim", [], "BM-7"), "must be a mapping"),
        (Draft(NOTE, "Kim", {"film": Fraction(1, 3)}, "BM-7"), "`film` is a Fraction"),
        (Draft(NOTE, "Kim", {"a": [1, {"n": 2**53}]}, "BM-7"), "`a/1/n` is a whole number past"),
        (Draft(NOTE, "Kim", {"n": float("nan")}, "BM-7"), "`n` is not a finite number"),
        (Draft(NOTE, "Kim", {"n": float("inf")}, "BM-7"), "`n` is not a finite number"),
        (Draft(NOTE, "Kim", {1: "n"}, "BM-7"), "keys must be text"),
        (Draft(NOTE, "Kim", {"s": {"steel"}}, "BM-7"), "`s` is a set"),
        (Draft(NOTE, "Kim", {"s": "\ud800"}, "BM-7"), "half a character"),
        (Draft(NOTE, "Kim", {"\udfff": 1}, "BM-7"), "half a character"),
        (Draft(NOTE, "\ud800", {}, "BM-7"), "half a character"),
        (Draft(NOTE, "Kim", {}, "BM-\udcff"), "half a character"),
        (Draft(EntryKind.TOLD, "Kim", {"facts": [{}]}, "BM-7"), "whom it is about"),
        (Draft(EntryKind.DECISION, "Kim", {}, "BM-7"), "keep the rule set first"),
        (Draft(EntryKind.IMPORTED, "Kim", {}, "BM-7"), "holds no entry"),
    ],
)
def test_what_does_not_belong_in_the_record_is_refused(store, draft, says):
    before = tables(store.connection)
    with pytest.raises(TrailError) as caught:
        store.append(draft)
    assert says in caught.value.format_message()
    assert tables(store.connection) == before


def test_data_nested_too_deeply_is_refused(store):
    deep = {"a": 1}
    for _ in range(200):
        deep = {"a": deep}
    with pytest.raises(TrailError, match="levels deep"):
        store.append(Draft(NOTE, "Kim", deep, "BM-7"))


def test_a_name_that_is_no_text_is_no_job(store):
    with pytest.raises(TrailError, match="half a character"):
        list(store.entries("\udcff"))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET actor = 'Lee'",
        "UPDATE entries SET hash = hash",
        "DELETE FROM entries",
        "DELETE FROM seals",
        "UPDATE seals SET sequence = 1",
        "DELETE FROM ruleset_files",
        "UPDATE ruleset_files SET path = 'x'",
        "DELETE FROM contents",
        "UPDATE contents SET packed = x'00'",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE sequence = 2",
        "INSERT OR IGNORE INTO entries SELECT * FROM entries WHERE sequence = 2",
        "INSERT INTO entries SELECT 1000, at, actor, instrument, job, kind, clock_set_back, "
        "payload, previous, hash FROM entries WHERE sequence = 2",
        "INSERT INTO entries SELECT sequence + 1, at, actor, instrument, job, kind, "
        "clock_set_back, payload, 'other', hash FROM entries ORDER BY sequence DESC LIMIT 1",
        "REPLACE INTO seals SELECT sequence, 'x' FROM seals",
        "REPLACE INTO contents SELECT hash, x'00' FROM contents",
        "REPLACE INTO ruleset_files SELECT digest, path, 'x' FROM ruleset_files",
    ],
)
def test_the_file_itself_refuses_what_is_not_adding(tmp_path, statement):
    with filled(tmp_path / "shop.db") as store:
        before = tables(store.connection)
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            store.connection.execute(statement)
        assert tables(store.connection) == before


def test_nothing_is_added_on_top_of_an_entry_that_was_changed(store):
    store.append(note())
    store.connection.execute("DROP TRIGGER entries_no_update")
    store.connection.execute("UPDATE entries SET actor = 'Lee' WHERE sequence = 2")
    with pytest.raises(TrailError, match="entry 2 of the record was changed"):
        store.append(note())
    with pytest.raises(TrailError, match="entry 2 of the record was changed"):
        list(store.entries())


def test_an_accepted_entry_is_there_for_the_next_program(store):
    store.append(note("kept"))
    with closing(sqlite3.connect(store.path)) as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert raw.execute("SELECT count(*) FROM entries").fetchone() == (2,)
    assert store.connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_a_store_open_elsewhere_for_writing_is_waited_for_and_then_told(store):
    with (
        closing(sqlite3.connect(store.path, isolation_level=None)) as other,
        Store.open(store.path, wait=0.05) as hasty,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="another program is writing") as caught:
            hasty.append(note())
        assert caught.value.exit_code == 3
        assert len(rows(hasty)) == 1
        other.execute("ROLLBACK")
        hasty.append(note())


def test_a_store_opened_for_reading_takes_no_entry(store):
    with Store.open(store.path, read_only=True) as reader:
        assert [entry.actor for entry in reader.entries()] == ["Kim"]
        with pytest.raises(StoreError, match="reading only"):
            reader.append(note())


def test_reading_a_store_that_nobody_has_open(store):
    store.close()
    with Store.open(store.path, read_only=True) as reader:
        assert verify(reader).sound


def test_one_view_does_not_see_what_is_added_meanwhile(store):
    with Store.open(store.path, read_only=True) as reader, reader.reading():
        assert reader.count() == 1
        store.append(note())
        assert reader.count() == 1


def test_entries_of_a_newer_format_are_left_alone(store):
    store.connection.execute("PRAGMA user_version = 99")
    for read_only in (False, True):
        with pytest.raises(StoreError, match=r"newer prepwright: it has format 99.*Update"):
            Store.open(store.path, read_only=read_only)


def test_an_older_store_is_brought_up_to_date_once(store, monkeypatch):
    more = (*store_schema.MIGRATIONS, ("CREATE TABLE extra (number INTEGER) STRICT",))
    monkeypatch.setattr(store_schema, "MIGRATIONS", more)
    for _ in range(2):
        with Store.open(store.path, clock=SetClock()) as newer:
            newer.append(note())
            assert newer.connection.execute("PRAGMA user_version").fetchone() == (2,)
            assert newer.connection.execute("SELECT count(*) FROM extra").fetchone() == (0,)
    with Store.open(store.path, read_only=True) as newer:
        assert newer.count() == 3


def test_an_older_store_that_is_only_read_is_brought_up_to_date_too(store, monkeypatch):
    store.close()
    more = (*store_schema.MIGRATIONS, ("CREATE TABLE extra (number INTEGER) STRICT",))
    monkeypatch.setattr(store_schema, "MIGRATIONS", more)
    with Store.open(store.path, read_only=True) as newer:
        assert newer.connection.execute("PRAGMA user_version").fetchone() == (2,)
        assert verify(newer).sound
        with pytest.raises(StoreError, match="reading only"):
            newer.append(note())


def test_an_older_store_where_nothing_may_be_written_says_so(store, monkeypatch):
    store.close()
    more = (*store_schema.MIGRATIONS, ("CREATE TABLE extra (number INTEGER) STRICT",))
    monkeypatch.setattr(store_schema, "MIGRATIONS", more)
    opened = store_file._open
    monkeypatch.setattr(
        store_file, "_open", lambda path, _mode, wait, *more: opened(path, "ro", wait, *more)
    )
    with pytest.raises(StoreError, match=r"older format 1.*Open it once where it may be written"):
        Store.open(store.path, read_only=True)
    monkeypatch.undo()
    with Store.open(store.path, read_only=True) as same:
        assert same.connection.execute("PRAGMA user_version").fetchone() == (1,)


def test_a_migration_that_fails_leaves_the_store_as_it_was(store, monkeypatch):
    broken = ("CREATE TABLE extra (number INTEGER)", "CREATE TABLE entries (number INTEGER)")
    monkeypatch.setattr(store_schema, "MIGRATIONS", (*store_schema.MIGRATIONS, broken))
    with pytest.raises(StoreError):
        Store.open(store.path)
    monkeypatch.undo()
    with Store.open(store.path) as same:
        assert verify(same).sound


def test_files_that_are_no_store_are_refused(tmp_path):
    text = tmp_path / "text.db"
    text.write_text("this is a letter, and a long one, about a van. " * 100)
    with pytest.raises(StoreError, match=r"damaged, or none \(file is not a database\)"):
        Store.open(text)
    assert text.read_text().startswith("this is a letter")
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as raw:
        raw.execute("CREATE TABLE pets (name TEXT)")
        raw.commit()
    with pytest.raises(StoreError, match="not a store of prepwright"):
        Store.open(other)
    with pytest.raises(StoreError, match="is a folder"):
        Store.open(tmp_path)
    with pytest.raises(StoreError, match="no store at"):
        Store.open(tmp_path / "none.db", create=False)
    with pytest.raises(StoreError, match="no store at"):
        Store.open(tmp_path / "none.db", read_only=True)
    with pytest.raises(StoreError, match="cannot be used"):
        Store.open(text / "inside.db")


def test_the_store_is_where_it_is_said_to_be(tmp_path, monkeypatch):
    monkeypatch.setenv("PREPWRIGHT_STORE", str(tmp_path / "shop one" / "100% ?#.db"))
    with Store.open() as store:
        store.append(opening(BOOKMOBILE, "Kim"))
    assert (tmp_path / "shop one" / "100% ?#.db").is_file()
    with Store.open(tmp_path / "given.db") as store:
        assert store.path == tmp_path / "given.db"
    monkeypatch.delenv("PREPWRIGHT_STORE")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    with Store.open() as store:
        assert tmp_path in store.path.parents
        assert store.path.name == "shop.db"


def test_the_machines_clock_is_the_default(tmp_path):
    before = datetime.now(UTC)
    with Store.open(tmp_path / "shop.db") as store:
        at = datetime.fromisoformat(store.append(opening(BOOKMOBILE, "Kim"))[0].at)
    assert before <= at <= datetime.now(UTC)


def test_no_room_left_is_told_and_nothing_half_is_kept(store):
    store.connection.execute("PRAGMA max_page_count = 20")
    big = note("x" * 5000)
    with pytest.raises(StoreError, match=r"no room left.*Nothing was added") as caught:
        store.append(*[big] * 40)
    assert caught.value.exit_code == 3
    assert store.count() == 1
    added = 1
    with suppress(StoreError):
        for _ in range(40):
            store.append(big)
            added += 1
    assert 5 < added < 20
    assert store.count() == added
    assert verify(store).sound
    store.connection.execute("PRAGMA max_page_count = 1000")
    store.append(note("again"))
    assert verify(store).sound
