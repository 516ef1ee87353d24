"""Each folder of bad_rulesets changes the small rule set in one way and says what must be told."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

import engine.document
import engine.ruleset
import engine.yamlstrict
from engine.errors import RuleSetError
from engine.ruleset import load_ruleset

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"
BAD = sorted(path for path in (HERE / "bad_rulesets").iterdir() if path.is_dir())
BESIDE = {"expected.txt", "without.txt"}


def spoil(bad: Path, folder: Path) -> Path:
    """The small rule set with the files of `bad` put in and those it does without taken out."""
    shutil.copytree(SMALL, folder)
    for file in bad.rglob("*"):
        if file.is_file() and file.name not in BESIDE:
            target = folder / file.relative_to(bad)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(file, target)
    without = bad / "without.txt"
    for name in without.read_text("utf-8").split() if without.exists() else ():
        path = folder / name
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    return folder


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.name)
def test_message_is_exactly_the_one_expected(bad: Path, tmp_path: Path) -> None:
    folder = spoil(bad, tmp_path / "set")
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(folder)
    assert f"{refused.value.format_message()}\n" == (bad / "expected.txt").read_text("utf-8")


def expected_texts(*folders: str) -> str:
    return "".join(
        file.read_text("utf-8")
        for folder in folders or ("bad_rulesets",)
        for file in sorted((HERE / folder).glob("*/expected.txt"))
    )


def codes_in_source() -> set[str]:
    files = [*Path(engine.ruleset.__file__).parent.glob("*.py")]
    files += [Path(module.__file__) for module in (engine.document, engine.yamlstrict)]
    source = "".join(path.read_text("utf-8") for path in files)
    called = re.findall(
        r"(?:\.add|Problem|_problem|_refuse|_add|error|warning|Finding)\(\s*f?\"([a-z0-9{}-]+)\"",
        source,
    )
    codes = {code for code in called if "{" not in code}
    codes |= {f"unknown-{what}" for what in re.findall(r"\.unknown\(\s*\"(\w+)\"", source)}
    codes |= {f"unknown-{what}" for what in ("hold", "caution", "step")}
    codes |= {f"reckoning-lacks-{what}" for what in ("fact", "limit", "table")}
    return codes


OF_JOB_FILES = {"no-such-file", "not-a-file"}
"""Codes for a single file that was named; a rule set is a folder and lacks or has files."""


def test_every_diagnostic_has_a_bad_file() -> None:
    """A code that stands in the loader's source and in no expected message is untested."""
    codes = codes_in_source()
    assert len(codes) > 40
    texts = expected_texts("bad_rulesets", "bad_shops", "bad_checks", "bad_languages")
    shown = set(re.findall(r"\[([a-z0-9-]+)\]$", texts, re.M))
    elsewhere = {
        "file-too-large",
        "more-problems",
        "no-rule-set",
        "not-a-line-of-its-own",
        "not-as-described",
        *OF_JOB_FILES,
    }
    assert codes - shown == elsewhere


def test_no_message_shows_the_workings_of_the_schema() -> None:
    for text in (
        "is not of type",
        "does not match",
        "Additional properties",
        "is a required",
        "^[",
    ):
        assert text not in expected_texts()


def test_every_problem_has_a_place_inside_its_file() -> None:
    for bad in BAD:
        for line in (bad / "expected.txt").read_text("utf-8").splitlines():
            assert line.startswith("    ") or re.match(r"[\w./-]+:\d+:\d+: \S", line), line


def test_problems_of_all_files_are_told_together(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    for name in ("unknown-fact", "bad-limit", "row-length", "unknown-product"):
        for file in (HERE / "bad_rulesets" / name).rglob("*.yaml"):
            shutil.copy(file, folder / file.relative_to(HERE / "bad_rulesets" / name))
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(folder)
    files = [problem.place.file for problem in refused.value.problems if problem.place]
    assert files == ["limits.yaml", "products.yaml", "rules/bad.yaml", "tables/bad.yaml"]


def test_a_file_that_cannot_be_read_does_not_make_its_names_unknown(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    (folder / "facts" / "panel.yaml").write_text("substrate: {about: panel", "utf-8")
    (folder / "limits.yaml").write_text("film.limit: {value: 12 mil}\n", "utf-8")
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(folder)
    assert [problem.code for problem in refused.value.problems] == ["not-yaml", "missing-key"]


def test_past_a_hundred_problems_are_only_counted(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    rule = (
        "- rule: rule-{0}\n  about: panel\n  when: {{no.fact-{0}: yes}}\n"
        "  then: {{caution: dust}}\n  because: Because.\n  source: {{kind: shop}}\n"
    )
    (folder / "rules" / "many.yaml").write_text("".join(map(rule.format, range(130))), "utf-8")
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(folder)
    assert len(refused.value.problems) == 101
    last = refused.value.problems[-1]
    assert (last.code, last.message) == ("more-problems", "and 30 more problems from here on")
    assert last.place is not None
    assert last.place.line == 100 * 6 + 3


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    with (folder / "tables" / "bad.yaml").open("wb") as file:
        file.truncate(engine.document.MAX_BYTES + 1)
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(folder)
    assert str(refused.value).startswith(
        "tables/bad.yaml:1:1: the file has 10,000,001 bytes; at most 10,000,000 are read "
        "[file-too-large]"
    )


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RuleSetError, match="the rule set does not exist") as refused:
        load_ruleset(tmp_path / "nowhere")
    assert refused.value.exit_code == 3
    file = tmp_path / "file"
    file.touch()
    with pytest.raises(RuleSetError, match="the rule set is not a folder"):
        load_ruleset(file)


def test_every_code_is_explained_in_the_help() -> None:
    from cli.manual.read import diagnostics
    from engine.ruleset.finding import OF_PROOFS

    texts = expected_texts("bad_rulesets", "bad_shops", "bad_checks", "bad_languages")
    shown = set(re.findall(r"\[([a-z0-9-]+)\]$", texts, re.M))
    there = (shown | codes_in_source() | OF_PROOFS) - OF_JOB_FILES
    file = "shared/help/diagnostics.toml"
    assert there - set(diagnostics()) == set(), f"say in {file} what these mean"
    assert set(diagnostics()) - there == set(), f"take these out of {file}"
