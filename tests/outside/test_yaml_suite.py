"""The public YAML test suite, read by `engine.document`.

Source: YAML Test Suite (yaml-test-suite, MIT), one file of cases each, in `../shared/outside/yaml`
beside the project; skipped where it is absent. Each case is read as the standard's JSON value, or
refused with its place. Where the subset read here refuses valid YAML, the case stands below under
its reason, with the codes of the problems that are named: what is not listed has to be read.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

SUITE = Path(__file__).resolve().parents[3] / "shared" / "outside" / "yaml"
ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.skipif(
    not SUITE.is_dir(), reason="the YAML test suite is not at ../shared/outside/yaml"
)

# --- valid YAML that is refused on purpose --------------------------------------------------------

BY_CODE = {
    # A file is to be understood from where one looks: nothing in it stands for something elsewhere.
    "anchor": "3R3P 7BMT CN3R FTA2 SKE5 U3XV Y2GN ZH7C ZWK4",
    "alias anchor": "3GZX 6KGN 7BUB JS2J V55R",
    # What a value is shows from how it is written; no other types are known.
    "tag": "2AUY 2XXW 33X3 52DL 565N 57H4 6CK3 6JWB 735Y 8MK2 CC74 EHF6 J7PZ M5C3 P76L S4JQ U3C3"
    " UKK6/2 Z67P Z9M4",
    "anchor tag": "74H7 7FWL BU8L F2C7 L94M",
    "alias anchor tag": "C4HZ CUP7 HMQ5 LE5A UGM3",
    # One file, one document.
    "several-documents": "6XDY 6ZKB 9DXL JHB9 KSS4 L383 PUW8 RZT7 U9NS",
    "several-documents tag": "35KP 5TYM 6WLZ 9WXW",
    "anchor several-documents tag": "9KAX",
    # Keys are names: text, and not empty.
    "key-not-text": "26DV 2SXE 4FJ6 6BFJ 6PBE 9MMW DFF7 E76Z FH7J KK5P LX3P M2N8/0 M2N8/1 M5DY PW8X"
    " Q9WF RZP5 SBG9 V9D5 WZ62 X38W XW4D",
    # The parser would take the `?` for the sign of a key.
    "question-mark": "652Z HM87/1",
    # A file of another version may mean other things by the same words.
    "yaml-version": "MUS6/2 MUS6/3 MUS6/4",
}

BY_PARSER = {
    "an empty key": "2JQS 6M2F CFD4 FRK4 NHX8 NKF9 S3PD SM9W/1 UKK6/0",
    "inside brackets, the colon or its key on another line": "4MUZ/0 4MUZ/1 4MUZ/2 5MUD 9SA2 K3WX"
    " NJ66 VJP3/1",
    "inside brackets, text that begins or ends with a colon, or begins with %": "4ABK 58MP 5T43"
    " DBG4 HM87/0 UT92",
    "tabs where other people put spaces": "6BCT 6CA3 96NN/0 96NN/1 A2M4 DK95/0 DK95/3 DK95/4 Q5MG"
    " R4YG Y79Y/1 Y79Y/10",
    "directives that nobody knows, or of versions to come": "2LFX 6LVF BEC7 MUS6/5 MUS6/6 ZYU8/0"
    " ZYU8/1 ZYU8/2 ZYU8/3",
    "the end of a document, and text after it or without indentation": "7Z25 DK3J FP8R HWV9 M7A3"
    " QT73 W4TN",
    "anchors of other characters than letters and digits": "8XYN W5VH",
}

# The parser of PyYAML written in Python stands in where libyaml is missing. It is stricter about
# tabs and question marks; nothing may mean anything else to it.
STRICTER_IN_PYTHON = "6HB6 DC7X DK95/5 DK95/7 HS5T J3BT JR7V K54U NB6Z UV7Q Y79Y/2"


def _expected() -> dict[str, set[str]]:
    codes = {name: {"not-yaml"} for names in BY_PARSER.values() for name in names.split()}
    for code, names in BY_CODE.items():
        assert not codes.keys() & set(names.split())
        codes.update({name: set(code.split()) for name in names.split()})
    return codes


# --- the cases ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """One case: its id, its text, whether it is no YAML, and the JSON values of its documents."""

    name: str
    text: str
    broken: bool
    values: tuple[Any, ...] | None


def _shown(text: str) -> str:
    """The text of a case, with the marks the suite writes for what cannot be seen taken back."""
    text = re.sub("—*»", "\t", text.replace("␣", " ").replace("↵", "").replace("⇔", "\ufeff"))
    return re.sub("∎\n\\Z", "", text.replace("←", "\r"))


def _values(text: str) -> tuple[Any, ...]:
    values, decoder, text = [], json.JSONDecoder(), text.strip()
    while text:
        value, end = decoder.raw_decode(text)
        values.append(value)
        text = text[end:].strip()
    return tuple(values)


def _cases() -> list[Case]:
    cases: list[Case] = []
    for file in sorted(SUITE.glob("*.yaml")):
        held: dict[str, Any] = {}
        several = yaml.safe_load(file.read_text("utf-8"))
        for number, own in enumerate(several):
            # A later case of a file takes over what it does not say, except that it is broken.
            held = {**{key: held[key] for key in held if key != "fail"}, **own}
            text = held.get("json")
            cases.append(
                Case(
                    name=f"{file.stem}/{number}" if len(several) > 1 else file.stem,
                    text=_shown(held["yaml"]),
                    broken=bool(held.get("fail")),
                    values=_values(text) if isinstance(text, str) else None,
                )
            )
    return cases


CASES = _cases() if SUITE.is_dir() else []

READ_ALL = """
import json, sys, yaml
import engine.document as document
from engine.errors import DocumentError
if sys.argv[1] == "python":
    document._BaseLoader = yaml.BaseLoader
