"""How long commands take as whole processes, beside the bare interpreter with prompt_toolkit."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from engine.supplied import demo_folder
from tests.benchmarks.measuring import Measured, child

PART = "starting"
ROUNDS = 7
_RUN = ("-c", "from cli.main import main; main()")
_FIRST = b"Which panels"
_PATIENCE = 60


def measure(rounds: int = ROUNDS) -> Iterator[Measured]:
    """Processor time, and time on the clock, the least of some rounds.

    Rules and compiled modules are kept ready, as an installed program has them.
    """
    with tempfile.TemporaryDirectory() as place, compiled_in(Path(place)):
        yield from _measured(rounds)


@contextmanager
def compiled_in(place: Path) -> Iterator[None]:
    """Processes started meanwhile keep their compiled modules in a folder, whatever was said.

    Where Python writes none, as `PYTHONDONTWRITEBYTECODE` asks, every process would compile every
    module anew, which takes longer than what is measured.
    """
    changed = {"PYTHONDONTWRITEBYTECODE": None, "PYTHONPYCACHEPREFIX": str(place)}
    before = {name: os.environ.get(name) for name in changed}
    _put_into_environment(changed)
    try:
        yield
    finally:
        _put_into_environment(before)


def _put_into_environment(values: Mapping[str, str | None]) -> None:
    for name, value in values.items():
        if value is None:
            os.environ.pop(name, None)
        else:
            os.environ[name] = value


def _measured(rounds: int) -> Iterator[Measured]:
    python = sys.executable
    demo = str(demo_folder() / "bookmobile.yaml")
    nothing_but = [python, "-c", "import prompt_toolkit"]
    child(nothing_but, 1)
    bare, _ = child(nothing_but, rounds)
    yield Measured(PART, "bare interpreter with prompt_toolkit", bare, "s")
    for what, args, goal in (
        ("--help", ["--help"], None),
        ("decide", ["decide", demo], 0.35),
        ("decide --json", ["decide", demo, "--json"], 0.35),
        ("decide --one-engine", ["decide", demo, "--one-engine"], None),
    ):
        command = [python, *_RUN, *args]
        child(command, 1)
        processor, clock = child(command, rounds)
        yield Measured(PART, f"{what}: processor", processor, "s", goal=goal)
        yield Measured(PART, f"{what}: on the clock", clock, "s", goal=goal)
        if goal is not None:
            yield Measured(PART, f"{what}: so many times bare", processor / bare, "times", goal=3)
    first_prompt()
    found = [first_prompt() for _ in range(rounds)]
    processor, clock = (min(times) for times in zip(*found, strict=True))
    yield Measured(PART, "first chat prompt: processor", processor, "s", goal=0.30)
    yield Measured(PART, "first chat prompt: on the clock", clock, "s", goal=0.30)
    yield Measured(PART, "first chat prompt: so many times bare", processor / bare, "times", goal=3)


def first_prompt() -> tuple[float, float]:
    """Seconds of processor and on the clock until the chat has asked its first question."""
    with tempfile.TemporaryDirectory() as place:
        began = time.perf_counter()
        number, terminal = pty.fork()
        if number == 0:
            os.environ["PREPWRIGHT_STORE"] = str(Path(place) / "shop.db")
            os.environ["TERM"] = "xterm"
            os.execv(sys.executable, [sys.executable, *_RUN, "chat", "NEW-1"])
        seen = b""
        try:
            while _FIRST not in seen:
                ready, _, _ = select.select([terminal], [], [], _PATIENCE)
                if not ready:
                    raise SystemExit(f"the chat asked nothing: {seen[-500:]!r}")
                seen += os.read(terminal, 65536)
            clock = time.perf_counter() - began
            with open(f"/proc/{number}/schedstat", encoding="ascii") as file:
                processor = int(file.read().split()[0]) / 1e9
        finally:
            os.kill(number, signal.SIGKILL)
            os.waitpid(number, 0)
            os.close(terminal)
    return processor, clock
