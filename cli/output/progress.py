"""A progress bar on standard error for what takes longer than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_QUIET_FOR = 1.0
_EVERY = 0.1
_WIDTH = 30


@contextmanager
def progress_on_stderr(what: str) -> Iterator[Callable[[int, int], None]]:
    """Gives a function told how many of how many are done; nothing shows where nobody looks."""
    looked_at = sys.stderr.isatty()
    began = time.monotonic()
    shown_at = began
    shown = False

    def show(done: int, total: int) -> None:
        nonlocal shown, shown_at
        now = time.monotonic()
        if not looked_at or now - began < _QUIET_FOR or (now - shown_at < _EVERY and done < total):
            return
        share = done / total if total else 1.0
        filled = "#" * int(share * _WIDTH)
        sys.stderr.write(f"\r{what} [{filled:<{_WIDTH}}] {done:,} of {total:,}")
        sys.stderr.flush()
        shown, shown_at = True, now

    try:
        yield show
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
