"""What a way into the program is, and what every one of them shares."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from engine.errors import PrepwrightError, TrailError
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder

UNIT = Path(__file__).parent.parent / "unit"


@dataclass(frozen=True)
class Target:
    """One way in. `feed` tells whether an input was taken; False says it was refused in words.

    `seconds` of processor time are what one input may take before it counts as hanging.
    """

    name: str
    seeds: Callable[[], Sequence[bytes]]
    feed: Callable[[bytes], bool]
    share: float
    seconds: float = 10.0


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@cache
def small() -> RuleSet:
    return load_ruleset(UNIT / "small_ruleset", with_cases=False)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder that is gone afterwards."""
    # In memory where there is such a place: a million small files are hard on a disk.
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as name:
        yield Path(name)


def in_words(error: PrepwrightError | TrailError) -> bool:
    """Check that a refusal is told in words. Gives False, for a target to give back."""
    said = str(error)
    assert said.strip(), f"{error!r} says nothing"
    assert "\x1b" not in said, f"{said!r} carries an escape sequence"
    assert "Traceback" not in said
    return False
