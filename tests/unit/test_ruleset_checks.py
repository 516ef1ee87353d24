"""Each folder of bad_checks loads, and the check says exactly what is expected of it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cli.output.check_text import check_json, check_text
from engine.ruleset import load_ruleset
from engine.ruleset.check import check_ruleset

HERE = Path(__file__).parent
BAD = sorted(path for path in (HERE / "bad_checks").iterdir() if path.is_dir())


def sound(folder: Path) -> Path:
    """The small rule set with cases for every rule; the check finds nothing in it."""
    for source in ("small_ruleset", "sound_checks"):
        shutil.copytree(HERE / source, folder, dirs_exist_ok=True)
    return folder


def spoil(bad: Path, folder: Path) -> Path:
    """The sound rule set with the files of `bad`, or below them where they are a shop's."""
    sound(folder / "supplied" if (bad / "shop.yaml").exists() else folder)
    shutil.copytree(bad, folder, dirs_exist_ok=True)
    (folder / "expected.txt").unlink(missing_ok=True)
    return folder


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.name)
def test_findings_are_exactly_those_expected(bad: Path, tmp_path: Path) -> None:
    checked = check_ruleset(load_ruleset(spoil(bad, tmp_path / "set")))
    assert check_text(checked) == (bad / "expected.txt").read_text("utf-8")


def test_a_sound_rule_set_has_no_finding(tmp_path: Path) -> None:
    checked = check_ruleset(load_ruleset(sound(tmp_path)))
    assert checked.findings == ()
    assert checked.passed
    assert checked.tests == checked.tests_seen_both_ways == 9


def test_warnings_do_not_fail(tmp_path: Path) -> None:
    checked = check_ruleset(load_ruleset(spoil(HERE / "bad_checks" / "unused", tmp_path / "set")))
    assert checked.warnings
    assert not checked.errors
    assert checked.passed


def test_a_step_without_a_time_of_its_own_is_noticed(tmp_path: Path) -> None:
    folder = sound(tmp_path)
    labour = folder / "labour.yaml"
    kept = [line for line in labour.read_text("utf-8").splitlines() if "sand-panel" not in line]
    labour.write_text("\n".join(kept), "utf-8")
    found = check_ruleset(load_ruleset(folder)).findings
    assert [(each.code, each.names) for each in found] == [("step-without-time", ("sand-panel",))]


def test_errors_fail(tmp_path: Path) -> None:
    bad = HERE / "bad_checks" / "same-logic"
    assert not check_ruleset(load_ruleset(spoil(bad, tmp_path / "set"))).passed


def test_a_reviewed_finding_may_stand(tmp_path: Path) -> None:
    folder = spoil(HERE / "bad_checks" / "same-logic", tmp_path / "set")
    with (folder / "reviewed.yaml").open("a", encoding="utf-8") as file:
        file.write("- {finding: same-logic, names: [not-washed, dirty], why: Two reasons.}\n")
    codes = [finding.names for finding in check_ruleset(load_ruleset(folder)).findings]
    assert codes == [("within", "film-within-limit")]


def test_json_says_the_same_as_the_text(tmp_path: Path) -> None:
    checked = check_ruleset(
        load_ruleset(spoil(HERE / "bad_checks" / "case-failed", tmp_path / "set"))
    )
    told = check_json(checked)
    assert told["format"] == "prepwright/check/1"
    assert (told["ok"], told["errors"], told["warnings"]) == (False, 2, 0)
    first = told["findings"][0]
    assert (first["code"], first["severity"]) == ("case-failed", "error")
    assert (first["file"], first["line"], first["column"]) == ("cases/bad.yaml", 2, 3)
    assert all(line in check_text(checked) for line in first["more"])
    assert told["cases"] == {"passed": 8, "all": 10}
