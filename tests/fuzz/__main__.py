"""Feeds the program bad input for as long as is asked: `python -m tests.fuzz --inputs 1000000`.

Inputs are good ones spoilt: job files, files of rules, shops, languages and reports, tables of
readings, answers, whole conversations, exports, command lines; and cars told at random. Each must
end in an answer or in one error told in words, in good time and in bounded memory. How many are
taken, and not refused, is told of each kind. What goes wrong is printed and kept under
tests/fuzz/found, where the test suite feeds it again. Ends with 1 where anything went wrong.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import sys
import time
from collections.abc import Sequence

from tests.fuzz.running import Fed, Finding, keep, limited_memory, run
from tests.fuzz.target import Target
from tests.fuzz.targets import TARGETS

CHUNK = 2_000
"""Inputs one process feeds before it is replaced, so that what it kept in memory shows."""

_BY_NAME = {target.name: target for target in TARGETS}


def _chunk(told: tuple[str, int, int]) -> tuple[str, int, int, float, Fed]:
    name, count, seed = told
    target = _BY_NAME[name]
    before, began = _resident(), time.process_time()
    with limited_memory():
        fed = run(target, count, seed)
    return name, count, _resident() - before, time.process_time() - began, fed


def _resident() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _work(targets: Sequence[Target], inputs: int, seed: int) -> list[tuple[str, int, int]]:
    whole = sum(target.share for target in targets)
    work: list[tuple[str, int, int]] = []
    for target in targets:
        left = max(1, round(inputs * target.share / whole))
        size = max(1, round(CHUNK * min(1.0, target.share * 10)))
        while left > 0:
            work.append((target.name, min(size, left), seed * 1_000_003 + len(work)))
            left -= size
    return work


def main(args: Sequence[str] | None = None) -> int:
    """Feed inputs on all processors and print what came of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--inputs", type=int, default=20_000, help="how many, over all targets")
    parser.add_argument("--target", choices=sorted(_BY_NAME), action="append")
    parser.add_argument("--seed", type=int, default=1, help="another seed draws other inputs")
    parser.add_argument("--processes", type=int, default=multiprocessing.cpu_count())
    options = parser.parse_args(args)
    targets = [each for each in TARGETS if not options.target or each.name in options.target]
    work = _work(targets, options.inputs, options.seed)
    fed: dict[str, int] = {}
    taken: dict[str, int] = {}
    spent: dict[str, float] = {}
    grown: dict[str, int] = {}
    found: dict[str, Finding] = {}
    total, began = sum(count for _, count, _ in work), time.monotonic()
    with multiprocessing.Pool(options.processes, maxtasksperchild=20) as pool:
        for name, count, memory, seconds, came in pool.imap_unordered(_chunk, work):
            fed[name] = fed.get(name, 0) + count
            taken[name] = taken.get(name, 0) + came.taken
            spent[name] = spent.get(name, 0.0) + seconds
            grown[name] = max(grown.get(name, 0), memory)
            for finding in came.findings:
                if found.setdefault(finding.signature, finding) is finding:
                    print(f"\n{finding.signature}\n    kept as {keep(finding)}", flush=True)
            if sys.stderr.isatty():
                done = sum(fed.values())
                sys.stderr.write(f"\r{done:,} of {total:,}, {time.monotonic() - began:.0f} s ")
    for name in fed:
        print(
            f"{name:10} {fed[name]:9,} inputs, {taken[name] / fed[name]:4.0%} taken, "
            f"{spent[name] / fed[name] * 1e3:8.3f} ms each, "
            f"memory grew by {grown[name] / 2**20:4.0f} MiB at most"
        )
    print(
        f"{sum(fed.values()):,} inputs in {time.monotonic() - began:.0f} s, {len(found)} findings"
    )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
