"""The installed `prepwright help`: read through a pager on a terminal, printed anywhere else."""

from __future__ import annotations

import os
import subprocess

import pytest
from installed import COMMAND, clean_environment

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs a POSIX terminal")


def on_a_terminal(*args: str, lines: int, term: str = "xterm") -> str:
    """What a terminal of so many lines shows; the pager marks every line it was given."""
    master, slave = os.openpty()
    environment = {
        **clean_environment(),
        "PAGER": "sed s/^/PAGED:/",
        "LINES": str(lines),
        "COLUMNS": "80",
        "TERM": term,
    }
    process = subprocess.Popen(
        [str(COMMAND), "help", *args],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=environment,
    )
    os.close(slave)
    shown = b""
    try:
        while part := os.read(master, 65536):
            shown += part
    except OSError:
        pass  # Linux ends a terminal that nobody holds any more in this way.
    finally:
        os.close(master)
    assert process.wait(timeout=60) == 0
    return shown.decode().replace("\r\n", "\n")


def test_a_long_page_is_paged_on_a_terminal():
    assert on_a_terminal("decide", lines=20).startswith("PAGED:NAME\n")


def test_a_page_that_fits_is_not_paged():
    assert on_a_terminal("decide", lines=300).startswith("NAME\n")


def test_nothing_is_paged_for_a_screen_reader_or_on_a_dumb_terminal():
    assert on_a_terminal("decide", "--plain", lines=20).startswith("NAME\n")
    assert on_a_terminal("decide", lines=20, term="dumb").startswith("NAME\n")


def test_nothing_is_paged_in_a_pipe(prepwright):
    result = prepwright("help", "decide")
    assert (result.returncode, result.stderr) == (0, b"")
    assert result.stdout.startswith(b"NAME\n")
