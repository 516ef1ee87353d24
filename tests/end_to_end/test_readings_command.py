"""`prepwright readings`: shown first, taken when told so, into a job file and into the record."""

from __future__ import annotations

import json
import os
import select
import subprocess
import time
from pathlib import Path

import pytest
import yaml
from installed import COMMAND, clean_environment

TABLE = """\
Gauge: film gauge
Serial no: 007
Panel;Spot;Reading [um];Time
Zero check;;0,4;09:58
Hood;1;124,5;10:05
Hood;1;126,0;10:05
Hood;2;>2000;10:06
Shim 125 um after;;126,1;10:30
"""


@pytest.fixture
def job(sample: Path) -> Path:
    """The sample job without its readings."""
    text = sample.read_text("utf-8")
    start = text.index(", readings:")
    sample.write_text(text[:start] + text[text.index("}", start) :], "utf-8")
    return sample


@pytest.fixture
def table(tmp_path: Path) -> Path:
    file = tmp_path / "gauge.csv"
    file.write_text(TABLE, "cp1252")
    return file


def test_what_was_understood_is_shown_and_nothing_taken_without_yes(prepwright, job, table):
    before = job.read_bytes()
    result = prepwright("readings", job, table)
    assert result.returncode == 2
    assert "say --yes" in result.stderr.decode()
    text = " ".join(result.stdout.decode().split())
    for piece in (
        "Layout: one reading a line",
        "cells: semicolon; decimal comma",
        "Serial: 007",
        "124.5 um",
        "Zero check, before the readings at 09:58: read 0.4 um",
        "`Hood` is the panel `bonnet`",
        "a cell past the gauge's range is left out",
    ):
        assert piece in text
    assert job.read_bytes() == before


def test_readings_are_taken_with_gauge_time_and_checks(prepwright, job, table):
    result = prepwright("readings", job, table, "--yes", "--by", "Kim")
    assert result.returncode == 0, result.stderr
    data = yaml.safe_load(job.read_text("utf-8"))
    assert data["panels"]["bonnet"]["film"]["readings"] == {
        "value": [["124.5 um", "126.0 um"]],
        "by": "Kim",
        "at": "10:05",
        "with": "film gauge, serial 007, checked before and after",
    }
    notes = "\n".join(data["notes"])
    assert "Film readings from gauge.csv (sha256:" in notes
    assert "Gauge check: Shim 125 um after, after the readings at 10:30: read 126.1 um" in notes
    assert "Past the gauge's range (gauge.csv, line 7): >2000 on Hood" in notes
    decided = json.loads(prepwright("decide", job, "--json").stdout)
    typical = decided["panels"]["bonnet"]["facts"]["film.typical"]
    assert typical["value"] == pytest.approx(125.25)


def test_readings_that_are_there_are_replaced_only_when_told(prepwright, sample, table):
    before = sample.read_bytes()
    refused = prepwright("readings", sample, table, "--yes")
    assert refused.returncode == 3
    assert f"{sample}:" in refused.stderr.decode()
    assert "--replace" in refused.stderr.decode()
    assert sample.read_bytes() == before
    assert prepwright("readings", sample, table, "--yes", "--replace").returncode == 0
    assert "124.5 um" in sample.read_text("utf-8")
    once = sample.read_bytes()
    assert prepwright("readings", sample, table, "--yes", "--replace").returncode == 0
    assert sample.read_bytes() == once


def test_a_file_that_cannot_be_taken_names_every_place(prepwright, job, tmp_path):
    table = tmp_path / "gauge.csv"
    table.write_text("Panel,Reading\nFirmware,5\nbonnet,abc\n", "utf-8")
    before = job.read_bytes()
    result = prepwright("readings", job, table, "--yes")
    assert result.returncode == 3
    message = result.stderr.decode()
    assert f"{table}:2:1: " in message
    assert f"{table}:3:8: `abc` is no reading" in message
    assert "[no-unit]" in message
    assert job.read_bytes() == before
    table.write_text("Panel,Reading\nFirmware,5\nbonnet,6\n", "utf-8")
    taken = ("--yes", "--unit", "mil", "--map", "Firmware=bonnet")
    assert prepwright("readings", job, table, *taken).returncode == 0
    assert "[5 mil, 6 mil]" in job.read_text("utf-8")


