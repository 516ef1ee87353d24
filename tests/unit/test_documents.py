"""What README.md and DEVELOPERS.md say is still so."""

from __future__ import annotations

import os
import re
import stat
import subprocess
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

import engine.errors
from cli.main import _COMMANDS, prepwright
from cli.manual.read import contexts, diagnostics, manual_of, topics
from engine.errors import PrepwrightError

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
CI = ROOT / ".ci" / "run"


def blocks(text: str, language: str) -> list[str]:
    """The fenced blocks of one language; those without a language for ""."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
    return [block for named, block in fenced if named == language]


def test_ci_runs_the_command_the_readme_gives():
    command = re.search(r'^TEST_COMMAND="(.*)"$', CI.read_text("utf-8"), re.MULTILINE)
    assert command is not None
    assert command.group(1) + "\n" in blocks(README, "sh")
    assert command.group(1) + "\n" in blocks(DEVELOPERS, "sh")


@pytest.mark.skipif(os.name == "nt", reason="POSIX file modes")
def test_ci_can_be_run():
    assert CI.stat().st_mode & stat.S_IXUSR
    subprocess.run(["bash", "-n", str(CI)], check=True)


def test_every_command_is_in_the_readme():
    table = README.split("## Commands")[1].split("## ")[0]
    for name in _COMMANDS:
        assert f"`prepwright {name}" in table
    shown = set(re.findall(r"`prepwright ([a-z]+)", table))
    assert shown == set(_COMMANDS)


def test_every_command_has_a_manual():
    root = prepwright.make_context("prepwright", [], resilient_parsing=True)
    for manual in map(manual_of, contexts(root)):
        file = f"shared/help/{manual.path.partition(' ')[0] or 'prepwright'}.toml"
        assert manual.examples, f"write examples and more for `{manual.path}` in {file}"


def test_the_rest_of_the_help_can_be_read():
    assert len(topics()) > 5
    assert len(diagnostics()) > 100


def test_the_exception_tree_is_the_one_in_the_code():
    found = {
        error.__name__: error
        for error in vars(engine.errors).values()
        if isinstance(error, type) and issubclass(error, PrepwrightError)
    }
    tree = next(block for block in blocks(DEVELOPERS, "") if "PrepwrightError" in block)
    assert set(re.findall(r"\b[A-Z][A-Za-z]+\b", tree)) - {"YAML", "JSON"} == set(found)
    for name, code in re.findall(r"-- (\w+) .*exit (\d+)", tree):
        assert found[name].exit_code == int(code)


def test_the_house_is_laid_out_as_described():
    layout = blocks(DEVELOPERS, "")[0]
    folder = Path()
    for line in layout.splitlines():
        name = line.split()[0]
        path = folder / name if line.startswith(" ") else Path(name)
        assert (ROOT / path).exists(), f"{path} is described but not there"
        if not line.startswith(" "):
            folder = Path(name)


@pytest.mark.parametrize("house", ["engine", "cli"])
def test_nothing_in_the_house_is_left_out(house):
    layout = blocks(DEVELOPERS, "")[0]
    described = re.split(r"^\S", layout.split(f"{house}/ ")[1], maxsplit=1, flags=re.MULTILINE)[0]
    parts = {path.name for path in (ROOT / house).iterdir() if not path.name.startswith("__")}
    assert set(re.findall(r"^  ([\w.]+)", described, re.MULTILINE)) == parts


def test_the_way_of_a_reading_goes_by_modules_that_are_there():
    way = DEVELOPERS.split("### Follow one reading")[1].split("\n#")[0]
    named = re.findall(r"`((?:engine|cli)\.[\w.]+)`", way)
    assert len(set(named)) > 25
    for name in named:
        module, _, inside = name.rpartition(".")
        if inside[0].isupper():
            assert hasattr(import_module(module), inside), f"{name} is named but not there"
        else:
            import_module(name)


def test_the_changelog_begins_with_this_version():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    first = re.search(r"^### (.*)$", DEVELOPERS.split("## Changelog")[1], re.MULTILINE)
    assert first is not None
    assert first.group(1) == project["version"]


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_files_named_in_passing_are_there(text):
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE)
    named = re.findall(r"`((?:engine|cli|rulesets|shared|tests|\.ci)/[\w./-]*)`", prose)
    assert named
    for name in named:
        assert (ROOT / name).exists(), f"{name} is named but not there"


def test_the_consultation_shown_is_the_one_that_happens(tmp_path):
    """Every shown stretch of output is there, whole and in order."""
    (job,) = blocks(README, "yaml")
    (tmp_path / "BM-7.yaml").write_text(job, "utf-8")
    consoles = blocks(README, "console")
    assert consoles
    for console in consoles:
        first, _, shown = console.partition("\n")
        assert first.startswith("$ prepwright ")
        result = subprocess.run(
            [sys.executable, "-c", "from cli.main import main; main()", *first.split()[2:]],
            cwd=tmp_path,
            capture_output=True,
            env={**os.environ, "PYTHONUTF8": "1"},
            check=True,
            timeout=60,
        )
        output = result.stdout.decode("utf-8")
        at = 0
        for stretch in shown.split("[...]\n"):
            found = output.find(stretch, at)
            assert found >= 0, f"not (or no longer) printed:\n{stretch}"
            at = found + len(stretch)
