"""Every way of changing a record after it was written, and how each is found out."""

from __future__ import annotations

import pytest

from engine.errors import TrailError
from engine.trail import Draft, EntryKind, Store, opening, verify
from engine.trail.entry import GENESIS, Row, hash_of
from tests.unit.trail_sample import (
    BOOKMOBILE,
    SetClock,
    codes,
    filled,
    rows,
    without_protection,
)


@pytest.fixture
def store(tmp_path):
    with filled(tmp_path / "shop.db") as opened:
        yield opened


def test_a_record_written_anew_is_found_by_a_seal_on_paper_alone(store):
    """A whole forged chain is sound in itself: that is why the seal is printed."""
    seal = str(store.head())
    forged = rechained([row._replace(actor="Nobody") for row in rows(store)])
    rewrite(store, forged)
    without_protection(store.connection, "DELETE FROM seals", *new_seals(forged))
    assert verify(store).sound
    report = verify(store, seal)
    assert codes(report) == {"other-seal"}
    with pytest.raises(TrailError, match="the record was written anew"):
        report.refuse_broken()


def test_a_record_written_anew_is_found_by_the_seals_the_store_lists(store):
    rewrite(store, rechained([row._replace(actor="Nobody") for row in rows(store)]))
    assert codes(verify(store)) == {"other-seal"}


def test_a_tail_cut_off_is_found_by_a_seal(store):
    seal = store.head()
    without_protection(store.connection, f"DELETE FROM entries WHERE sequence = {seal.sequence}")
    assert verify(store).sound
    report = verify(store, str(seal))
    assert codes(report) == {"cut-off"}
    assert f"names entry {seal.sequence}, but the record ends at entry {seal.sequence - 1}" in (
        report.findings[0].message
    )


def test_a_tail_cut_off_is_found_by_the_list_of_printed_seals(store):
    printed = next(iter(store.numbers(kinds=[EntryKind.SEAL_PRINTED])))
    without_protection(store.connection, f"DELETE FROM entries WHERE sequence >= {printed}")
    assert codes(verify(store)) == {"cut-off"}


def test_a_tail_cut_off_after_a_pinned_entry_is_found_without_an_entry_for_the_seal(store):
    store.append(Draft(EntryKind.NOTE, "Kim", {"text": "the last of it"}, "BM-7"))
    before = store.count()
    seal = store.pin()
    assert seal == store.pin() == store.head()
    assert store.count() == before
    assert verify(store).sound
    without_protection(store.connection, f"DELETE FROM entries WHERE sequence = {seal.sequence}")
    assert codes(verify(store)) == {"cut-off"}
    store.append(Draft(EntryKind.NOTE, "Lee", {"text": "another last"}, "BM-7"))
    with pytest.raises(TrailError, match="cut off or written anew"):
        store.pin()
    assert codes(verify(store)) == {"other-seal"}


def test_an_empty_record_has_no_seal_to_pin(tmp_path):
    with Store.open(tmp_path / "shop.db") as empty:
        assert empty.pin() is None


def test_all_entries_gone_is_found(store):
    without_protection(store.connection, "DELETE FROM entries")
    assert "cut-off" in codes(verify(store))


def test_a_printed_seal_missing_from_the_list_is_found(store):
    without_protection(store.connection, "DELETE FROM seals")
    report = verify(store)
    assert codes(report) == {"seal-record"}


def test_a_removed_entry_is_named(store):
    without_protection(store.connection, "DELETE FROM entries WHERE sequence = 4")
    report = verify(store)
    assert [(f.code, f.sequence) for f in report.findings] == [("removed", 5)]
    assert "entry 4 is missing before it" in report.findings[0].message
    without_protection(store.connection, "DELETE FROM entries WHERE sequence = 5")
    assert "entries 4 to 5 are missing" in verify(store).findings[0].message


def test_the_first_entries_removed_is_named(store):
    without_protection(store.connection, "DELETE FROM entries WHERE sequence <= 2")
    report = verify(store)
    assert ("removed", 3) in [(f.code, f.sequence) for f in report.findings]


def test_entries_moved_are_named(store):
    without_protection(
        store.connection,
        "UPDATE entries SET sequence = 1000 WHERE sequence = 4",
        "UPDATE entries SET sequence = 4 WHERE sequence = 5",
        "UPDATE entries SET sequence = 5 WHERE sequence = 1000",
    )
    assert {f.sequence for f in verify(store).findings} >= {4, 5}


