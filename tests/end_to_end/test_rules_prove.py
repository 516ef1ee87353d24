"""`prepwright rules prove`, as a shop lead runs it after changing a rule."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from installed import clean_environment

pytest.importorskip("z3")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop that retired the rule for new bare parts and lowered a limit below another."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "shop.yaml").write_text(
        "prepwright: shop/1\nname: own\nbuilds-on: refinish\n", "utf-8"
    )
    (folder / "retired.yaml").write_text(
        "rules: {new-bare-metal-sanded: {by: a, on: 2026-03-01, why: b}}\n", "utf-8"
    )
    (folder / "limits.yaml").write_text(
        "film.overcoat-limit: {value: 9.5 mil, by: a, on: 2026-03-01, why: b}\n", "utf-8"
    )
    return folder


def test_gaps_and_dead_rules_with_the_cars_that_show_them(prepwright, shop, tmp_path):
    cases = tmp_path / "found.yaml"
    result = prepwright("rules", "prove", shop, "--write-cases", cases, "--plain")
    assert (result.returncode, result.stderr) == (1, b"")
    text = result.stdout.decode()
    assert "[gap]" in text
    assert "part: new-bare" in text
    assert "[dead-by-limit]" in text
    assert "film-in-sign-off-band" in text
    assert "Not proved" in text
    (shop / "cases").mkdir()
    (shop / "cases" / "found.yaml").write_text(cases.read_text("utf-8"), "utf-8")
    checked = json.loads(prepwright("rules", "check", shop, "--json").stdout)
    assert "case-failed" not in {finding["code"] for finding in checked["findings"]}


def test_the_supplied_rules_as_data(prepwright):
    result = prepwright("rules", "prove", "--json")
    assert result.returncode == 0
    found = json.loads(result.stdout)
    assert found["format"] == "prepwright/proof/1"
    assert found["ok"]
    assert {finding["severity"] for finding in found["findings"]} <= {"note"}
    assert any(text.startswith("No gap") for text in found["proved"])
    assert found["not_proved"]


def test_a_file_of_cases_is_not_written_over(prepwright, tmp_path):
    file = tmp_path / "mine.yaml"
    file.write_text("mine", "utf-8")
    result = prepwright("rules", "prove", "--write-cases", file)
    assert result.returncode == 2
    assert b"is there already" in result.stderr
    assert file.read_text("utf-8") == "mine"


def test_without_the_solver_it_is_said_what_to_install():
    script = (
        "import sys; sys.modules['z3'] = None; from cli.main import run; "
        "sys.exit(run(['rules', 'prove']))"
    )
    result = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        env=clean_environment(),
        timeout=60,
        check=False,
    )
    assert result.returncode == 2
    assert b"needs the solver z3" in result.stderr
    assert b"z3-solver" in result.stderr
    assert b"Traceback" not in result.stderr
