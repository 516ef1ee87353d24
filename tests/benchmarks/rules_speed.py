"""How long a check takes after changing a rule: `python tests/benchmarks/rules_speed.py`.

Processor time is measured, so that a busy machine changes little. Nothing fails here.
"""

from __future__ import annotations

import time

from engine.ruleset import load_ruleset
from engine.ruleset.check import check_ruleset
from engine.supplied import supplied_ruleset_folder

GOAL_SECONDS = 1.0


def main() -> None:
    """Measure reading the supplied set and running all its worked cases; the best of three."""
    taken = []
    for _ in range(3):
        start = time.process_time()
        ruleset = load_ruleset(supplied_ruleset_folder())
        checked = check_ruleset(ruleset)
        taken.append(time.process_time() - start)
    print(
        f"{len(ruleset.rules)} rules, {len(checked.results)} worked cases: read and checked in "
        f"{min(taken):.2f} s of processor time (goal {GOAL_SECONDS:g} s)"
    )


if __name__ == "__main__":
    main()
