"""How long an impact takes beside replaying: `python tests/benchmarks/impact_speed.py [JOBS]`.

The same decisions of the demonstration's panels, three a job, are decided again by the rules of
their day (`trail replay`) and under a shop's limit of 11 mil (`rules impact`), one after the other
in this process. Processor time is measured, so that a busy machine changes little. Nothing fails
here.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from engine.facts import Told
from engine.impact.stored import stored_impact
from engine.impact.versions import in_folder
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset.shop_folder import new_shop
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import Store, opening
from engine.trail.deciding import deciding
from engine.trail.replay import replay
from tests.unit.trail_sample import keep_ruleset

GOAL_SECONDS = 600
DIFFERENT = 100
LIMIT = "film.overcoat-limit: {value: 11 mil, by: the shop lead, on: 2026-03-01, why: Cracks.}\n"


def filled(path: Path, jobs: int) -> None:
    """A store of decided jobs with films around the limits."""
    chance = random.Random(7)
    with Store.open(path) as store, store.writing():
        ruleset = keep_ruleset(store, supplied_ruleset_folder(), "Kim")
        demo = read_job(demo_folder() / "bookmobile.yaml", ruleset)
        drafts = []
        for _ in range(DIFFERENT):
            panels = {name: dict(demo.panels[name]) for name in chance.sample([*demo.panels], 3)}
            for sheet in panels.values():
                if "film.readings" in sheet:
                    film = Fraction(chance.randint(40, 135), 10) * Fraction(254, 10)
                    spots = tuple((film + spot,) for spot in range(3))
                    sheet["film.readings"] = Told(spots, "as read", unit="mil")
            job = replace(demo, panels=panels)
            drafts.append((job, deciding(ruleset, job, decide(ruleset, job), "Kim")))
        for index in range(jobs):
            job, draft = drafts[index % DIFFERENT]
            name = f"BM-{index}"
            store.append(opening(replace(job, job=name), "Kim"), replace(draft, job=name))


def main() -> None:
    """Measure both over the same store."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        filled(folder / "shop.db", jobs)
        new_shop(folder / "yard")
        (folder / "yard" / "limits.yaml").write_text(LIMIT, "utf-8")
        new = in_folder(folder / "yard", folder / "new")
        with Store.open(folder / "shop.db", read_only=True) as store:
            start = time.process_time()
            report = replay(store, workers=1)
            replayed = (time.process_time() - start) / report.decisions
            start = time.process_time()
            tally = stored_impact(store, new.folder, workers=1)
            compared = (time.process_time() - start) / tally.jobs
    print(
        f"{tally.jobs} decisions of 3 panels, {tally.changed} of them changed: replayed in "
        f"{replayed * 1e3:.1f} ms each, compared in {compared * 1e3:.1f} ms each of processor "
        f"time; 100,000 on two cores in {compared * 1e5 / 2:.0f} s (goal {GOAL_SECONDS} s)"
    )


if __name__ == "__main__":
    main()
