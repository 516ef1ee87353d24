"""The record when things go wrong: killed programs, full disks, disks that may only be read."""

from __future__ import annotations

import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import textwrap
import time
from contextlib import closing

import pytest

from engine.errors import StoreError
from engine.facts import JobFacts
from engine.trail import Draft, EntryKind, Store, opening, verify

LONG = os.environ.get("PREPWRIGHT_LONG") == "1"
KILLS = 200 if LONG else 6
EACH = 2_000 if LONG else 60

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and limits of POSIX are used")

WRITER = """
    import random, sys, time
    from pathlib import Path
    from engine.facts import JobFacts
    from engine.trail import Draft, EntryKind, Store, opening

    path, job, most = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    print("ready", flush=True)
    sys.stdin.readline()
    with Store.open(path) as store:
        if not store.last(job):
            store.append(opening(JobFacts(job), "writer"))
        added = 0
        while added < most:
            drafts = [
                Draft(EntryKind.NOTE, "writer", {"text": "x" * random.randrange(3000)}, job)
                for _ in range(random.randrange(1, 4))
            ]
            for entry in store.append(*drafts):
                added += 1
                print(entry.sequence, entry.hash, flush=True)
            time.sleep(random.random() / 200)  # So that others get a word in.
"""


def start(path, job, most, code=WRITER, **more):
    """A program that says when it is ready, and begins when it is told to."""
    program = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code), str(path), job, str(most)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **more,
    )
    assert program.stdout.readline() == "ready\n", program.communicate()[1]
    return program


def begin(program):
    program.stdin.write("\n")
    program.stdin.flush()


def accepted(output):
    """The entries a program was told are kept; a last line cut in the middle is none."""
    lines = output.split("\n")[:-1]
    return {int(number): hash_ for number, hash_ in (line.split() for line in lines)}


def test_no_accepted_entry_is_lost_when_programs_are_killed(tmp_path):
    path = tmp_path / "shop.db"
    random.seed(9)
    known = {}
    for _ in range(KILLS):
        writer = start(path, "BM-7", 10**9)
        begin(writer)
        first = writer.stdout.readline()
        time.sleep(random.random() * 0.15)
        writer.send_signal(signal.SIGKILL)
        # Not `communicate`: it reads past what `readline` has taken off the pipe already.
        rest = writer.stdout.read()
        assert writer.wait(timeout=60) == -signal.SIGKILL
        known |= accepted(first + rest)
        with Store.open(path) as store:
            kept = {entry.sequence: entry.hash for entry in store.entries()}
            assert known.items() <= kept.items()
            assert verify(store).sound
    assert len(known) > KILLS


def test_two_programs_write_at_once_and_nothing_is_lost(tmp_path):
    path = tmp_path / "shop.db"
    # Neither finds a store: making it is part of the race.
    writers = [start(path, job, EACH) for job in ("BM-7", "BM-8")]
    known = {}
    for writer in writers:
        begin(writer)
    for writer in writers:
        output, errors = writer.communicate(timeout=600)
        assert (writer.returncode, errors) == (0, "")
        found = accepted(output)
        assert len(found) >= EACH
        assert not known.keys() & found.keys()
        known |= found
    with Store.open(path, read_only=True) as store:
        assert known.items() <= {e.sequence: e.hash for e in store.entries()}.items()
        assert verify(store).sound
        jobs = [entry.job for entry in store.entries()]
        assert jobs != sorted(jobs)


COUNTER = """
    import sys
    from pathlib import Path
    from engine.errors import JobChangedError
    from engine.trail import Draft, EntryKind, Store

    path, job, most = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    done = refused = 0
    print("ready", flush=True)
    sys.stdin.readline()
    with Store.open(path) as store:
        while done < most:
            last = store.last(job)
            counted = store.entry(last).payload.get("count", 0)
            draft = Draft(EntryKind.NOTE, "counter", {"count": counted + 1}, job)
            try:
                store.append(draft, expected_last=last)
                done += 1
            except JobChangedError:
                refused += 1
    print(done, refused)
"""


def test_no_update_is_lost_between_programs_that_build_on_what_they_saw(tmp_path):
    path = tmp_path / "shop.db"
    with Store.open(path) as store:
        store.append(opening(JobFacts("BM-7"), "Kim"))
    counters = [start(path, "BM-7", EACH, COUNTER) for _ in range(2)]
    for counter in counters:
        begin(counter)
    for counter in counters:
        output, errors = counter.communicate(timeout=600)
        assert (counter.returncode, errors) == (0, "")
        assert int(output.split()[0]) == EACH
    with Store.open(path, read_only=True) as store:
        counts = [entry.payload["count"] for entry in store.entries(first=2)]
        assert counts == list(range(1, 2 * EACH + 1))


