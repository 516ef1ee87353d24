"""Plans made by the small rule set of plan_ruleset, for tests."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path

from engine.decision import Decision
from engine.document import parse_document
from engine.jobfile import parse_job
from engine.plan import Plan, Progress, make_plan
from engine.plan.merge import Subject
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset

FOLDER = Path(__file__).parent / "plan_ruleset"
MONDAY = datetime(2025, 3, 3, 8)
"""A Monday; the Wednesday after it is a day off in the small rule set."""


@cache
def small() -> RuleSet:
    return load_ruleset(FOLDER)


def changed(folder: Path, **files: Mapping[str, str]) -> RuleSet:
    """The small rule set with texts replaced by file, such as `steps/all`."""
    shutil.copytree(FOLDER, folder)
    for name, change in files.items():
        path = folder / f"{name}.yaml"
        text = path.read_text("utf-8")
        for old, new in change.items():
            assert old in text, old
            text = text.replace(old, new)
        path.write_text(text, "utf-8")
    return load_ruleset(folder)


def decided(
    panels: str, shop: str = "surface-temperature: 20 degC", *, ruleset: RuleSet
) -> Decision:
    """The decision on a job whose panels and shop are given as YAML mappings without braces."""
    text = (
        f"prepwright: job/1\njob: T-1\nshop: {{{shop}}}\ncar: {{topcoat: single-stage}}\n"
        f"panels: {{{panels}}}\n"
    )
    return decide(ruleset, parse_job(parse_document(text, "job.yaml"), ruleset))


def planned(
    panels: str,
    shop: str = "surface-temperature: 20 degC",
    *,
    ruleset: RuleSet | None = None,
    done: Mapping[tuple[str, Subject], datetime | None] | None = None,
    released: frozenset[tuple[str, Subject]] = frozenset(),
    now: datetime | None = None,
    start: datetime | None = MONDAY,
) -> Plan:
    """The plan of such a job."""
    chosen = ruleset or small()
    return make_plan(
        chosen,
        decided(panels, shop, ruleset=chosen),
        progress=Progress(done or {}, released, now),
        start=start,
    )
