"""The chat killed at random moments: what it said it took is in the record.

Five kills by default, two hundred with PREPWRIGHT_LONG=1.
"""

from __future__ import annotations

import os
import random
import subprocess
import time
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment

from engine.trail import Store, job_facts, verify

KILLS = 200 if os.environ.get("PREPWRIGHT_LONG") == "1" else 5
ANSWERS = ["roof, tailgate", "hybrid", *(f"change car year: {year}" for year in range(1960, 2020))]


NEXT = "Is the vehicle driven"
"""What is asked once the panels are taken."""


@pytest.mark.parametrize("seed", range(KILLS))
def test_no_accepted_answer_is_lost(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    store = tmp_path / "store.db"
    process = subprocess.Popen(
        [str(COMMAND), "chat", "BM-7", "--one-engine"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=clean_environment(PREPWRIGHT_STORE=str(store), PYTHONUNBUFFERED="1"),
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    # Closed, so that a chat that says less than is waited for ends by itself.
    process.stdin.write("\n".join(ANSWERS) + "\n")
    process.stdin.close()
    said: list[str] = []
    until = chance.randrange(12, 150)
    for line in process.stdout:
        said.append(line.strip())
        if len(said) >= until:
            break
    time.sleep(chance.random() / 50)
    process.kill()
    said += [line.strip() for line in process.stdout]
    process.wait()
    years = [line.rpartition(": ")[2] for line in said if line.startswith("Model year: ")]
    with Store.open(store, read_only=True) as opened:
        assert verify(opened).sound
        if not any(NEXT in line for line in said) and not opened.last("BM-7"):
            # Killed before it had taken anything.
            return
        facts = job_facts(opened, "BM-7")
    assert set(facts.panels) == {"roof", "tailgate"}
    if years:
        kept = facts.car["car.year"].value
        assert kept is not None
        assert int(kept) >= int(years[-1])  # type: ignore[call-overload]