def read(text):
    try:
        return {"value": document.parse_document(text.encode(), "case.yaml").data}
    except DocumentError as error:
        return {"problems": [
            [p.code, p.place and [p.place.file, p.place.line, p.place.column], p.message]
            for p in error.problems
        ]}
json.dump([read(text) for text in json.load(sys.stdin)], sys.stdout)
"""


def _read_all(parser: str) -> dict[str, dict[str, Any]]:
    # In another process: a crash or a hang of the parser's C code ends that one, and shows here.
    run = subprocess.run(
        [sys.executable, "-c", READ_ALL, parser],
        input=json.dumps([case.text for case in CASES]),
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return dict(zip((case.name for case in CASES), json.loads(run.stdout), strict=True))


@pytest.fixture(scope="module")
def results() -> dict[str, dict[str, Any]]:
    if not yaml.__with_libyaml__:
        pytest.skip("libyaml is not there")
    return _read_all("libyaml")


@pytest.fixture(scope="module")
def python_results() -> dict[str, dict[str, Any]]:
    return _read_all("python")


def same(left: object, right: object) -> bool:
    """Equal, and of one kind: neither `1` and `true` nor `1` and `1.0` are."""
    if type(left) is not type(right):
        return False
    if isinstance(left, dict) and isinstance(right, dict):
        return left.keys() == right.keys() and all(same(left[key], right[key]) for key in left)
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(map(same, left, right))
    return left == right


def check_placed(case: Case, problems: list[Any]) -> None:
    lines = re.split("\r\n|\r|\n", case.text)
    for _, place, message in problems:
        file, line, column = place
        assert file == "case.yaml"
        assert 1 <= line <= len(lines)
        assert 1 <= column <= len(lines[line - 1]) + 1
        assert message


def codes(result: dict[str, Any]) -> set[str]:
    return {code for code, _, _ in result["problems"]}


def test_the_suite_is_all_there() -> None:
    assert len(CASES) > 400
    assert len({case.name for case in CASES}) == len(CASES)
    assert _expected().keys() <= {case.name for case in CASES if not case.broken}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_case(case: Case, results: dict[str, dict[str, Any]]) -> None:
    result, expected = results[case.name], _expected().get(case.name)
    if "problems" in result:
        check_placed(case, result["problems"])
    if case.broken:
        assert "problems" in result, f"no YAML, but read as {result['value']!r}"
    elif expected is not None:
        assert "problems" in result, f"read as {result['value']!r}; take it off the list"
        assert codes(result) == expected
    else:
        assert "value" in result, result
        assert case.values is not None
        assert same(list(case.values) or [None], [result["value"]])


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_case_without_libyaml(case: Case, python_results: dict[str, dict[str, Any]]) -> None:
    result = python_results[case.name]
    if "problems" in result:
        check_placed(case, result["problems"])
        known = case.name in _expected() or case.name in STRICTER_IN_PYTHON.split()
        assert case.broken or known, result
        return
    assert not case.broken, f"no YAML, but read as {result['value']!r}"
    assert case.name not in STRICTER_IN_PYTHON.split()
    if case.values is not None:
        assert same(list(case.values) or [None], [result["value"]])
