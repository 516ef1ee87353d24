"""A progress bar on standard error for what takes longer than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

_QUIET_FOR = 1.0
_EVERY = 0.1
_WIDTH = 30


Show = Callable[[int, int], None]


@contextmanager
def progress_on_stderr(what: str) -> Iterator[Show]:
    """Gives a function told how many of how many are done; nothing shows where nobody looks."""
    with progress_by_part() as show:
        yield partial(show, what)


@contextmanager
def progress_by_part() -> Iterator[Callable[[str, int, int], None]]:
    """As `progress_on_stderr` for work in several parts, which the function is told of first."""
    looked_at = sys.stderr.isatty()
    began = time.monotonic()
    shown_at = began
    shown = False

    def show(what: str, done: int, total: int) -> None:
        nonlocal shown, shown_at
        now = time.monotonic()
        if not looked_at or now - began < _QUIET_FOR or (now - shown_at < _EVERY and done < total):
            return
        share = done / total if total else 1.0
        filled = "#" * int(share * _WIDTH)
        sys.stderr.write(f"\r\x1b[K{what} [{filled:<{_WIDTH}}] {done:,} of {total:,}")
        sys.stderr.flush()
        shown, shown_at = True, now

    try:
        yield show
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
