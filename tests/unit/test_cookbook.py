"""The cookbook, carried out from its own text: every file it gives, every command it shows."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from cli.main import run
from engine.ruleset import load_ruleset

PAGE = Path(__file__).parents[2] / "rulesets" / "cookbook.md"
START, *PARTS = re.split(r"^## ", PAGE.read_text("utf-8"), flags=re.MULTILINE)
RECIPES = {part.splitlines()[0]: part for part in PARTS}
SHOP = "our-rules"


class Block(NamedTuple):
    """One fenced block of the page."""

    language: str
    text: str


def blocks(text: str) -> Iterator[Block]:
    for language, block in re.findall(r"^```(\w+)\n(.*?)^```$", text, re.DOTALL | re.MULTILINE):
        yield Block(language, block)


def carry_out(text: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Do what the blocks say in the working folder; give the commands that were run."""
    commands = []
    for block in blocks(text):
        if block.language == "yaml":
            put(block.text)
        else:
            assert block.language == "console", block.language
            commands.append(compare(block.text, capsys))
    return commands


def put(block: str) -> None:
    first, _, text = block.partition("\n")
    assert re.fullmatch(r"# [\w./-]+\.yaml", first), f"no file is named: {first}"
    file = Path(first.removeprefix("# "))
    there = file.read_text("utf-8") if file.exists() else ""
    file.write_text(there + text, "utf-8")


def compare(block: str, capsys: pytest.CaptureFixture[str]) -> str:
    """Run the command of a block; all that is shown of its output is there, in order."""
    line, _, shown = block.partition("\n")
    program, *args = shlex.split(line.removeprefix("$ "))
    assert line.startswith("$ ")
    assert program == "prepwright"
    capsys.readouterr()
    code = run(args)
    output, errors = capsys.readouterr()
    assert (code, errors) == (0, ""), line
    assert missing(shown, output) is None, f"{line}\nnot (or no longer) printed:\n{shown}"
    return line


def missing(shown: str, output: str) -> str | None:
    """The first stretch between `[...]` that the output lacks; the ends have to fit as well."""
    stretches = re.split(r"\[\.\.\.\]\n?", shown)
    at = 0
    for number, stretch in enumerate(stretches):
        found = output.find(stretch, at)
        if found < 0 or (number == 0 and found > 0):
            return stretch
        at = found + len(stretch)
    last = stretches[-1]
    return None if not last or output.endswith(last) else last


@pytest.fixture(autouse=True)
def _kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("PREPWRIGHT_STORE", str(tmp_path / "store.db"))


def test_there_are_ten_recipes_and_a_list_of_them() -> None:
    assert len(RECIPES) >= 10
    assert re.findall(r"^(\d+\. )\[(.*)\]", START, re.MULTILINE) == [
        (f"{title.partition(' ')[0]} ", title.partition(" ")[2]) for title in RECIPES
    ]


@pytest.mark.parametrize("title", RECIPES)
def test_a_recipe_does_what_it_says(title: str, capsys: pytest.CaptureFixture[str]) -> None:
    carry_out(START, capsys)
    before = load_ruleset(Path(SHOP), with_cases=False).digest
    commands = carry_out(RECIPES[title], capsys)
    assert load_ruleset(Path(SHOP), with_cases=False).digest != before
    checks = [line for line in commands if line == f"$ prepwright rules check {SHOP}"]
    others = [line for line in commands if not line.startswith("$ prepwright rules check")]
    assert checks, "the check is not shown"
    assert others, "what the change changes is not shown"


@pytest.mark.parametrize(
    ("shown", "fits"),
    [
        ("one\n[...]\nfour\n", True),
        ("[...]\nthree\n[...]\n", True),
        ("one\ntw[...]\nthree\n[...]", True),
        ("two\n[...]\n", False),
        ("one\n[...]\nthree\n", False),
        ("[...]\nthree\n[...]\ntwo\n[...]\n", False),
    ],
)
def test_shown_output_is_compared_in_order(shown: str, fits: bool) -> None:
    output = "one\ntwo\nthree\nfour\n"
    assert (missing(shown, output) is None) is fits
