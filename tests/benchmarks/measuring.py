"""How things are measured: processor time of many runs, and what is said of them."""

from __future__ import annotations

import os
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Measured:
    """One number of one part: what it is of, and the goal it is held against, where there is one.

    `at_most` tells whether the goal is not to be passed, or else is to be reached.
    """

    part: str
    what: str
    value: float
    unit: str
    goal: float | None = None
    at_most: bool = True
    note: str = ""

    @property
    def met(self) -> bool | None:
        if self.goal is None:
            return None
        return self.value <= self.goal if self.at_most else self.value >= self.goal

    def as_json(self) -> dict[str, Any]:
        return {**asdict(self), "met": self.met}


def milliseconds(run: Callable[[], object], rounds: int = 7) -> list[float]:
    """The processor time of each of so many runs, in ms, the least first."""
    found = []
    for _ in range(rounds):
        began = time.process_time()
        run()
        found.append((time.process_time() - began) * 1000)
    return sorted(found)


def each(runs: Sequence[Callable[[], object]]) -> list[float]:
    """The processor time of each of several runs, in ms, the least first."""
    return sorted(milliseconds(run, 1)[0] for run in runs)


def middle(values: Sequence[float]) -> float:
    return statistics.median(values)


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least this share of the values does not pass (nearest rank)."""
    ordered = sorted(values)
    return ordered[max(0, -(-len(ordered) * share // 1).__int__() - 1)]


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """The power of the size with which times grow: the slope of their logarithms."""
    import math

    slope = statistics.linear_regression(list(map(math.log, sizes)), list(map(math.log, times)))
    return slope.slope


def child(command: Sequence[str], rounds: int) -> tuple[float, float]:
    """The least processor time and the least time on the clock of a whole process, in s."""
    processor, clock = [], []
    for _ in range(rounds):
        began = time.perf_counter()
        started = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        _, status, used = os.wait4(started.pid, 0)
        clock.append(time.perf_counter() - began)
        started.returncode = os.waitstatus_to_exitcode(status)
        if started.returncode:
            raise SystemExit(f"{' '.join(command)} ended with {started.returncode}")
        processor.append(used.ru_utime + used.ru_stime)
    return min(processor), min(clock)


def resident_mb() -> float:
    """The memory of this process now, in MB."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
