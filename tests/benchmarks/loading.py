"""How long reading and checking a rule set takes, read anew and from what was kept."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator

from engine.ruleset import load_ruleset
from engine.ruleset.cache import cached_ruleset
from engine.ruleset.check import check_ruleset
from engine.supplied import supplied_ruleset_folder
from tests.benchmarks.measuring import Measured, milliseconds

PART = "loading"
ROUNDS = 3


def measure(rounds: int = ROUNDS) -> Iterator[Measured]:
    """The least of some rounds."""
    folder = supplied_ruleset_folder()
    cold = milliseconds(lambda: load_ruleset(folder, with_cases=False), rounds)[0]
    yield Measured(PART, "read and linked anew", cold, "ms")
    before = os.environ.get("PREPWRIGHT_CACHE")
    with tempfile.TemporaryDirectory() as place:
        os.environ["PREPWRIGHT_CACHE"] = place
        try:
            first = milliseconds(lambda: cached_ruleset(folder), 1)[0]
            yield Measured(PART, "read anew and kept", first, "ms")
            warm = milliseconds(lambda: cached_ruleset(folder), rounds)[0]
            yield Measured(PART, "from what was kept", warm, "ms")
        finally:
            del os.environ["PREPWRIGHT_CACHE"]
            if before is not None:
                os.environ["PREPWRIGHT_CACHE"] = before
    ruleset = load_ruleset(folder)
    read = milliseconds(lambda: load_ruleset(folder), rounds)[0]
    yield Measured(PART, "read anew with its worked cases", read, "ms")
    first = milliseconds(lambda: check_ruleset(ruleset), 1)[0]
    again = milliseconds(lambda: check_ruleset(ruleset), rounds)[0]
    yield Measured(PART, f"checked, {len(ruleset.cases)} worked cases run", first, "ms")
    yield Measured(PART, "checked once more", again, "ms")
