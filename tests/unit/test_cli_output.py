"""Wrapping, neutralising and JSON: whatever the text, the screen stays whole."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from cli.main import run
from cli.output.jsontext import json_text
from cli.output.page import Page, wrap
from cli.output.safe import neutral, neutral_lines
from cli.output.style import Style

ANY_TEXT = st.text(st.characters(), max_size=200)
DANGEROUS = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def dangerous(text: str) -> list[str]:
    return [
        char for char in text
        if unicodedata.category(char) in DANGEROUS and char not in "\n\u200c\u200d"
    ]  # fmt: skip


@given(ANY_TEXT)
def test_neutral_text_is_one_line_without_control_or_direction_characters(text):
    assert dangerous(neutral(text)) == []
    assert "\n" not in neutral(text)


@given(ANY_TEXT)
def test_neutral_lines_keep_their_breaks(text):
    assert dangerous(neutral_lines(text)) == []
    assert neutral_lines(text).count("\n") == text.count("\n")


@given(st.text(st.sampled_from("abc ÄÖé書架,."), max_size=80))
def test_harmless_text_is_left_alone(text):
    assert neutral_lines(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b[2J", "\\x1b[2J"),
        ("a\u202eb", "a\\u202eb"),
        ("\x9b31m", "\\x9b31m"),
        ("\ufeff", "\\ufeff"),
        ("two\nlines\there", "two lines here"),
    ],
)
def test_what_is_taken_out_is_spelled(text, shown):
    assert neutral(text) == shown


@given(ANY_TEXT, st.integers(8, 120))
def test_wrapped_lines_fit_and_lose_nothing(text, width):
    clean = neutral(text)
    lines = wrap(clean, width)
    assert all(cell_len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(clean.split())


def test_words_are_kept_whole_where_they_fit():
    assert wrap("the bookmobile is sanded", 10) == ["the", "bookmobile", "is sanded"]
    assert wrap("bookmobilebookmobile", 10) == ["bookmobile", "bookmobile"]
    assert wrap("", 10) == [""]


def test_wide_letters_take_two_columns():
    assert wrap("書架書架書架", 8) == ["書架書架", "書架"]


@given(st.lists(ANY_TEXT, min_size=3, max_size=3), st.sampled_from([20, 40, 80]), st.booleans())
def test_a_page_is_as_wide_as_its_style(texts, width, plain):
    page = Page(Style(width=width, plain=plain))
    page.heading(texts[0])
    page.item(texts[1], marker="12.")
    page.paragraph(texts[2], indent=3)
    page.table(("One", "Two", "Three"), [texts])
    lines = page.text().split("\n")
    assert max(map(cell_len, lines)) <= width
    assert dangerous(page.text()) == []


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | ANY_TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(ANY_TEXT, inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_json_reads_back_the_same_and_is_harmless(data):
    text = json_text(data)
    assert json.loads(text) == data
    assert dangerous(text) == []
    text.encode("utf-8")


def test_json_keeps_letters_and_refuses_what_is_no_number():
    assert json_text("Kühlerhaube 書架") == '"Kühlerhaube 書架"\n'
    with pytest.raises(ValueError, match="JSON"):
        json_text(float("nan"))


@pytest.mark.parametrize("char", ["A", "書", "e\u0301", "\u0301"])
def test_a_megabyte_of_text_is_cut_with_a_note_and_whole_where_asked(char):
    text = char * (1_000_000 // len(char))
    short, whole = Page(Style(80)), Page(Style(80), whole=True)
    for page in (short, whole):
        page.item(text)
        page.table(("Job", "State"), [(text[:9], "open")])
    assert len(short.text()) < 50_000
    assert f"of {len(text):,} characters)" in " ".join(short.text().split())
    assert "".join(whole.text().split()).count(char) >= len(text) // len(char)
    assert all(cell_len(line) <= 80 for line in short.text().splitlines())


def test_a_page_is_taken_piece_by_piece():
    page, whole = Page(Style(80, plain=True)), Page(Style(80, plain=True))
    taken = ""
    for number in range(3):
        for each in (page, whole):
            each.item(f"entry {number}")
        taken += page.taken()
        assert page.taken() == ""
    assert taken == whole.text()


def test_what_is_worked_out_keeps_names_and_reads_as_words(capsys):
    run(["demo", "--plain"])
    out = " ".join(capsys.readouterr().out.split())
    assert "rust grade (ASTM D610): 4; degree of rusting (ISO 4628-3): 4" in out
    assert "what the film tells: like a factory finish;" in out