def test_a_file_that_may_not_grow_takes_nothing_half(tmp_path):
    """As where a disk is full: the system refuses to write past a limit."""
    path = tmp_path / "shop.db"

    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))

    code = f"""
        import sys
        from engine.errors import StoreError
        try:
            {textwrap.indent(textwrap.dedent(WRITER), " " * 12).strip()}
        except StoreError as error:
            print(error.format_message(), file=sys.stderr)
            sys.exit(error.exit_code)
    """
    writer = start(path, "BM-7", 10**9, code, preexec_fn=limit)
    output, errors = writer.communicate("\n", timeout=60)
    assert writer.returncode == 3
    assert "Nothing was added" in errors
    assert "Traceback" not in errors
    assert errors.count("\n") == 1
    known = accepted(output)
    assert len(known) > 3
    with Store.open(path) as store:
        assert {entry.sequence: entry.hash for entry in store.entries(first=2)} == known
        assert verify(store).sound
        store.append(Draft(EntryKind.NOTE, "Kim", {"text": "room again"}, "BM-7"))
        assert verify(store).sound


# --- disks that may only be read --------------------------------------------------------------

READER = """
    import os, sys
    from pathlib import Path
    from engine.errors import PrepwrightError
    from engine.trail import Draft, EntryKind, Store, verify
    from engine.trail.canonical import canonical
    canonical({"loads": "what is loaded late"})
    print("ready", flush=True)
    sys.stdin.readline()
    if os.getuid() == 0:
        os.setgid(65534)
        os.setuid(65534)

    path, how = Path(sys.argv[1]), sys.argv[2]
    try:
        with Store.open(path, read_only=how == "read") as store:
            print(store.count(), verify(store).sound, flush=True)
            if how == "write":
                store.append(Draft(EntryKind.NOTE, "Kim", {}, "BM-7"))
    except PrepwrightError as error:
        print(error.format_message())
        sys.exit(error.exit_code)
"""


def read_as_somebody_else(path, how):
    """Runs a reader that is not allowed what the file modes forbid."""
    reader = start(path, how, 0, READER)
    output, errors = reader.communicate("\n", timeout=60)
    assert "Traceback" not in errors, errors
    return reader.returncode, output


@pytest.fixture
def locked(tmp_path):
    """A store in a folder that nobody may write to."""
    # The folders above are for their owner alone, who may be somebody else than the reader.
    folder = tmp_path
    while (
        folder.parent != folder and folder.stat().st_uid == os.getuid() and "pytest" in str(folder)
    ):
        folder.chmod(0o755)
        folder = folder.parent
    inside = tmp_path / "archive"
    inside.mkdir()
    path = inside / "shop.db"
    with Store.open(path) as store:
        store.append(opening(JobFacts("BM-7"), "Kim"))
    path.chmod(0o444)
    inside.chmod(0o555)
    yield path
    inside.chmod(0o755)


def test_a_store_on_a_disk_that_may_only_be_read_is_read(locked):
    assert read_as_somebody_else(locked, "read") == (0, "1 True\n")


def test_writing_where_nothing_may_be_written_is_one_clear_message(locked):
    code, output = read_as_somebody_else(locked, "write")
    assert code == 3
    assert "may only be read" in output or "cannot be opened" in output
    assert output.strip().count("\n") <= 1


def test_entries_that_cannot_be_read_there_are_not_passed_over_in_silence(locked):
    locked.parent.chmod(0o755)
    with closing(sqlite3.connect(locked)) as keeps_the_log:
        keeps_the_log.execute("SELECT count(*) FROM entries").fetchone()
        locked.chmod(0o644)
        with Store.open(locked) as store:
            store.append(Draft(EntryKind.NOTE, "Kim", {}, "BM-7"))
        log = locked.with_name("shop.db-wal").read_bytes()
    assert log
    locked.with_name("shop.db-wal").write_bytes(log)
    locked.with_name("shop.db-shm").unlink(missing_ok=True)
    locked.chmod(0o444)
    locked.parent.chmod(0o555)
    code, output = read_as_somebody_else(locked, "read")
    if code == 0:
        assert output == "2 True\n"
    else:
        assert code == 3
        assert "still in shop.db-wal" in output
        assert "Copy both files" in output


def test_a_store_whose_folder_went_away_is_told(tmp_path):
    with pytest.raises(StoreError, match="no store at"):
        Store.open(tmp_path / "unplugged" / "shop.db", read_only=True)
