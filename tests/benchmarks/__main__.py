"""Measures speed and memory: `python -m tests.benchmarks`, from the folder of the checkout.

Prints a table, and with `--json FILE` writes the same numbers for programs. Nothing fails for being
slow: the numbers stand beside their goals. Peers come with `pip install -e '.[bench]'`.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder
from tests.benchmarks import bulk, growth, loading, one_decision, starting, waiting
from tests.benchmarks.measuring import Measured

_PEERS = ("clipspy", "zen-engine", "durable-rules")
_WIDTH = 78


def main() -> None:
    """Measure the parts asked for, one after the other in this process."""
    asked = _arguments()
    ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)
    about = _about(ruleset)
    for name, value in about.items():
        print(f"{name}: {value}")
    found: list[Measured] = []
    for part, measure in _parts(asked).items():
        if part not in asked.parts:
            continue
        began = time.perf_counter()
        print(f"\n{part}", flush=True)
        for one in measure(ruleset):
            found.append(one)
            print(_line(one), flush=True)
        print(f"  ({time.perf_counter() - began:.0f} s)")
    if asked.json is not None:
        written = {**about, "measured": [one.as_json() for one in found]}
        asked.json.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")


def _parts(asked: argparse.Namespace) -> dict[str, Callable[[RuleSet], Iterator[Measured]]]:
    return {
        one_decision.PART: lambda ruleset: one_decision.measure(ruleset, asked.panels),
        growth.PART: lambda ruleset: growth.measure(
            ruleset,
            tuple(size for size in growth.RULES if size <= asked.most_rules),
            tuple(size for size in growth.PANELS if size <= asked.most_panels),
        ),
        waiting.PART: lambda ruleset: waiting.measure(ruleset, asked.panels),
        starting.PART: lambda _: starting.measure(),
        bulk.PART: lambda ruleset: bulk.measure(ruleset, asked.jobs, asked.decisions),
        loading.PART: lambda _: loading.measure(),
    }


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    names = [*_parts(argparse.Namespace())]
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(names)}")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the numbers there too")
    parser.add_argument("--panels", type=int, default=one_decision.PANELS, help="of the large job")
    parser.add_argument("--most-rules", type=int, default=max(growth.RULES))
    parser.add_argument("--most-panels", type=int, default=max(growth.PANELS))
    parser.add_argument("--jobs", type=int, default=bulk.JOBS, help="jobs that are replayed")
    parser.add_argument("--decisions", type=int, default=bulk.DECISIONS, help="watched for memory")
    asked = parser.parse_args()
    for part in asked.parts:
        if part not in names:
            parser.error(f"there is no part `{part}`; there are {', '.join(names)}")
    asked.parts = asked.parts or names
    return asked


def _about(ruleset: RuleSet) -> dict[str, Any]:
    return {
        "date": datetime.now(UTC).date().isoformat(),
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "machine": f"{platform.machine()}, {_processor()}",
        "rules": f"{ruleset.name} {ruleset.version}, {len(ruleset.rules)} rules",
        "peers": ", ".join(f"{name} {_version(name)}" for name in _PEERS),
    }


def _processor() -> str:
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:
            models = [line.partition(":")[2].strip() for line in file if "model name" in line]
    except OSError:
        return platform.processor()
    return f"{len(models)} x {models[0]}" if models else platform.processor()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "(not installed)"


def _line(one: Measured) -> str:
    shown = f"{one.value:,.2f}" if one.value < 100 else f"{one.value:,.0f}"
    goal = ""
    if one.goal is not None:
        bound = "at most" if one.at_most else "at least"
        goal = f"  goal {bound} {one.goal:g}: {'met' if one.met else 'MISSED'}"
    note = f"  ({one.note})" if one.note else ""
    return f"  {one.what:<{_WIDTH}} {shown:>9} {one.unit}{goal}{note}"


if __name__ == "__main__":
    sys.exit(main())
