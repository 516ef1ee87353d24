"""Trouble with the store through the command: one clear message each, and nothing half done."""

from __future__ import annotations

import ctypes
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment

from engine.trail import Draft, EntryKind, Store, verify

_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE = 24, 1

READING = (
    ("jobs",),
    ("trail", "show", "BM-7"),
    ("trail", "history", "BM-7"),
    ("why", "BM-7", "bonnet"),
)
WRITING = (
    ("note", "BM-7", "waits for the booth"),
    ("found", "BM-7", "bonnet rust: pitted"),
    ("sign", "BM-7", "air", "bonnet", "--record", "20 C, 50 %"),
    ("done", "BM-7", "record-vehicle"),
    ("decide", "BM-7", "--save", "--one-engine"),
)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with one decided job."""
    from installed import SAMPLE

    folder = tmp_path_factory.mktemp("template")
    (folder / "BM-7.yaml").write_text(SAMPLE, "utf-8")
    done = call(folder / "shop.db", "decide", folder / "BM-7.yaml", "--save", "--one-engine")
    assert done.returncode == 0, done.stderr
    return folder / "shop.db"


@pytest.fixture
def store(template: Path, tmp_path: Path) -> Path:
    path = tmp_path / "shop.db"
    shutil.copy(template, path)
    return path


def call(
    store: Path, *words: object, before: Callable[[], None] | None = None, given: str = ""
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(COMMAND), *map(str, words)],
        input=given,
        capture_output=True,
        env=clean_environment(PREPWRIGHT_STORE=str(store), PYTHONDONTWRITEBYTECODE="1"),
        timeout=60,
        check=False,
        text=True,
        preexec_fn=before,
    )


def is_one_message(done: subprocess.CompletedProcess[str]) -> None:
    assert "Traceback" not in done.stderr
    assert "unexpected trouble" not in done.stderr
    assert done.stderr.startswith("prepwright: ")
    assert done.stderr.count("\n") == 1, done.stderr


def no_room() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2048, 2048))


def bound_by_file_modes() -> None:
    """Root is not, until it gives up CAP_DAC_OVERRIDE for what it runs."""
    if os.getuid() == 0:
        ctypes.CDLL(None).prctl(_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE, 0, 0, 0)


@pytest.mark.parametrize("words", WRITING, ids=lambda words: str(words[0]))
def test_a_full_disk_takes_nothing_and_says_so(store: Path, words: tuple[str, ...]) -> None:
    with Store.open(store, read_only=True) as opened:
        head = opened.head()
    done = call(store, *words, before=no_room)
    assert done.returncode == 3
    is_one_message(done)
    assert "room" in done.stderr
    with Store.open(store) as opened:
        assert opened.head() == head
        assert verify(opened).sound
    assert call(store, *words).returncode == 0


def test_a_conversation_on_a_full_disk_ends_in_one_message(store: Path) -> None:
    done = call(store, "chat", "BM-8", "--one-engine", before=no_room, given="roof\nhybrid\n")
    assert done.returncode == 3
    is_one_message(done)
    assert "room" in done.stderr
    assert "Drive: hybrid" not in done.stdout


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="capabilities of Linux")
def test_a_store_that_may_only_be_read_is_read_and_not_written(store: Path) -> None:
    store.chmod(0o444)
    store.parent.chmod(0o555)
    try:
        for words in READING:
            done = call(store, *words, before=bound_by_file_modes)
            assert (done.returncode, done.stderr) == (0, ""), words
            assert "BM-7" in done.stdout
        for words in WRITING:
            done = call(store, *words, before=bound_by_file_modes)
            assert done.returncode == 3, words
            is_one_message(done)
            assert "may only be read" in done.stderr or "cannot be opened" in done.stderr
    finally:
        store.parent.chmod(0o755)


PAGES = 40 if os.environ.get("PREPWRIGHT_LONG") == "1" else 4


@pytest.mark.parametrize("seed", range(PAGES))
def test_a_damaged_page_is_one_message_or_a_finding(store: Path, seed: int) -> None:
    chance = random.Random(seed)
    data = bytearray(store.read_bytes())
    page = chance.randrange(1, len(data) // 4096)
    data[page * 4096 : (page + 1) * 4096] = chance.randbytes(4096)
    store.write_bytes(bytes(data))
    checked = call(store, "trail", "verify")
    assert checked.returncode in (1, 3), checked.stdout
    assert "BROKEN" in checked.stdout or "is damaged" in checked.stderr
    for words in (*READING, WRITING[0]):
        done = call(store, *words)
        assert done.returncode in (0, 1, 3), words
        if done.returncode:
            is_one_message(done)


def test_a_clock_that_went_back_is_recorded_and_told(store: Path) -> None:
    ahead = datetime(2093, 5, 6, tzinfo=UTC)
    with Store.open(store, clock=lambda: ahead) as opened:
        opened.append(Draft(EntryKind.NOTE, "Kim", {"text": "ahead of its time"}, "BM-7"))
    done = call(store, "note", "BM-7", "the clock is right again")
    assert (done.returncode, done.stderr) == (0, "")
    shown = " ".join(call(store, "trail", "show", "BM-7").stdout.split())
    assert "(the clock had been set back)" in shown
    checked = call(store, "trail", "verify")
    assert checked.returncode == 0
    assert "the clock was set back in between" in checked.stdout
    assert "bonnet" in call(store, "next", "BM-7").stdout
