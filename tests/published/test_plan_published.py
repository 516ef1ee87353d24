"""Plans against outside references: a handbook relation, and critical paths solved by scipy.

Litres: the spreading-rate relation as coatings handbooks print it (read in excerpts), with
transfer efficiency as South Coast AQMD defines it (mass of solids on the part over mass sprayed,
read). Calendar: the critical path method (Kelley and Walker 1959, from memory) as a linear
programme solved by scipy.
"""

from __future__ import annotations

import random
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from plan_jobs import changed, planned, small

from engine.plan.calendar import Job, lay
from engine.plan.worktime import WorkTime
from engine.ruleset.work import OpenTime


def test_litres_of_a_whole_car_by_the_handbook_relation(tmp_path: Path) -> None:
    """20 m2 at 50 um, 45 % solids, 65 % landed: 20 x 50 / (10 x 45 x 0.65) = 3.419 L."""
    ruleset = changed(
        tmp_path / "set",
        limits={"value: 10 %": "value: 0 %"},
        **{
            "tables/plan": {"[any, 60]": "[any, 65]"},
            "products": {
                "    volume-solids: 50 %\n    parts: {paint: 2, hardener: 1}\n"
                "    thinner: {name: thinner, percent: 10 %, of: whole-mix}\n": (
                    "    volume-solids: 45 %\n    parts: {paint: 2, hardener: 1}\n"
                ),
                "cans: {paint: [0.5 L, 1 L], hardener: [0.25 L], thinner: [1 L]}": (
                    "cans: {paint: [0.5 L, 1 L], hardener: [0.25 L]}"
                ),
                "if-sanded: [{product: paint, film: 60 um}]": (
                    "if-sanded: [{product: paint, film: 50 um}]"
                ),
            },
        },
    )
    plan = planned("body: {finish: dull, area: 20 m2}", ruleset=ruleset)
    paint = next(each for each in plan.materials if each.product.id == "paint")
    assert float(paint.amount.high) == pytest.approx(3.419, abs=0.0005)
    assert float(paint.amount.high) == pytest.approx(20 * 50 / (10 * 45 * 0.65), rel=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_with_people_enough_every_task_begins_on_its_critical_path(seed: int) -> None:
    """Open day and night with people for all, earliest starts are those of the linear programme."""
    chance = random.Random(seed)
    count = chance.randint(3, 14)
    jobs: list[Job] = []
    for number in range(count):
        after = chance.sample(range(number), min(number, chance.randint(0, 3)))
        jobs.append(
            Job(
                key=str(number),
                after=tuple(map(str, after)),
                work=chance.randint(1, 400),
                wait=chance.choice([0, 45, 300]),
            )
        )
    shop = small().labour
    assert shop is not None
    always = replace(shop, week=((OpenTime(0, 24 * 60),),) * 7, closed=frozenset())
    layout = lay(jobs, WorkTime(always, None), people=count, booths=0)

    rows, bounds = [], []
    for job in jobs:
        for key in job.after:
            before = jobs[int(key)]
            row = np.zeros(count)
            row[int(key)], row[int(job.key)] = 1, -1
            rows.append(row)
            bounds.append(-((before.work or 0) + (before.wait or 0)))
    solved = linprog(
        np.ones(count),
        A_ub=np.array(rows) if rows else None,
        b_ub=np.array(bounds) if rows else None,
        bounds=[(0, None)] * count,
    )
    assert solved.success
    starts = [layout.laid[job.key].start for job in jobs]
    assert starts == pytest.approx(list(solved.x), abs=1e-6)
