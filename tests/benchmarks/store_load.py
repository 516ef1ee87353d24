"""A store under load: `python tests/benchmarks/store_load.py [--seconds 600] [--jobs 100000]`.

Ten terminals at one store, and the commands on a store of very many jobs. What is kept is checked,
what it takes is printed; nothing fails for being slow. A store of 100,000 decided jobs takes some
minutes to make and about 4 GB in the folder for temporary files.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

from engine.facts import JobFacts
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import Draft, EntryKind, Store, opening, verify
from engine.trail.deciding import deciding
from tests.unit.trail_sample import keep_ruleset

COMMAND = Path(sys.executable).with_name("prepwright")
TERMINALS = 10
GOAL_SECONDS = 0.3
"""For `jobs`, `next` and `why` as whole processes on a quiet machine."""

_AT_ONCE = 1_000
_NOTED = re.compile(r"Noted by .*, entry ([0-9]+): (.*)")


# --- ten terminals at one store ---------------------------------------------------------------


def ten_terminals(path: Path, seconds: float, terminals: int = TERMINALS) -> dict[int, str]:
    """Work at one store from that many processes; what each was told is kept, by entry number.

    Every third is the installed command, run again and again; the others hold the store open.
    """
    with Store.open(path) as store:
        store.append(*(opening(JobFacts(f"BM-{number}"), "Kim") for number in range(terminals)))
    accepted: dict[int, str] = {}
    with ProcessPoolExecutor(terminals, mp_context=get_context("spawn")) as pool:
        begun = [
            pool.submit(_by_command if number % 3 == 2 else _by_library, path, number, seconds)
            for number in range(terminals)
        ]
        for each in begun:
            for entry, text in each.result().items():
                if entry in accepted:
                    raise AssertionError(f"two terminals were told that entry {entry} is theirs")
                accepted[entry] = text
    return accepted


def _by_library(path: Path, number: int, seconds: float) -> dict[int, str]:
    accepted: dict[int, str] = {}
    until = time.monotonic() + seconds
    with Store.open(path) as store:
        while time.monotonic() < until or not accepted:
            texts = [f"{number}.{len(accepted)}.{part}" for part in range(len(accepted) % 3 + 1)]
            last = store.last(f"BM-{number}")
            added = store.append(
                *(Draft(EntryKind.NOTE, "Lee", {"text": text}, f"BM-{number}") for text in texts),
                expected_last=last,
            )
            accepted |= {entry.sequence: text for entry, text in zip(added, texts, strict=True)}
            time.sleep(0.01)
    return accepted


def _by_command(path: Path, number: int, seconds: float) -> dict[int, str]:
    accepted: dict[int, str] = {}
    until = time.monotonic() + seconds
    while time.monotonic() < until or not accepted:
        text = f"{number}.{len(accepted)} by command"
        words = ("note", f"BM-{number}", text, "--by", "Ada", "--store", str(path))
        done = subprocess.run([COMMAND, *words], capture_output=True, text=True, check=True)
        told = _NOTED.search(done.stdout)
        assert told is not None, done.stdout
        accepted[int(told[1])] = told[2]
    return accepted


def missing(path: Path, accepted: dict[int, str]) -> list[int]:
    """Entries that terminals were told are kept, and are not there as they were."""
    with Store.open(path, read_only=True) as store:
        kept = {entry.sequence: entry.payload.get("text") for entry in store.entries()}
    return [number for number, text in accepted.items() if kept.get(number) != text]


# --- very many jobs ---------------------------------------------------------------------------


def many_jobs(path: Path, count: int) -> None:
    """Fill a store with decided jobs of one panel each, in turn those of the bookmobile."""
    ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)
    kinds = list(_one_panel_each(ruleset))
    with Store.open(path) as store:
        keep_ruleset(store, supplied_ruleset_folder(), "Kim")
        for start in range(0, count, _AT_ONCE):
            drafts: list[Draft] = []
            for number in range(start, min(count, start + _AT_ONCE)):
                facts, decision = kinds[number % len(kinds)]
                drafts += _named(f"BM-{number}", facts, decision)
            store.append(*drafts)


def _one_panel_each(ruleset: RuleSet) -> Iterator[tuple[JobFacts, Draft]]:
    demo = read_job(demo_folder() / "bookmobile.yaml", ruleset)
    for sheet in demo.panels.values():
        facts = replace(demo, panels={"roof": sheet})
        yield facts, deciding(ruleset, facts, decide(ruleset, facts), "Kim")


def _named(job: str, facts: JobFacts, decision: Draft) -> tuple[Draft, Draft]:
    """The same job under another name; the name goes into nothing else of a decision."""
    payload = dict(decision.payload)
    for part in ("inputs", "outcome"):
        payload[part] = {**payload[part], "job": job}
    return opening(replace(facts, job=job), "Kim"), replace(decision, payload=payload, job=job)


def command_seconds(path: Path, *words: str) -> tuple[float, float]:
    """Elapsed and processor seconds of the installed command on a store, the best of five."""
    best = (float("inf"), float("inf"))
    for _ in range(5):
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        subprocess.run(
            [COMMAND, *words],
            env={**os.environ, "PREPWRIGHT_STORE": str(path)},
            stdout=subprocess.DEVNULL,
            check=True,
        )
        elapsed, after = (
            time.perf_counter() - began,
            resource.getrusage(resource.RUSAGE_CHILDREN),
        )
        used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        best = (min(best[0], elapsed), min(best[1], used))
    return best


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=600.0)
    asked.add_argument("--jobs", type=int, default=100_000)
    asked.add_argument("--store", type=Path, help="a store of very many jobs made before")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="prepwright-") as place:
        path = Path(place) / "terminals.db"
        accepted = ten_terminals(path, given.seconds)
        lost = missing(path, accepted)
        with Store.open(path, read_only=True) as store:
            sound, entries = verify(store).sound, store.count()
        print(
            f"{TERMINALS} terminals, {given.seconds:g} s: {len(accepted):,} entries accepted, "
            f"{len(lost)} missing, {entries:,} in the store, chain {'sound' if sound else 'BROKEN'}"
        )
        path = given.store or Path(place) / "many.db"
        if given.store is None:
            began = time.process_time()
            many_jobs(path, given.jobs)
            print(f"{given.jobs:,} jobs made in {time.process_time() - began:.0f} s of processor")
        small = Path(place) / "few.db"
        many_jobs(small, 10)
        print(f"{'command':24} {'elapsed s':>10} {'processor s':>12} {'on ten jobs':>12}")
        for words in (("jobs",), ("next", "BM-7"), ("why", "BM-7", "roof")):
            elapsed, used = command_seconds(path, *words)
            _, few = command_seconds(small, *words)
            print(f"{' '.join(words):24} {elapsed:10.3f} {used:12.3f} {few:12.3f}")
        print(f"goal: {GOAL_SECONDS} s elapsed on a quiet machine")


if __name__ == "__main__":
    main()
