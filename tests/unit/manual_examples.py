"""The manuals of all commands, their examples, and a folder in which these can be run."""

from __future__ import annotations

import io
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import click
import pytest

from cli.main import prepwright, run
from cli.manual.read import Example, Manual, contexts, manual_of, path_of

READINGS = "Panel,Thickness [um]\nroof,147\nroof,150\nroof,152\n"
BARE = "147\n150\n152\n"


@cache
def manuals() -> dict[str, Manual]:
    root = prepwright.make_context("prepwright", [], resilient_parsing=True)
    return {path_of(each): manual_of(each) for each in contexts(root)}


def every_context() -> Iterator[click.Context]:
    yield from contexts(prepwright.make_context("prepwright", [], resilient_parsing=True))


def examples(*, slow: bool) -> list[Example]:
    found = {each.run: each for manual in manuals().values() for each in manual.examples}
    return [each for each in found.values() if each.slow is slow]


def prepare(folder: Path) -> Path:
    """The demonstration job in a file and a store, a shop's rules, readings and an export."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("PREPWRIGHT_STORE", str(folder / "store.db"))
        for line in (
            "demo --write .",
            "decide bookmobile.yaml --save --one-engine",
            "rules new-shop our-rules",
            "trail export BM-7.jsonl --job BM-7",
        ):
            assert run(shlex.split(line)) == 0
    (folder / "readings.csv").write_text(READINGS, "utf-8")
    (folder / "bare.csv").write_text(BARE, "utf-8")
    return folder


def run_there(line: str, prepared: Path, patch: pytest.MonkeyPatch) -> int:
    """The exit code of an example, run in what was prepared by somebody who stops the chat."""
    patch.chdir(prepared)
    patch.setenv("PREPWRIGHT_STORE", str(prepared / "store.db"))
    patch.setenv("PREPWRIGHT_BY", "shop lead")
    patch.setattr("sys.stdin", io.StringIO("stop\n"))
    program, *args = shlex.split(line)
    assert program == "prepwright"
    return run(args)
