"""All that a command writes with `--json` is described by a schema, and is as that says."""

from __future__ import annotations

import json
import shutil
from functools import cache
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from manual_examples import every_context, manuals, prepare, run_there

from cli.manual.read import path_of
from engine.supplied import schema_folder


@cache
def writing_json() -> tuple[str, ...]:
    return tuple(
        path_of(context)
        for context in every_context()
        if any("--json" in each.opts for each in context.command.params)
    )


@cache
def as_json() -> dict[str, str]:
    """Every example of a command that writes JSON, asked for JSON, with the command."""
    return {
        example.run if "--json" in example.run else f"{example.run} --json": path
        for path in writing_json()
        for example in manuals()[path].examples
        if f"{example.run} ".startswith(f"prepwright {path} ")
        if "--write-cases" not in example.run
    }


@cache
def checked_by(format_: str) -> Draft202012Validator:
    name, kind, version = format_.split("/")
    assert (name, version) == ("prepwright", "1")
    schema = json.loads((schema_folder() / f"{kind}.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert schema["title"] == format_
    return Draft202012Validator(schema)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepare(tmp_path_factory.mktemp("prepared"))


def test_every_command_that_writes_json_has_an_example_to_check() -> None:
    assert len(writing_json()) > 30
    assert set(as_json().values()) == set(writing_json())


@pytest.mark.parametrize("line", as_json(), ids=str)
def test_json_is_as_its_schema_says(
    line: str,
    prepared: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    code = run_there(line, Path(shutil.copytree(prepared, tmp_path / "here")), monkeypatch)
    written, _ = capfdbinary.readouterr()
    assert code in (0, 1), line
    data = json.loads(written)
    checked_by(data["format"]).validate(data)
    assert f"prepwright/{data['format'].split('/')[1]}/1" in manuals_option(as_json()[line])


def manuals_option(path: str) -> str:
    """What the help of a command says of `--json`."""
    return dict(manuals()[path].options)["--json"]