def test_an_entry_put_in_is_named(store):
    head = list(store.rows())[-1]
    put_in = head._replace(sequence=head.sequence + 1, actor="Nobody")
    marks = ", ".join("?" * len(put_in))
    without_protection(
        store.connection,
        (f"INSERT INTO entries VALUES ({marks})", put_in._replace(hash=hash_of(put_in))),
    )
    assert [(f.code, f.sequence) for f in verify(store).findings] == [
        ("unlinked", head.sequence + 1)
    ]


def test_an_entry_replaced_and_hashed_again_breaks_the_link_after_it(store):
    row = rows(store)[3]._replace(actor="Nobody")
    replace(store, row._replace(hash=hash_of(row)))
    assert [(f.code, f.sequence) for f in verify(store).findings] == [("unlinked", 5)]


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        ('{ "text":"x"}', "not-canonical"),
        ('{"b":1,"a":2}', "not-canonical"),
        ('{"a":1.0}', "not-canonical"),
        ('{"a":1,"a":1}', "not-canonical"),
        ("[1]", "not-canonical"),
        ("nonsense", "not-canonical"),
    ],
)
def test_a_forged_entry_that_is_not_canonical_is_named(tmp_path, payload, code):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        store.append(opening(BOOKMOBILE, "Kim"))
        rewrite(store, rechained([rows(store)[0]._replace(payload=payload)]))
        assert codes(verify(store)) == {code}
        if payload in ("[1]", "nonsense"):
            with pytest.raises(TrailError):
                list(store.entries())


def test_a_forged_kind_and_a_forged_note_on_the_clock_are_named(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        store.append(opening(BOOKMOBILE, "Kim"), Draft(EntryKind.NOTE, "Kim", {}, "BM-7"))
        first, second = rows(store)
        rewrite(store, rechained([first, second._replace(kind="bribe")]))
        assert codes(verify(store)) == {"unknown-kind"}
        with pytest.raises(TrailError, match=r"kind `bribe`, which is not known.*Update"):
            list(store.entries())
        rewrite(store, rechained([first, second._replace(clock_set_back=1)]))
        assert codes(verify(store)) == {"clock"}


def test_a_decision_whose_rule_set_is_gone_is_named(store):
    without_protection(store.connection, "DELETE FROM ruleset_files WHERE path = 'rules/film.yaml'")
    report = verify(store)
    assert codes(report) == {"ruleset"}
    assert report.findings[0].sequence == 1


def test_a_rule_set_slipped_in_is_named(store):
    without_protection(
        store.connection,
        "INSERT INTO ruleset_files SELECT 'sha256:other', path, content FROM ruleset_files",
    )
    assert codes(verify(store)) == {"ruleset"}


def test_taking_the_protection_away_is_named(store):
    store.connection.execute("DROP TRIGGER entries_no_update")
    report = verify(store)
    assert codes(report) == {"unprotected"}
    assert "`entries_no_update`" in report.findings[0].message
    store.connection.execute(
        "CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT 1; END"
    )
    assert codes(verify(store)) == {"unprotected"}


def test_progress_is_told_as_entries_are_verified(store):
    seen = []
    verify(store, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (store.count(), store.count())


def test_very_many_findings_are_counted_and_not_all_listed(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        store.append(opening(BOOKMOBILE, "Kim"))
        store.append(*[Draft(EntryKind.NOTE, "Kim", {}, "BM-7")] * 1200)
        without_protection(store.connection, "UPDATE entries SET actor = 'Lee'")
        report = verify(store)
        assert (len(report.findings), report.more) == (1000, 201)
        with pytest.raises(TrailError, match="and 1181 more"):
            report.refuse_broken()


def rechained(changed: list[Row]) -> list[Row]:
    """The rows with every hash worked out anew, as a forger would."""
    previous, chained = GENESIS, []
    for row in changed:
        linked = row._replace(previous=previous)
        chained.append(linked._replace(hash=hash_of(linked)))
        previous = chained[-1].hash
    return chained


def new_seals(chain: list[Row]) -> list[tuple]:
    return [
        ("INSERT INTO seals VALUES (?, ?)", (row.sequence, row.hash))
        for row in chain
        if row.kind == "seal-printed"
    ]


def rewrite(store: Store, chain: list[Row]) -> None:
    marks = ", ".join("?" * len(Row._fields))
    inserts = [(f"INSERT INTO entries VALUES ({marks})", row) for row in chain]
    without_protection(store.connection, "DELETE FROM entries", *inserts)


def replace(store: Store, row: Row) -> None:
    marks = ", ".join("?" * len(row))
    without_protection(store.connection, (f"REPLACE INTO entries VALUES ({marks})", row))
