"""How a command ends: exit codes, messages, and never a traceback."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from installed import COMMAND, SAMPLE, clean_environment

import cli.consult
from cli.main import run
from engine.supplied import supplied_ruleset_folder

BAD_JOBS = {
    "empty": (b"", "the file is empty"),
    "not-utf-8": (b"prepwright: job/1\njob: \xff\xfe\n", "is not UTF-8"),
    "tab": (b"prepwright: job/1\njob: X\n\tcar: {}\n", ":3:1:"),
    "not-yaml": (b"prepwright: job/1\npanels: {bonnet: [}\n", ":2:"),
    "anchor": (b"prepwright: job/1\njob: &a X\npanels: {bonnet: *a}\n", "Anchors"),
    "twice": (SAMPLE.encode() + b"    rust: surface\n", "stands twice"),
    "misspelt": (SAMPLE.replace("substrate", "substrat").encode(), "`substrate`"),
    "other-format": (b"prepwright: job/99\njob: X\npanels: {}\n", "job/1"),
    "no-unit": (SAMPLE.replace("4.9 mil", "4.9").encode(), ":11:"),
    "wrong-unit": (SAMPLE.replace("21 degC", "21 mil").encode(), ":3:"),
    "no-such-choice": (SAMPLE.replace("steel", "stele").encode(), "`steel`"),
    "implausible": (SAMPLE.replace("4.9 mil", "4.9 m").encode(), ":11:"),
    "nan": (SAMPLE.replace("4.9 mil", ".nan").encode(), ":11:"),
    "list": (b"- prepwright\n- job/1\n", ":1:1:"),
}


def messages(result: subprocess.CompletedProcess[bytes]) -> str:
    text = result.stderr.decode("utf-8")
    assert "Traceback" not in text
    assert "unexpected trouble" not in text
    return text


@pytest.mark.parametrize("name", BAD_JOBS)
def test_a_bad_job_file_ends_with_3_and_its_place(prepwright, tmp_path, name):
    content, expected = BAD_JOBS[name]
    file = tmp_path / "job.yaml"
    file.write_bytes(content)
    result = prepwright("decide", file)
    assert (result.returncode, result.stdout) == (3, b"")
    message = messages(result)
    assert expected in message
    assert f"{file}:" in message


def test_files_that_are_no_files_end_with_3(prepwright, tmp_path):
    for path in (tmp_path / "nowhere.yaml", tmp_path, Path(os.devnull)):
        result = prepwright("decide", path)
        assert (result.returncode, result.stdout) == (3, b"")
        assert str(path) in messages(result)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs a file without an end")
def test_a_file_without_an_end_is_refused(prepwright):
    result = prepwright("decide", "/dev/zero")
    assert result.returncode == 3
    assert "too-large" in messages(result)


def test_json_is_kept_clean_of_messages(prepwright, tmp_path):
    file = tmp_path / "job.yaml"
    file.write_bytes(BAD_JOBS["misspelt"][0])
    result = prepwright("decide", file, "--json")
    assert (result.returncode, result.stdout) == (3, b"")
    assert messages(result)


def test_an_incomplete_decision_ends_with_4_only_where_asked(prepwright, undecided, sample):
    assert prepwright("decide", undecided).returncode == 0
    result = prepwright("decide", undecided, "--require-complete", "--json")
    assert result.returncode == 4
    assert json.loads(result.stdout)["complete"] is False
    assert prepwright("decide", sample, "--require-complete").returncode == 0


@pytest.mark.parametrize(
    "args",
    [
        ("decide",),
        ("decid", "job.yaml"),
        ("decide", "job.yaml", "another.yaml"),
        ("decide", "job.yaml", "--jsn"),
        ("decide", "job.yaml", "--width", "wide"),
        ("decide", "job.yaml", "--width", "3"),
        ("--nonsense",),
        ("rules", "nonsense"),
    ],
)
def test_wrong_usage_ends_with_2_and_says_where_to_look(prepwright, args):
    result = prepwright(*args)
    assert (result.returncode, result.stdout) == (2, b"")
    assert "--help" in messages(result)


def test_a_misspelt_command_is_guessed(prepwright):
    assert "`decide`" in messages(prepwright("decidde", "job.yaml"))


def test_a_missing_rule_set_ends_with_3(prepwright, sample, tmp_path):
    result = prepwright("decide", sample, "--ruleset", tmp_path / "nowhere")
    assert result.returncode == 3
    assert "ruleset.yaml" in messages(result)


def test_help_and_version_go_to_standard_output(prepwright):
    for args in (("--help",), ("decide", "--help"), ("demo", "-h"), ("rules", "check", "--help")):
        result = prepwright(*args)
        assert (result.returncode, result.stderr) == (0, b"")
        assert b"Usage: prepwright" in result.stdout
    result = prepwright("--version")
    assert (result.returncode, result.stderr) == (0, b"")
    assert result.stdout.startswith(b"prepwright ")
    assert b"evaluator" in result.stdout


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a named pipe")
def test_an_interrupt_ends_with_130(tmp_path):
    pipe = tmp_path / "job.yaml"
    os.mkfifo(pipe)
    process = subprocess.Popen(
        [str(COMMAND), "decide", str(pipe)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=clean_environment(),
    )
    # Opening the other end waits for the command to open its own: now it is reading.
    with pipe.open("wb"):
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (130, b"")
    assert b"Traceback" not in err


@pytest.mark.skipif(os.name == "nt", reason="uses a POSIX shell")
@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("{command} decide {job} | true", 0),
        ("{command} decide {job} --json | head -c 1 > /dev/null", 0),
        ("{command} --help | true", 0),
        ("{command} decide {job} <&- > /dev/null", 0),
        ("{command} decide {job} 2>&- > /dev/null", 0),
        ("{command} decide nowhere.yaml 2>&-", 3),
        ("{command} decide {job} >&-", 2),
    ],
)
def test_closed_and_broken_streams_are_quiet(tmp_path, sample, line, code):
    result = subprocess.run(
        ["bash", "-o", "pipefail", "-c", line.format(command=COMMAND, job=sample)],
        capture_output=True,
        cwd=tmp_path,
        env=clean_environment(),
        timeout=60,
        check=False,
    )
    assert result.returncode == code
    assert b"Traceback" not in result.stderr
    assert b"Exception" not in result.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a full device")
@pytest.mark.parametrize("form", [(), ("--json",)])
def test_a_full_disk_is_no_success(sample, form):
    with open("/dev/full", "wb") as full:
        result = subprocess.run(
            [str(COMMAND), "decide", str(sample), *form],
            stdout=full,
            stderr=subprocess.PIPE,
            env=clean_environment(),
            timeout=60,
            check=False,
        )
    assert result.returncode == 1
    assert b"No space left" in result.stderr
    assert b"Traceback" not in result.stderr


HOSTILE = "\x1b[2J\x1b]0;owned\x07 \u202eevil\u202c \u009b31m \u2066x"


def is_harmless(output: bytes) -> bool:
    text = output.decode("utf-8")
    return not any(
        char in text
        for char in "\x1b\x07\x9b\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
    )


@pytest.mark.parametrize("form", [(), ("--json",), ("--plain",)])
def test_escape_sequences_in_rule_texts_reach_no_terminal(prepwright, tmp_path, sample, form):
    from shutil import copytree

    own = copytree(supplied_ruleset_folder(), tmp_path / "own")
    (own / "rules" / "99-hostile.yaml").write_text(
        f"""\
