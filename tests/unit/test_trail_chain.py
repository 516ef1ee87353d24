"""The chain of hashes: what it is, the seals that pin it, and a damaged file."""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
from contextlib import closing

import pytest
import rfc8785

from engine.errors import StoreError, UsageError
from engine.trail import Draft, EntryKind, Seal, Store, read_seal, verify
from tests.unit.trail_sample import (
    SetClock,
    codes,
    filled,
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
