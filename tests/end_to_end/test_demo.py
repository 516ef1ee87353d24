"""`prepwright demo`: the bookmobile, decided for anybody who wants to see the tool work."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from engine.supplied import demo_folder, schema_folder

JOBS = sorted(demo_folder().glob("*.yaml"))


def test_it_says_whose_van_it_is_and_what_to_try_next(prepwright):
    result = prepwright("demo")
    assert (result.returncode, result.stderr) == (0, b"")
    text = result.stdout.decode()
    assert "bookmobile" in text.splitlines()[0] + text.splitlines()[1]
    assert "invented" in text.splitlines()[0]
    assert "What to try next" in text
    assert "prepwright demo --write van" in text


def test_its_json_is_a_decision_that_shows_every_treatment(prepwright):
    result = prepwright("demo", "--json")
    assert (result.returncode, result.stderr) == (0, b"")
    decision = json.loads(result.stdout)
    schema = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(decision)
    given = {panel["treatment"] for panel in decision["panels"].values()}
    assert given == {"leave", "sand", "partial-strip", "strip", "renew"}


def test_the_written_job_decides_the_same(prepwright, tmp_path):
    folder = tmp_path / "new" / "van"
    result = prepwright("demo", "--write", folder)
    assert result.returncode == 0
    job = folder / "bookmobile.yaml"
    assert f"   prepwright decide {job}" in result.stdout.decode().splitlines()
    assert prepwright("decide", job, "--json").stdout == prepwright("demo", "--json").stdout


def test_a_file_that_is_there_is_not_overwritten(prepwright, tmp_path):
    mine = tmp_path / "bookmobile.yaml"
    mine.write_text("mine", "utf-8")
    result = prepwright("demo", "--write", tmp_path)
    assert result.returncode == 2
    assert b"already" in result.stderr
    assert mine.read_text("utf-8") == "mine"


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.stem)
def test_every_demonstration_job_is_decided(prepwright, job):
    result = prepwright("decide", job, "--json")
    assert (result.returncode, result.stderr) == (0, b"")
    panels = json.loads(result.stdout)["panels"]
    assert any(panel["treatment"] for panel in panels.values())
