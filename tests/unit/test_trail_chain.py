"""The chain of hashes: what it is, and every way of breaking it that must be named."""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
from contextlib import closing

import pytest
import rfc8785

from engine.errors import StoreError, TrailError, UsageError
from engine.trail import Draft, EntryKind, Seal, Store, opening, read_seal, verify
from engine.trail.entry import GENESIS, Row, hash_of
from tests.unit.trail_sample import (
    BOOKMOBILE,
    SetClock,
    codes,
    filled,
    rows,
    tables,
    without_protection,
)


@pytest.fixture
def store(tmp_path):
    with filled(tmp_path / "shop.db") as opened:
        yield opened


def sha(data):
    return hashlib.sha256(rfc8785.dumps(data)).hexdigest()


def test_the_hashes_are_those_anybody_can_work_out_from_the_description(store):
    previous = "0" * 64
    for row in store.connection.execute("SELECT * FROM entries ORDER BY sequence"):
        sequence, at, actor, instrument, job, kind, back, payload, before, own = row
        content = {
            "at": at,
            "actor": actor,
            "instrument": instrument,
            "job": job,
            "kind": kind,
            "clock_set_back": bool(back),
            "payload": json.loads(payload),
        }
        link = {
            "content": sha(content),
            "job": None if job is None else sha(["job", job]),
            "previous": previous,
            "sequence": sequence,
        }
        assert before == previous
        assert own == sha(link)
        previous = own


def test_a_sound_record_says_what_it_does_not_prove(store):
    report = verify(store)
    assert report.sound
    assert report.entries == store.count()
    assert report.head == store.head()
    assert "does not show that what was recorded was true" in report.not_shown[0]
    assert "the last entries were cut off" in report.not_shown[1]
    report.refuse_broken()
    pinned = verify(store, str(store.head()))
    assert pinned.sound
    assert len(pinned.not_shown) == 1
    earlier = next(store.entries(first=2))
    later = verify(store, str(Seal(earlier.sequence, earlier.hash)))
    assert later.sound
    assert "print a new one" in later.not_shown[1]


def test_an_empty_record_is_sound(tmp_path):
    with Store.open(tmp_path / "shop.db") as store:
        report = verify(store)
        assert (report.sound, report.entries, report.head) == (True, 0, None)


def test_a_seal_of_an_empty_record_seals_its_own_printing(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        seal = store.print_seal("Kim", "a sheet")
        assert store.head() == seal
        assert verify(store, str(seal)).sound


# --- seals ------------------------------------------------------------------------------------


def test_a_seal_is_read_as_people_copy_it(store):
    seal = store.head()
    short = str(seal)
    number, letters = short.split("-", 1)
    assert len(letters.replace("-", "")) == 24
    for typed in (
        short,
        short.lower(),
        f"  {number} {letters.replace('-', ' ')} ",
        f"{number}-{letters.replace('-', '')}",
        seal.full,
        seal.full.replace("sha256:", "").upper(),
    ):
        assert read_seal(typed).pins(seal.hash)
        assert verify(store, typed).sound


def test_digits_that_a_seal_never_has_are_read_as_the_letters_they_look_like():
    for number in range(1, 40):
        seal = Seal(number, hashlib.sha256(bytes([number])).hexdigest())
        head, letters = str(seal).split("-", 1)
        typed = letters.replace("O", "0").replace("I", "1").replace("B", "8")
        assert not set(letters) & set("0189")
        assert read_seal(f"{head}-{typed}").pins(seal.hash)


def test_a_slip_of_the_pen_is_told_from_a_broken_record():
    random.seed(7)
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
    slips = told = 0
    for number in range(1, 60):
        seal = str(Seal(number, hashlib.sha256(bytes([number])).hexdigest()))
        for _ in range(20):
            at = random.randrange(seal.index("-") + 1, len(seal))
            other = random.choice(alphabet)
            if seal[at] in ("-", other):
                continue
            slips += 1
            try:
                read_seal(seal[:at] + other + seal[at + 1 :])
            except UsageError as error:
                told += "misspelt" in error.format_message()
    assert slips > 500
    # Ten bits of check letters miss one slip in a thousand or so.
    assert told >= slips * 0.99


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "is no seal"),
        ("hello", "is no seal"),
        ("0-ABCD", "is no seal"),
        ("12-", "is no seal"),
        ("12-ABCD-EFGH", "has 8 letters and digits after its number; it should have 24"),
        ("12-\x1b[31m", "is no seal"),
        ("12:sha256:abc", "is no seal"),
        ("12-" + "A" * 24, "misspelt"),
        ("१२-ABCD", "is no seal"),
    ],
)
def test_what_is_no_seal_is_refused(store, typed, says):
    with pytest.raises(UsageError) as caught:
        verify(store, typed)
    assert says in caught.value.format_message()
    assert "\x1b" not in caught.value.format_message()


def test_the_seal_of_another_record_does_not_fit(store, tmp_path):
    with Store.open(tmp_path / "other.db") as other:
        for _ in range(store.count()):
            seal = other.print_seal("Kim", "a sheet")
    report = verify(store, str(seal))
    assert codes(report) == {"other-seal"}
    assert report.findings[0].sequence == seal.sequence


# --- tampering --------------------------------------------------------------------------------


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


# --- a damaged file ---------------------------------------------------------------------------


def test_a_damaged_page_ends_in_one_clear_message_or_a_finding(tmp_path):
    path = tmp_path / "shop.db"
    with filled(path) as store:
        store.append(*[Draft(EntryKind.NOTE, "Kim", {"t": "x" * 900}, "BM-7")] * 40)
        store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = path.read_bytes()
    assert len(whole) > 10 * 4096
    seen = set()
    for page in range(len(whole) // 4096):
        broken = bytearray(whole)
        broken[page * 4096 : page * 4096 + 2048] = bytes(2048)
        path.write_bytes(bytes(broken))
        try:
            with Store.open(path, read_only=True) as store:
                found = codes(verify(store))
                assert found
                seen |= found
        except StoreError as error:
            message = error.format_message()
            assert "\n" not in message
            assert str(path) in message
            seen.add("refused")
    assert {"refused", "damaged-file"} <= seen


def test_a_damaged_store_that_is_read_says_what_to_do(tmp_path):
    path = tmp_path / "shop.db"
    with filled(path) as store:
        store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        root = store.connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'entries'"
        ).fetchone()[0]
    broken = bytearray(path.read_bytes())
    broken[(root - 1) * 4096 : root * 4096] = bytes([7]) * 4096
    path.write_bytes(bytes(broken))
    with (
        Store.open(path) as store,
        pytest.raises(StoreError, match=r"damaged.*Keep a copy.*backup that verifies"),
    ):
        list(store.entries())


def test_bytes_that_are_no_text_are_named_by_their_entry(store):
    without_protection(
        store.connection,
        "UPDATE entries SET actor = CAST(x'ff41' AS TEXT) WHERE sequence = 3",
        "UPDATE entries SET payload = CAST(x'7bff7d' AS TEXT) WHERE sequence = 5",
    )
    report = verify(store)
    assert [(f.code, f.sequence) for f in report.findings] == [("changed", 3), ("changed", 5)]
    for finding in report.findings:
        str(finding).encode("utf-8")


def test_a_closed_copy_is_the_same_record(store, tmp_path):
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(copy)) as target:
        store.connection.backup(target)
    with Store.open(copy, read_only=True) as other:
        assert tables(other.connection) == tables(store.connection)
        assert verify(other, str(store.head())).sound


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
