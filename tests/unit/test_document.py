"""What is read of YAML, and what is refused although its parser would let it pass."""

from __future__ import annotations

import copy
import pickle

import pytest
import yaml

import engine.document
from engine.document import WrittenInt, WrittenNumber, as_written, parse_document
from engine.errors import DocumentError

REFUSED = {
    "comment-after-bracket": ("a: [b]#c\n", "comment-without-space", 1, 7),
    "comment-after-comma": ("a: [b,#c\n  d]\n", "comment-without-space", 1, 7),
    "comment-after-quote": ("a: 1\nb: 'x'#c\n", "comment-without-space", 2, 7),
    "comment-after-quote-crlf": ("a: 1\r\nb: 'x'#c\r\n", "comment-without-space", 2, 7),
    "comment-after-block": ("a: |#c\n  x\n", "comment-without-space", 1, 4),
    "dash": ("a: [-, b]\n", "lone-dash", 1, 5),
    "question": ("a: [?b]\n", "question-mark", 1, 6),
    "question-in-mapping": ("a: {c: d, ?b: c}\n", "question-mark", 1, 12),
    "quote-not-indented": ("a: 'b\nc'\n", "bad-indentation", 2, 1),
    "bracket-not-indented": ("a:\n  b: [c,\n  d]\n", "bad-indentation", 3, 3),
    "tab-for-indentation": ("a: [b,\n\tc]\n", "bad-indentation", 2, 2),
    "closing-bracket": ("a: [\n  b\n]\n", "bad-indentation", 3, 1),
    "in-a-list": ("- a: {b: c,\n  d: e}\n", "bad-indentation", 2, 3),
    "empty-block": ("a: >\n   \n # b\nc: d\n", "unclear-block", 1, 4),
    "version": ("%YAML 1.1\n---\na: no\n", "yaml-version", 1, 1),
    "version-hash": ("%YAML 1.2#\n---\na: b\n", "comment-without-space", 1, 10),
    "next-line": ("a: b\x85c: d\n", "forbidden-character", 1, 5),
    "line-separator": ("a: 1\nb: 'x\u2028y'\n", "forbidden-character", 2, 6),
    "empty-key": ("{a: b,\n ? }\n", "key-not-text", 2, 4),
    "any-tag": ("a: ! 12\n", "tag", 1, 4),
}


@pytest.mark.parametrize(("text", "code", "line", "column"), REFUSED.values(), ids=REFUSED)
def test_what_the_parser_lets_pass_is_refused_with_its_place(
    text: str, code: str, line: int, column: int
) -> None:
    with pytest.raises(DocumentError) as error:
        parse_document(text, "a.yaml")
    assert [(p.code, str(p.place)) for p in error.value.problems] == [
        (code, f"a.yaml:{line}:{column}")
    ]


TAKEN = {
    "comments": ("# a\na: [b, # c#d\n # e\n  f] # g\n#h\n", {"a": ["b", "f"]}),
    "hash-inside": ("a: b#c\nd: 'e'  #f\n", {"a": "b#c", "d": "e"}),
    "json": ('{"a":1,\n"b":[\n"-"\n],\n"c": "?x"\n}\n', {"a": 1, "b": ["-"], "c": "?x"}),
    "explicit-block-key": ("? a\n: b\n?c: d\n", {"a": "b", "?c": "d"}),
    "question-outside": ("a: ?b\nc: d?\n", {"a": "?b", "c": "d?"}),
    "indented": ("a:\n- [b,\n c]\n- 'd\n\n e'\n", {"a": [["b", "c"], "d\ne"]}),
    "block": ("a: > # b\n  c\n  # d\n# e\nf: |-\n\n  g\n", {"a": "c # d\n", "f": "\ng"}),
    "version-1-2": ("%YAML 1.2 # a\n---\na: no\n", {"a": "no"}),
    "escaped-breaks": ('a: "b\\u2028c"\n', {"a": "b\u2028c"}),
    "unended": ("a: |+\n  b\n   ", {"a": "b\n \n"}),
    "unended-text": ("a: |\n  b", {"a": "b"}),
}  # fmt: skip


@pytest.mark.parametrize("loader", ["CBaseLoader", "BaseLoader"])
@pytest.mark.parametrize(("text", "value"), TAKEN.values(), ids=TAKEN)
def test_what_is_right_is_taken(
    text: str, value: object, loader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine.document, "_BaseLoader", getattr(yaml, loader, yaml.BaseLoader))
    assert parse_document(text, "").data == value


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("1043", 1043), ("007", 7), ("+5", 5), ("-0", 0), ("-12", -12), ("0x1F", 31),
        ("0o17", 15), ("00", 0), ("1" * 300, int("1" * 300)),
    ],
)  # fmt: skip
def test_a_whole_number_keeps_how_it_was_written(written: str, number: int) -> None:
    data = parse_document(f"a: {written}\n", "").data["a"]
    assert data == number
    assert as_written(data) == written
    assert type(data) is (int if str(number) == written else WrittenInt)
    for again in (copy.deepcopy(data), pickle.loads(pickle.dumps(data))):
        assert as_written(again) == written


def test_a_scalar_as_it_was_written() -> None:
    assert as_written(WrittenNumber("12.50")) == "12.50"
    assert as_written("a") == "a"
