"""Spreads work on entries of the record over processes, some entries at a time, in their order."""

from __future__ import annotations

import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from typing import Any, TypeVar

from engine.errors import TrailError

CHUNK = 50
"""Entries a process is handed at once."""

Result = TypeVar("Result")
Chunk = tuple[int, ...]
Work = Callable[[Chunk], Result]
"""Does what is to be done with some entries, given by their numbers."""


def spread(
    numbers: Iterable[int],
    here: Work[Result],
    begin: Callable[..., Work[Result]],
    setup: tuple[Any, ...],
    workers: int,
) -> Iterator[Result]:
    """The results of the work on all entries, in the order of the entries.

    With one worker `here` does it all and no process is started. With more, each process begins
    with `begin(*setup)`, a function of a module, and works with what that gives. Only a few
    chunks wait at a time, so that memory does not grow with the record. Raises TrailError where a
    process dies.
    """
    if workers <= 1:
        yield from map(here, _chunks(numbers))
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(
        workers, mp_context=context, initializer=_start, initargs=(begin, setup)
    ) as pool:
        waiting: deque[Future[Result]] = deque()
        try:
            for chunk in _chunks(numbers):
                waiting.append(pool.submit(_run, chunk))
                if len(waiting) > 2 * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        except BrokenProcessPool:
            raise TrailError(
                "a process that replays decisions was ended from outside, for want of memory "
                "perhaps. Try again with fewer processes."
            ) from None
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


_work: Work[Any] | None = None


def _start(begin: Callable[..., Work[Any]], setup: tuple[Any, ...]) -> None:
    global _work
    _work = begin(*setup)


def _run(chunk: Chunk) -> Any:
    assert _work is not None
    return _work(chunk)


def _chunks(numbers: Iterable[int]) -> Iterator[Chunk]:
    left = iter(numbers)
    while chunk := tuple(islice(left, CHUNK)):
        yield chunk
