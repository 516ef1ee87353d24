"""Very many decisions, verified and decided again in memory that does not grow."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from engine.reasoning.decide import decide
from engine.trail import Store, opening
from engine.trail.deciding import deciding
from tests.unit.impact_edits import LIMIT_LOWER, edited
from tests.unit.test_trail_replay import RULES, a_job
from tests.unit.trail_sample import SetClock, keep_ruleset

LONG = os.environ.get("PREPWRIGHT_LONG") == "1"
DECISIONS = 100_000 if LONG else 2_000
MOST_GROWTH = 8_000
"""Kilobytes a process may grow between a tenth of the work and its end."""

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="ru_maxrss is read in kilobytes")

READER = """
    import json, resource, sys
    from pathlib import Path
    from engine.impact.stored import stored_impact
    from engine.trail import Store, export_file, verify, verify_export
    from engine.trail.replay import replay

    def peak(who=resource.RUSAGE_SELF):
        return resource.getrusage(who).ru_maxrss

    seen = []
    def progress(done, total):
        seen.append((done / total, peak()))

    def growth():
        early = [kilobytes for share, kilobytes in seen if share >= 0.1][0]
        return peak() - early

    if __name__ == "__main__":
        path, what = Path(sys.argv[1]), sys.argv[2]
        with Store.open(path, read_only=True) as store:
            if what == "verify":
                report = verify(store, progress=progress)
                print(json.dumps([report.entries, report.sound, growth()]))
            elif what == "export":
                export_file(store, path.with_suffix(".json"))
                written = peak()
                report = verify_export(path.with_suffix(".json"))
                print(json.dumps([report.entries, report.sound, peak() - written]))
            elif what == "impact":
                new = Path(sys.argv[3])
                tally = stored_impact(store, new, every=True, workers=2, progress=progress)
                print(json.dumps([tally.jobs, 0 < tally.changed < tally.jobs, growth()]))
            else:
                report = replay(store, workers=int(what), progress=progress)
                print(json.dumps([report.decisions, report.identical, growth()]))
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("bulk") / "shop.db"
    with Store.open(path, clock=SetClock()) as store:
        ruleset = keep_ruleset(store, RULES, "Kim")
        drafts = []
        for index in range(20):
            job = a_job(ruleset, f"BM-{index}", f"{index + 3}.1")
            store.append(opening(job, "Kim"))
            drafts.append(deciding(ruleset, job, decide(ruleset, job), "Kim"))
        for _ in range(DECISIONS // 1_000):
            store.append(*drafts * 50)
    return path


@pytest.mark.parametrize(
    ("what", "entries"),
    [
        ("verify", DECISIONS + 21),
        ("export", DECISIONS + 21),
        ("2", DECISIONS),
        ("impact", DECISIONS),
        pytest.param("1", DECISIONS, marks=pytest.mark.skipif(not LONG, reason="PREPWRIGHT_LONG")),
    ],
)
def test_a_long_record_needs_no_more_memory_than_a_short_one(path, tmp_path, what, entries):
    # A file of its own: processes that are spawned import it again.
    program = tmp_path / "reader.py"
    program.write_text(textwrap.dedent(READER))
    done = subprocess.run(
        [sys.executable, str(program), str(path), what, str(edited(tmp_path / "new", LIMIT_LOWER))],
        capture_output=True,
        text=True,
        timeout=7_200,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    count, sound, growth = json.loads(done.stdout)
    assert (count, sound) == (entries, True)
    assert growth < MOST_GROWTH
    assert Path(path).stat().st_size > 1_000 * DECISIONS
