"""Whatever is put in the record comes out as it was, and whatever is done to it is found."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import tempfile
from contextlib import closing
from fractions import Fraction
from pathlib import Path

import pytest
import rfc8785
from hypothesis import example, given, settings
from hypothesis import strategies as st

from engine.errors import DocumentError, Place, StoreError, TrailError, UsageError
from engine.facts import JobFacts, Told
from engine.trail import (
    Draft,
    EntryKind,
    Store,
    export_file,
    history,
    import_file,
    job_facts,
    opening,
    read_seal,
    verify,
    verify_export,
)
from engine.trail.canonical import canonical, is_canonical, parse
from engine.trail.entry import Row
from engine.trail.facts import job_from, job_payload
from engine.trail.seal import Seal
from tests.unit.trail_sample import SetClock, filled, rows, tables, without_protection

LONG = os.environ.get("PREPWRIGHT_LONG") == "1"
MANY = 2_000 if LONG else 40
TAMPERINGS = 20_000 if LONG else 2_500
FLIPS = 20_000 if LONG else 1_000

texts = st.text(st.characters(exclude_categories=["Cs"]))
numbers = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
plain = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)
payloads = st.dictionaries(texts, plain, max_size=4)

HOSTILE = [
    "\x1b[2J\x1b]0;owned\x07 cleared",
    "\u202esdrawkcab\u2066 isolate",
    "<script>alert('x')</script><!-- & -->",
    "line\r\nline\u2028line\x00nul\x85",
    "'; DROP TABLE entries; --",
    "{{ 7 * 7 }} %s {0} $film.limit",
    "e\u0301 \u00e9 \ud7ff \ue000 \U0010ffff \ufeff",
    "=cmd|' /C calc'!A0",
    "x" * 1_000_000,
    "\u00e4\U0001f6d1" * 50_000,
]


# --- canonical JSON ---------------------------------------------------------------------------


@settings(max_examples=MANY * 5)
@given(plain)
@example(1e-5)
@example(1e16)
@example(-1.5e20)
@example(2.0**53)
@example(1e21)
@example(1e-7)
@example([5.0, -0.0, 1e15, 999999999999999.0, 1e16, -1e-7, 9007199254740991])
@example({"a": [1e21, 5e-324], "b": {"\ue000": 1, "\U00010000": 2.0}})
@example({"1e5": "x:1e5,[2.0,", "\x7f\u2028\x1f/\\": True})
def test_canonical_json_reads_back_to_the_same_value(value):
    written = canonical(value)
    assert written == rfc8785.dumps(value)
    assert parse(written) == value
    assert canonical(parse(written)) == written
    assert is_canonical(written.decode("utf-8"))


@settings(max_examples=MANY * 5)
@given(plain, st.sampled_from([None, 1]), st.booleans(), st.booleans())
@example({"\ue000": 1, "\U00010000": 2}, None, True, False)
@example(1e-5, None, True, False)
@example(1e16, None, True, False)
@example(-0.0, None, True, False)
@example(5.0, None, True, False)
@example(1e22, None, True, False)
def test_the_quick_check_for_canonical_json_agrees_with_the_full_one(value, indent, order, ascii_):
    text = json.dumps(
        value, indent=indent, sort_keys=order, ensure_ascii=ascii_, separators=(",", ":")
    )
    assert is_canonical(text) is (canonical(parse(text)) == text.encode("utf-8"))


@settings(max_examples=MANY * 5)
@given(st.text('0123456789.eE+-"{}[]:, \\ntrufalsu\ud7ff\ue000'))
def test_any_text_is_canonical_json_or_not_and_never_a_crash(text):
    try:
        value = parse(text)
        expected = canonical(value) == text.encode("utf-8")
    except TrailError:
        expected = False
    assert is_canonical(text) is expected


# --- facts ------------------------------------------------------------------------------------

fractions = st.fractions()
values = (
    st.none()
    | texts
    | fractions
    | st.frozensets(texts, max_size=4)
    | st.lists(st.lists(fractions, min_size=1, max_size=3).map(tuple), max_size=3).map(tuple)
)
maybe = st.none() | texts
places = st.builds(Place, texts, st.integers(1, 10**6), st.integers(1, 10**6))
tolds = st.builds(Told, values, texts, maybe, maybe, maybe, st.none() | places, maybe)
sheets = st.dictionaries(texts, tolds, max_size=3)
jobs = st.builds(
    JobFacts,
    texts.filter(str.strip),
    sheets,
    sheets,
    st.dictionaries(texts, sheets, max_size=3),
)


@settings(max_examples=MANY * 3)
@given(jobs)
def test_any_job_comes_back_from_its_payload(job):
    again = job_from(parse(canonical(job_payload(job))))
    assert again == job
    assert list(again.panels) == list(job.panels)


@settings(max_examples=MANY * 3)
@given(st.dictionaries(st.sampled_from(["job", "panels", "facts"]), plain) | payloads)
def test_any_payload_is_a_job_or_refused(data):
    try:
        job_from(data)
    except TrailError as error:
        error.format_message().encode("utf-8")


# --- entries ----------------------------------------------------------------------------------


@settings(max_examples=MANY, deadline=None)
@given(st.data())
def test_any_entries_come_back_verify_and_survive_export_and_import(data):
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "shop.db"
        with Store.open(path, clock=SetClock()) as store:
            store.connection.execute("PRAGMA synchronous = OFF")
            job = data.draw(jobs)
            store.append(opening(job, data.draw(texts.filter(str.strip))))
            added = []
            for _ in range(data.draw(st.integers(0, 4))):
                kind = data.draw(st.sampled_from([EntryKind.NOTE, EntryKind.STEP_DONE]))
                actor = data.draw(texts.filter(str.strip))
                draft = Draft(kind, actor, data.draw(payloads), job.job, data.draw(maybe))
                (entry,) = store.append(draft)
                assert (entry.actor, entry.instrument) == (draft.actor, draft.instrument)
                assert entry.payload == draft.payload
                added.append(entry)
            assert list(store.entries(job.job))[1:] == added
            assert job_facts(store, job.job) == job
            assert verify(store, str(store.head())).sound
            export_file(store, Path(place) / "x.json", job.job)
            recorded = list(history(store, job.job))
        assert verify_export(Path(place) / "x.json").sound
        with Store.open(Path(place) / "other.db", clock=SetClock()) as other:
            import_file(other, Path(place) / "x.json", "Lee")
            assert list(history(other, job.job)) == recorded
            assert job_facts(other, job.job) == job


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text[:20]))
def test_hostile_text_is_kept_as_it_is_everywhere(tmp_path, text):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        told = Told(text, "x", by=text)
        if len(text) < 1000:
            told = Told(text, text, by=text, at=text, instrument=text, unit=text)
        job = JobFacts(text, panels={text: {text: told}})
        store.append(opening(job, text))
        payload = {text: [text, {text: text}]}
        for kind in EntryKind:
            if kind in (EntryKind.NOTE, EntryKind.FOUND, EntryKind.HOLD_SIGNED):
                (entry,) = store.append(Draft(kind, text, payload, text, text))
                assert (entry.actor, entry.job, entry.instrument) == (text, text, text)
                assert entry.payload == payload
        assert job_facts(store, text) == job
        assert store.jobs() == (text,)
        assert store.last(text) == 4
        assert verify(store).sound
        export_file(store, tmp_path / "x.json", text)
        assert verify_export(tmp_path / "x.json").sound
        recorded = list(history(store, text))
        with pytest.raises(TrailError) as caught:
            store.append(opening(job, text))
        message = caught.value.format_message()
        assert len(message) < 400
        assert message.replace("\n", "").isprintable()
    with Store.open(tmp_path / "other.db", clock=SetClock()) as other:
        import_file(other, tmp_path / "x.json", text)
        assert list(history(other, text)) == recorded


# --- seals ------------------------------------------------------------------------------------


@settings(max_examples=MANY * 3)
@given(
    st.integers(1, 10**9), st.binary(min_size=32, max_size=32), st.binary(min_size=32, max_size=32)
)
def test_a_seal_pins_its_own_hash_alone(sequence, one, other):
    seal = Seal(sequence, one.hex())
    for typed in (str(seal), seal.full, str(seal).lower().replace("-", " ")):
        assert read_seal(typed).sequence == sequence
        assert read_seal(typed).pins(one.hex())
        assert read_seal(typed).pins(other.hex()) is (one == other)


@settings(max_examples=MANY * 3)
@given(st.text())
def test_any_text_is_a_seal_or_refused(text):
    message = ""
    try:
        read_seal(text)
    except UsageError as error:
        message = error.format_message()
    assert message.isprintable()


# --- tampering --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def original(tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "shop.db"
    filled(path).close()
    return path


def other_value(random_: random.Random, value: object) -> object:
    """Something that is not `value`, and often nearly is."""
    choices: list[object] = [None, "", 0, 1, 2, -1, "x", b"x", 1.5]
    if isinstance(value, str):
        at = random_.randrange(len(value) + 1)
        changed = (
            chr((ord(value[at]) ^ (1 << random_.randrange(7))) or 65) if at < len(value) else "!"
        )
        choices += [value[:at] + changed + value[at + 1 :]] * 6
        choices += [value[:at] + value[at + 1 :], value[:at] + " " + value[at:], value.swapcase()]
        choices += [value + "\x00", value.encode("utf-8"), value + " "]
    if isinstance(value, int):
        choices += [value + 1, value ^ 2, str(value) + "0"]
    while True:
        other = random_.choice(choices)
        if type(other) is not type(value) or other != value:
            return other


def test_no_tampering_with_a_single_entry_goes_unfound(original):
    """Any cell of any entry changed, any entry removed, copied or moved, triggers put back."""
    random_ = random.Random(20310506)
    with Store.open(original, clock=SetClock()) as store:
        head = str(store.head())
        whole = bytearray(store.connection.serialize())
        whole[18:20] = b"\x01\x01"  # Write-ahead logging has no place in memory.
        columns = Row._fields
        table = rows(store)
    refused = 0
    for _ in range(TAMPERINGS):
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
            connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
            connection.deserialize(bytes(whole))
            row = random_.choice(table)
            what = random_.randrange(10)
            try:
                if what < 7:
                    column = random_.choice(columns)
                    value = other_value(random_, getattr(row, column))
                    change = (
                        f"UPDATE entries SET {column} = ? WHERE sequence = ?",
                        (value, row.sequence),
                    )
                elif what == 7:
                    change = ("DELETE FROM entries WHERE sequence = ?", (row.sequence,))
                else:
                    target = random_.choice([r for r in table if r != row]).sequence
                    target = target if what == 8 else random_.choice([len(table) + 1, 0, -3, 99])
                    copied = row._replace(sequence=target)
                    marks = ", ".join("?" * len(copied))
                    change = (f"REPLACE INTO entries VALUES ({marks})", copied)
                without_protection(connection, change)
            except sqlite3.IntegrityError:
                refused += 1  # STRICT tables refuse values of other types.
                continue
            changed = connection.execute("SELECT * FROM entries ORDER BY sequence").fetchall()
            if changed == table:
                refused += 1  # The column took the value for the one it had: `0` for 0.
                continue
            report = verify(Store(connection, original, SetClock(), read_only=True), head)
            assert not report.sound, (what, row, change)
            assert not any(found.code == "unprotected" for found in report.findings)
            report_text = "\n".join(str(found) for found in report.findings)
            report_text.encode("utf-8")
    assert refused < TAMPERINGS / 2


def test_no_flipped_bit_of_the_file_changes_what_is_read_unfound(original, tmp_path):
    """The file is refused, or verifying finds it, or every entry still reads the same."""
    random_ = random.Random(19960101)
    path = tmp_path / "shop.db"
    with Store.open(original) as store:
        expected = everything(store)
        store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = original.read_bytes()
    found = harmless = 0
    for _ in range(FLIPS):
        at = random_.randrange(len(whole))
        # Half of the flips where there is something: most of a small file is empty.
        while random_.random() < 0.9 and whole[at] == 0:
            at = random_.randrange(len(whole))
        broken = bytearray(whole)
        broken[at] ^= 1 << random_.randrange(8)
        for beside in tmp_path.iterdir():
            beside.unlink()
        path.write_bytes(bytes(broken))
        try:
            with Store.open(path, read_only=True) as store:
                if verify(store).sound:
                    assert everything(store) == expected, at
                    harmless += 1
                    continue
        except StoreError as error:
            error.format_message().encode("utf-8")
        found += 1
    assert found > FLIPS / 3


def everything(store: Store) -> object:
    from engine.trail.rulesets import digests, kept_files

    held = tables(store.connection)
    kept = {digest: kept_files(store, digest) for digest in digests(store)}
    return held["entries"], held["seals"], held["ruleset_files"], kept


def test_no_changed_byte_of_an_export_changes_what_it_says_unfound(original, tmp_path):
    random_ = random.Random(7)
    path = tmp_path / "x.json"
    with Store.open(original) as store:
        export_file(store, path)
        seal = str(store.head())
    whole = path.read_bytes()
    said = json.loads(whole)
    found = 0
    for _ in range(FLIPS):
        at = random_.randrange(len(whole))
        broken = bytearray(whole)
        broken[at] = random_.choice([broken[at] ^ (1 << random_.randrange(8)), 32, 48, 34])
        path.write_bytes(bytes(broken))
        try:
            sound = verify_export(path, seal).sound
        except DocumentError:
            sound = False
        if sound:
            assert json.loads(path.read_bytes()) == said
        else:
            found += 1
    assert found > FLIPS / 2


def test_fractions_too_long_to_read_are_refused_and_not_a_crash():
    with pytest.raises(TrailError):
        job_from(job_payload(JobFacts("J", {"f": Told(Fraction(10**4200), "x")})))
