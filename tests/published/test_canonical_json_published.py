"""Canonical JSON against the test data published with its specification.

Sources: RFC 8785 (2020), JSON Canonicalization Scheme: chapter 3.2.2 and 3.2.3 and Appendix B
(the values of these are from memory); the public test data of the scheme (input, expected output,
expected bytes), which is not part of this project and is read where it lies beside it.
"""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from engine.errors import TrailError
from engine.trail.canonical import canonical, is_canonical, parse

DATA = Path(__file__).resolve().parents[3] / "shared" / "outside" / "rfc8785"
NAMES = ("arrays", "french", "structures", "unicode", "values", "weird")


@pytest.mark.parametrize("name", NAMES)
def test_the_published_inputs_give_the_published_bytes(name):
    if not DATA.is_dir():
        pytest.skip(f"the published test data is not there: {DATA}")
    found = canonical(parse((DATA / "input" / f"{name}.json").read_bytes()))
    expected = bytes.fromhex((DATA / "outhex" / f"{name}.txt").read_text("ascii"))
    assert found == expected
    assert found.decode("utf-8") == (DATA / "output" / f"{name}.json").read_text("utf-8").rstrip(
        "\n"
    )
    assert is_canonical(found.decode("utf-8"))


def test_every_published_input_is_tried():
    if not DATA.is_dir():
        pytest.skip(f"the published test data is not there: {DATA}")
    assert sorted(path.stem for path in (DATA / "input").iterdir()) == sorted(NAMES)


# RFC 8785, Appendix B: IEEE 754 doubles by their bits, and how they are written.
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "written"), NUMBERS)
def test_numbers_are_written_as_in_appendix_b(bits, written):
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(number) == written.encode("ascii")
    assert float(written) == number


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000", "fff0000000000000"])
def test_what_appendix_b_calls_an_error_is_refused(bits):
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    with pytest.raises(TrailError, match="not a finite number"):
        canonical({"n": number})


def test_keys_are_sorted_by_utf_16_units():
    # RFC 8785, chapter 3.2.3: the order of the keys of its example.
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    written = canonical(dict.fromkeys(keys, 0)).decode("utf-8")
    order = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert list(parse(written)) == order


def test_control_characters_are_escaped_as_the_scheme_says():
    # RFC 8785, chapter 3.2.2.2.
    assert canonical('\b\t\n\f\r\x0f\x1f"\\/\x7f\u2028') == (
        b'"\\b\\t\\n\\f\\r\\u000f\\u001f\\"\\\\/\x7f\xe2\x80\xa8"'
    )
