"""A small rule set edited in ways a shop lead would, for comparing before with after."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path

from engine.document import parse_document
from engine.facts import JobFacts
from engine.jobfile import parse_job
from engine.ruleset.load import load_ruleset
from engine.ruleset.model import RuleSet

RULES = Path(__file__).with_name("small_ruleset")

Edit = tuple[str, str, str]
"""A file of the rule set, a text in it, and what is written in its place."""

LIMIT_LOWER: Edit = ("limits.yaml", "{value: 12 mil,", "{value: 9 mil,")
LIMIT_HIGHER: Edit = ("limits.yaml", "{value: 12 mil,", "{value: 16 mil,")


def edited(into: Path, *edits: Edit) -> Path:
    """A copy of the small rule set with these edits."""
    shutil.copytree(RULES, into)
    for file, before, after in edits:
        path = into / file
        text = path.read_text("utf-8")
        assert before in text, (file, before)
        path.write_text(text.replace(before, after), "utf-8")
    return into


def loaded(into: Path, *edits: Edit) -> RuleSet:
    return load_ruleset(edited(into, *edits))


def a_job(ruleset: RuleSet, films: Mapping[str, str], **car: str) -> JobFacts:
    """A job with panels of these films; `film: unknown` leaves one without readings."""
    lines = ["prepwright: job/1", "job: BM-7", "shop: {air-temperature: 21 degC}"]
    told = {"year": "1996", "washed": "yes", "topcoat": "base-and-clear", **car}
    lines.append("car: {" + ", ".join(f"{fact}: {value}" for fact, value in told.items()) + "}")
    lines.append("panels:")
    for panel, film in films.items():
        readings = "" if film == "unknown" else f", film: {{gauge: dual, readings: [{film}]}}"
        lines.append(f"  {panel}: {{substrate: steel, defects: [none]{readings}}}")
    return parse_job(parse_document("\n".join(lines) + "\n", "job"), ruleset)


def git(folder: Path, *arguments: str) -> None:
    """Run git as somebody who has set nothing up."""
    plain = ("-c", "user.name=Kim", "-c", "user.email=kim@example.org", "-c", "commit.gpgsign=no")
    subprocess.run(["git", *plain, *arguments], cwd=folder, check=True, capture_output=True)
