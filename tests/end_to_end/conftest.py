"""Runs the installed command the way a person or a program would."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from installed import COMMAND, SAMPLE, clean_environment
from terminal import Terminal

Result = subprocess.CompletedProcess[bytes]
Prepwright = Callable[..., Result]


@pytest.fixture(scope="session")
def prepwright() -> Prepwright:
    """Runs `prepwright ARGS...`; keywords go to the environment, `given` to standard input."""

    def run(*args: object, given: bytes = b"", **environment: str) -> Result:
        return subprocess.run(
            [str(COMMAND), *map(str, args)],
            input=given,
            capture_output=True,
            env=clean_environment(**environment),
            timeout=60,
            check=False,
        )

    return run


@pytest.fixture
def sample(tmp_path: Path) -> Path:
    """A job with one sound panel."""
    file = tmp_path / "BM-7.yaml"
    file.write_text(SAMPLE, "utf-8")
    return file


@pytest.fixture
def undecided(tmp_path: Path) -> Path:
    """The same job without film readings."""
    file = tmp_path / "undecided.yaml"
    file.write_text(
        "".join(line for line in SAMPLE.splitlines(keepends=True) if "film:" not in line), "utf-8"
    )
    return file


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    opened = Terminal(tmp_path)
    yield opened
    opened.close()
