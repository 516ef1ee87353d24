"""`prepwright rules check`: what a shop lead runs after changing a rule."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest

from engine.supplied import supplied_ruleset_folder


@pytest.fixture
def own(tmp_path: Path) -> Path:
    return copytree(supplied_ruleset_folder(), tmp_path / "own")


def changed(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")


def test_the_supplied_rules_are_in_order(prepwright):
    result = prepwright("rules", "check")
    assert (result.returncode, result.stderr) == (0, b"")
    assert b"no problem found" in result.stdout.splitlines()[-1]


def test_a_changed_limit_fails_cases_that_say_by_how_much(prepwright, own):
    changed(own / "limits.yaml", "value: 12 mil", "value: 11 mil")
    result = prepwright("rules", "check", own)
    assert (result.returncode, result.stderr) == (1, b"")
    text = result.stdout.decode()
    assert "[case-failed]" in text
    assert "cases/20-film.yaml:" in text
    assert "film-over-limit should stay quiet, but it fires" in text
    assert "typical film at most 11 mil" in text
    assert "away" in text


def test_a_rule_without_cases_is_named_with_its_place(prepwright, own):
    (own / "rules" / "99-own.yaml").write_text(
        """\
- rule: our-own
  about: panel
  when: {part: used}
  then: {hold: sign-off}
  because: The shop lead looks at every used part.
  source: {kind: shop}
""",
        "utf-8",
    )
    result = prepwright("rules", "check", "--ruleset", own)
    assert result.returncode == 1
    text = result.stdout.decode()
    assert "rules/99-own.yaml:1:3: no passing case fires `our-own` [never-fired]" in text
    assert "no near miss of `our-own` [no-near-miss]" in text


def test_a_mistake_in_a_file_ends_with_3_and_its_place(prepwright, own):
    changed(own / "rules" / "20-film.yaml", "film.typical", "film.typicel")
    result = prepwright("rules", "check", own)
    assert (result.returncode, result.stdout) == (3, b"")
    text = result.stderr.decode()
    assert "rules/20-film.yaml:" in text
    assert "`film.typical`" in text
    assert "Traceback" not in text


def test_naming_the_folder_twice_is_wrong_usage(prepwright, own):
    assert prepwright("rules", "check", own, "--ruleset", own).returncode == 2
