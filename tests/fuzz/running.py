"""Feeds inputs to targets, each under a clock and a memory limit, and keeps what goes wrong."""

from __future__ import annotations

import gc
import hashlib
import resource
import signal
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from tests.fuzz.target import Target
from tests.fuzz.targets import TARGETS, spoiler_for

FOUND = Path(__file__).with_name("found")
"""Every input that once went wrong, by target; the test suite feeds them all again."""

MEMORY = 3 * 2**30
"""The address space one run may use: an input that blows up ends in MemoryError."""


class Hangs(BaseException):
    """An input took longer than its target allows. Nothing in the program catches it."""


@dataclass(frozen=True)
class Finding:
    """An input that went wrong: its target, and the last line and place of what was raised."""

    target: str
    content: bytes
    what: str

    @property
    def signature(self) -> str:
        return f"{self.target}: {self.what}"


@contextmanager
def limited_memory() -> Iterator[None]:
    """Keeps the process from taking more than MEMORY."""
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


@dataclass(frozen=True)
class Fed:
    """What came of a run: how many inputs were taken and how many refused, and what went wrong."""

    taken: int
    refused: int
    findings: list[Finding]


def feed(target: Target, content: bytes) -> Finding | bool:
    """Feed one input; gives whether it was taken. Only for the main thread, where alarms arrive."""

    def ring(_number: int, _frame: FrameType | None) -> None:
        raise Hangs

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, target.seconds)
    try:
        return target.feed(content)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        return Finding(target.name, content, _what(error))
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _what(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if "/engine/" in frame.filename or "/cli/" in frame.filename]
    place = f" at {Path(own[-1].filename).name}:{own[-1].name}" if own else ""
    said = str(error).splitlines()[:1]
    return f"{type(error).__name__}{place}" + (f": {said[0][:120]}" if said else "")


def run(
    target: Target, count: int, seed: int, advance: Callable[[int], None] = lambda _: None
) -> Fed:
    """Feed `count` spoilt inputs; findings that look alike are given once."""
    draw = spoiler_for(target, seed)
    found: dict[str, Finding] = {}
    taken = refused = 0
    for number in range(1, count + 1):
        finding = feed(target, draw())
        if finding is True:
            taken += 1
        elif finding is False:
            refused += 1
        else:
            kind = finding.what.partition(":")[0]
            smaller = kind not in found or len(finding.content) < len(found[kind].content)
            if smaller:
                found[kind] = finding
        if number % 2_000 == 0:
            gc.collect()
        advance(number)
    return Fed(taken, refused, list(found.values()))


def keep(finding: Finding) -> Path:
    """Write a finding beside the tests; the same input has the same name."""
    name = hashlib.sha256(finding.content).hexdigest()[:16]
    path = FOUND / finding.target / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(finding.content)
    return path


def kept() -> Iterator[tuple[Target, Path]]:
    """Every input kept, with the target it is for."""
    for target in TARGETS:
        for path in sorted((FOUND / target.name).glob("*")):
            yield target, path
