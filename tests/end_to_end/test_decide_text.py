"""`prepwright decide` on a terminal, in a pipe, narrow, plain, without colour."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment
from rich.cells import cell_len

pty = pytest.importorskip("pty", reason="a terminal can only be stood in for on POSIX")

MESSY = """\
prepwright: job/1
job: BM-8
shop: {air-temperature: 21 degC, relative-humidity: 80 %, surface-temperature: 18 degC}
car: {year: 1974, drive: electric}
panels:
  roof:
    part: original
    substrate: steel
    defects: [none]
    rust: none
    film: {gauge: magnetic, readings: [14.9 mil, 15.1 mil, 15.0 mil]}
  bonnet: {part: used, substrate: aluminium, film: {gauge: magnetic, readings: [5 mil, 6 mil]}}
  left rear quarter panel: {defects: unknown}
  書架の扉: {part: original, substrate: steel, rust: perforated}
"""


@pytest.fixture
def messy(tmp_path: Path) -> Path:
    file = tmp_path / "BM-8.yaml"
    file.write_text(MESSY, "utf-8")
    return file


def on_a_terminal(*args: object, **environment: str) -> str:
    """What the command writes where standard output is a terminal."""
    leader, follower = pty.openpty()
    process = subprocess.Popen(
        [str(COMMAND), *map(str, args)],
        stdin=subprocess.DEVNULL,
        stdout=follower,
        stderr=subprocess.PIPE,
        env=clean_environment(**{"TERM": "xterm-256color", **environment}),
    )
    os.close(follower)
    chunks = []
    while True:
        try:
            chunk = os.read(leader, 65536)
        except OSError:
            break
        if not chunk:
            break
        chunks.append(chunk)
    os.close(leader)
    assert process.wait(60) == 0, process.communicate()[1]
    process.communicate()
    return b"".join(chunks).decode("utf-8").replace("\r\n", "\n")


def test_table_first_then_reasons(prepwright, sample):
    text = prepwright("decide", sample).stdout.decode()
    lines = text.splitlines()
    assert lines[0] == "Job BM-7: every panel is decided"
    row = next(line for line in lines if line.startswith("bonnet "))
    assert "sand" in row
    for part in ("Why\n", "Why not\n", "Steps, in order\n", "Cautions\n"):
        assert part in text
    assert text.index("Cautions\n") < text.index("bonnet: sand")


def test_every_caution_stands_once_and_the_standing_sentence_follows(prepwright, messy):
    decision = json.loads(prepwright("decide", messy, "--json").stdout)
    text = " ".join(prepwright("decide", messy).stdout.decode().split())
    cautions = {
        caution["text"]
        for found in (decision["car"], *decision["panels"].values())
        for caution in found["cautions"]
    }
    assert len(cautions) > 5
    for caution in cautions:
        assert text.count(" ".join(caution.split())) == 1
    assert text.count(" ".join(decision["standing_caution"].split())) == 1


def test_holds_say_what_lifts_them_and_provisional_ones_what_is_missing(prepwright, messy):
    text = " ".join(prepwright("decide", messy).stdout.decode().split())
    assert "Held until" in text
    assert "Lifted by: Record the result of a paint-chip test for lead" in text
    assert "Provisional, to be safe; falls away if ruled out by: lead test" in text


def test_refused_readings_and_every_question_are_shown_with_how(prepwright, messy):
    decision = json.loads(prepwright("decide", messy, "--json").stdout)
    text = " ".join(prepwright("decide", messy).stdout.decode().split())
    (refused,) = decision["panels"]["bonnet"]["refused"]
    assert f"Set aside - Film readings: {refused['why']}" in text
    questions = decision["open_questions"] + decision["plan_questions"]
    assert any(question["unsure"] for question in questions)
    for question in questions:
        tail = " You said you do not know." if question["unsure"] else ""
        tail = (
            tail if question in decision["open_questions"] else f" (bears on the steps only){tail}"
        )
        how = "".join(f" - {line}" for line in question["how"])
        shown = f"? {question['ask']}{tail} [{question['fact']}]{how}"
        assert " ".join(shown.split()) in text


@pytest.mark.parametrize("width", [20, 32, 40, 60, 80, 132])
def test_no_line_is_wider_than_asked_for(prepwright, messy, width):
    result = prepwright("decide", messy, "--width", width)
    assert result.returncode == 0
    widest = max(result.stdout.decode().splitlines(), key=cell_len)
    assert cell_len(widest) <= width, widest


def test_columns_are_taken_from_the_environment(prepwright, messy):
    wide = prepwright("decide", messy, COLUMNS="90").stdout.decode()
    narrow = prepwright("decide", messy, COLUMNS="50").stdout.decode()
    assert 80 < max(map(cell_len, wide.splitlines())) <= 90
    assert max(map(cell_len, narrow.splitlines())) <= 50


def test_plain_is_linear(prepwright, messy):
    text = prepwright("decide", messy, "--plain").stdout.decode()
    drawn = [char for char in text if "BOX DRAWINGS" in unicodedata.name(char, "")]
    assert drawn == []
    assert "\x1b" not in text
    assert "  roof" not in text
    assert " - roof: partial-strip, held. Typical film" in text


def test_a_pipe_gets_no_colour(prepwright, messy):
    assert b"\x1b" not in prepwright("decide", messy, TERM="xterm-256color").stdout


def test_a_terminal_gets_colour_unless_it_is_unwanted(messy):
    assert "\x1b[" in on_a_terminal("decide", messy)
    for unwanted in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        assert "\x1b" not in on_a_terminal("decide", messy, **unwanted)
    assert "\x1b" not in on_a_terminal("decide", messy, "--plain")


def test_an_empty_no_color_counts_as_unset(messy):
    assert "\x1b[" in on_a_terminal("decide", messy, NO_COLOR="")


def test_colour_changes_nothing_but_colour(prepwright, messy):
    import re

    coloured = on_a_terminal("decide", messy, "--width", 80)
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert bare == prepwright("decide", messy, "--width", 80).stdout.decode()


def test_a_terminal_without_the_letters_still_gets_the_text(prepwright, messy):
    result = prepwright("decide", messy, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert result.returncode == 0
    assert result.stdout.isascii()
    assert rb"\u66f8" in result.stdout


def test_no_traceback_variable_does_nothing_where_nothing_fails(prepwright, sample):
    result = prepwright("decide", sample, PREPWRIGHT_TRACE="1")
    assert (result.returncode, result.stderr) == (0, b"")


def test_module_search_path_is_not_the_reason_it_works(prepwright, sample, tmp_path):
    result = subprocess.run(
        [sys.executable, "-P", "-c", "import cli.main; cli.main.main()", "decide", str(sample)],
        capture_output=True,
        cwd=tmp_path,
        env=clean_environment(),
        timeout=60,
        check=False,
    )
    assert result.stdout == prepwright("decide", sample).stdout