- rule: hostile
  about: panel
  when: {{part: original}}
  then: {{treatment: sand}}
  because: {json.dumps(HOSTILE)}
  source: {{kind: shop, name: {json.dumps(HOSTILE)}}}
""",
        "utf-8",
    )
    result = prepwright("decide", sample, "--ruleset", own, *form)
    assert (result.returncode, result.stderr) == (0, b"")
    assert is_harmless(result.stdout)
    if form == ("--json",):
        because = json.loads(result.stdout)["panels"]["bonnet"]["because"]
        assert HOSTILE in [why["text"] for why in because]
    else:
        assert b"\\x1b[2J" in result.stdout


def test_escape_sequences_in_a_job_file_reach_no_terminal(prepwright, tmp_path):
    file = tmp_path / "job.yaml"
    text = SAMPLE.replace("bonnet:", f"{json.dumps(HOSTILE)}:")
    assert text != SAMPLE
    file.write_text(text, "utf-8")
    result = prepwright("decide", file)
    assert result.returncode == 3
    assert is_harmless(result.stderr)
    assert messages(result)


@pytest.mark.skipif(os.name == "nt", reason="such file names need POSIX")
def test_escape_sequences_in_a_file_name_reach_no_terminal(prepwright, tmp_path):
    result = prepwright("decide", tmp_path / "\x1b[31mred\udcff.yaml")
    assert result.returncode == 3
    assert is_harmless(result.stderr)


def test_random_bytes_never_end_in_a_traceback(prepwright, tmp_path):
    for seed in range(6):
        file = tmp_path / f"{seed}.yaml"
        file.write_bytes(random.Random(seed).randbytes(2000))
        result = prepwright("decide", file)
        assert result.returncode == 3
        assert messages(result).count("prepwright:") == 1


@pytest.fixture(scope="module")
def supplied():
    return cli.consult.load(None)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_damaged_job_files_are_decided_or_refused_never_worse(
    data, supplied, tmp_path_factory, monkeypatch, capsys
):
    damaged = bytearray(SAMPLE.encode())
    for _ in range(data.draw(st.integers(1, 4), "how often")):
        start = data.draw(st.integers(0, len(damaged)), "where")
        length = data.draw(st.integers(0, 8), "how long")
        damaged[start : start + length] = data.draw(
            st.one_of(
                st.binary(max_size=8), st.sampled_from([b"{", b"]", b": ", b"\n", b"&", b"-"])
            ),
            "what",
        )
    file = tmp_path_factory.getbasetemp() / "damaged.yaml"
    file.write_bytes(bytes(damaged))
    monkeypatch.setattr(cli.consult, "load", lambda folder, **_: supplied)
    code = run(["decide", str(file), "--one-engine"])
    caught = capsys.readouterr()
    assert code in (0, 3)
    assert "unexpected trouble" not in caught.err
    assert bool(caught.err) is (code == 3)
    assert bool(caught.out) is (code == 0)


def test_a_fault_is_one_line_and_a_trace_only_where_asked(monkeypatch, capsys, sample):
    def broken(folder: object, **_: object) -> None:
        raise ZeroDivisionError("a\x1b[31m fault")

    monkeypatch.setattr(cli.consult, "load", broken)
    assert run(["decide", str(sample)]) == 1
    said = capsys.readouterr().err
    assert "ZeroDivisionError" in said
    assert "PREPWRIGHT_TRACE=1" in said
    assert "Traceback" not in said
    assert "\x1b" not in said
    monkeypatch.setenv("PREPWRIGHT_TRACE", "1")
    assert run(["decide", str(sample)]) == 1
    assert "Traceback" in capsys.readouterr().err