@pytest.mark.parametrize(
    "arguments",
    [("--map", "roof"), ("--map", "=roof"), ("--map", "a=roof", "--map", "a=bonnet")],
)
def test_a_map_that_makes_no_sense_is_wrong_usage(prepwright, job, table, arguments):
    result = prepwright("readings", job, table, *arguments)
    assert result.returncode == 2
    assert "--map" in result.stderr.decode().splitlines()[-1]


def test_a_json_job_file_is_left_alone(prepwright, tmp_path, table):
    job = tmp_path / "job.json"
    job.write_text('{"prepwright": "job/1", "job": "BM-7", "panels": {"bonnet": {}}}', "utf-8")
    before = job.read_bytes()
    assert prepwright("readings", job, table, "--yes").returncode == 2
    assert job.read_bytes() == before


def test_nothing_in_a_file_reaches_the_terminal_raw(prepwright, job, tmp_path):
    table = tmp_path / "gauge.csv"
    table.write_bytes('Gauge: =cmd|"x"\nPanel;Reading um\nbon\u202enet;5\n'.encode())
    result = prepwright("readings", job, table, "--yes")
    assert result.returncode == 3
    output = (result.stdout + result.stderr).decode()
    assert "\u202e" not in output
    assert "\x1b" not in output


def test_the_record_holds_readings_between_their_checks(prepwright, job, table, tmp_path):
    store = tmp_path / "shop.db"
    shop = {"PREPWRIGHT_STORE": str(store)}
    assert prepwright("decide", job, "--save", **shop).returncode == 0
    result = prepwright("readings", "BM-7", table, "--yes", **shop)
    assert result.returncode == 0, result.stderr
    shown = " ".join(prepwright("trail", "show", "BM-7", **shop).stdout.decode().split())
    seal = result.stdout.decode().rpartition("Seal of the record: ")[2].strip()
    assert shown.endswith(f"Seal: {seal}")
    order = [
        "note by Robin",
        "gauge-check by Robin: file gauge.csv, on zero, text Zero check, before",
        "reading by Robin: bonnet film.readings: 124.5 um/126.0 um",
        "gauge-check by Robin: file gauge.csv, nominal 125 um, on shim, text Shim 125 um",
        "Past the gauge's range",
    ]
    places = [shown.find(piece) for piece in order]
    assert -1 not in places, shown
    assert places == sorted(places)
    assert prepwright("trail", "verify", **shop).returncode == 0
    again = prepwright("readings", "BM-7", table, "--yes", **shop)
    assert again.returncode == 3
    assert "--replace" in again.stderr.decode()


@pytest.mark.skipif(os.name == "nt", reason="POSIX terminals")
@pytest.mark.parametrize(("answer", "taken"), [(b"y\n", True), (b"\n", False)])
def test_on_a_terminal_it_asks(job, table, answer, taken):
    before = job.read_bytes()
    code, text = on_a_terminal(["readings", str(job), str(table)], answer)
    assert "Take these readings into" in text
    assert "with 1 point to look at?" in " ".join(text.split())
    assert code == (0 if taken else 1)
    assert (job.read_bytes() != before) == taken


def on_a_terminal(arguments: list[str], answer: bytes) -> tuple[int, str]:
    """Runs the command on a terminal of its own and answers its first question."""
    import pty

    ours, theirs = pty.openpty()
    run = subprocess.Popen(
        [str(COMMAND), *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=clean_environment(TERM="dumb"),
    )
    os.close(theirs)
    text, answered, until = b"", False, time.monotonic() + 60
    while time.monotonic() < until:
        if not select.select([ours], [], [], 1)[0]:
            continue
        try:
            piece = os.read(ours, 4096)
        except OSError:
            break
        if not piece:
            break
        text += piece
        if not answered and b"[y/N]" in text:
            os.write(ours, answer)
            answered = True
    os.close(ours)
    return run.wait(timeout=30), text.decode()
