"""What the samples of gauge files do not reach: limits, names, decimal marks, the record."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

import engine.readings.assembly
import engine.readings.source
import engine.readings.table
from engine.errors import Place, ReadingsError
from engine.facts import JobFacts
from engine.readings import READINGS, Certainty, Given, Understood, understand
from engine.readings.cells import find_decimal, plain_number
from engine.readings.panels import PanelMatcher
from engine.readings.recording import reading_drafts
from engine.readings.table import Cell, find_separator, split_rows
from engine.ruleset import load_ruleset
from engine.ruleset.model import RuleSet
from engine.ruleset.vocabulary import Vocabulary
from engine.supplied import supplied_ruleset_folder
from engine.trail.canonical import canonical
from engine.trail.entry import EntryKind

PANELS = ("bonnet", "roof", "left front door", "right front door", "left rear door", "roof hatch")


@pytest.fixture(scope="module")
def refinish() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def read(text: str | bytes, refinish: RuleSet, **said: object) -> Understood:
    raw = text.encode() if isinstance(text, str) else text
    given = Given(**said)  # type: ignore[arg-type]
    return understand(raw, PANELS, refinish.vocabulary, refinish.facts[READINGS], given, "a.csv")


def codes(error: ReadingsError) -> list[str]:
    return [problem.code for problem in error.problems]


# --- names --------------------------------------------------------------------------------------

MATCHES = {
    "bonnet": ("bonnet", "certain"),
    " BONNET ": ("bonnet", "certain"),
    "hood": ("bonnet", "certain"),
    "LF door": ("left front door", "certain"),
    "front-left door": ("left front door", "certain"),
    "front door L/H": ("left front door", "certain"),
    "door, front, R.H.": ("right front door", "certain"),
    "doors left front": ("left front door", "certain"),
    "f left dr": ("left front door", "certain"),
    "R front door": ("right front door", "likely"),
    "bonett": ("bonnet", "likely"),
    "roof, near the hatch hinge": ("roof hatch", "likely"),
    "left door": (None, "unknown"),
    "front door": (None, "unknown"),
    "right rear door": (None, "unknown"),
    "boot": (None, "unknown"),
    "": (None, "unknown"),
    "?": (None, "unknown"),
    "hatch": ("roof hatch", "likely"),
}


@pytest.mark.parametrize(("name", "panel", "certainty"), [(k, *v) for k, v in MATCHES.items()])
def test_names_are_matched(name: str, panel: str | None, certainty: str, refinish: RuleSet) -> None:
    match = PanelMatcher(PANELS, refinish.vocabulary).match(name)
    assert (match.panel, match.certainty.value) == (panel, certainty)
    assert 0 <= match.score <= 1


def test_what_is_open_names_the_panels_that_fit(refinish: RuleSet) -> None:
    match = PanelMatcher(PANELS, refinish.vocabulary).match("front door")
    assert match.others == ("left front door", "right front door")


def test_without_a_vocabulary_only_the_words_themselves_count() -> None:
    matcher = PanelMatcher(PANELS, Vocabulary())
    assert matcher.match("door left front").certainty is Certainty.CERTAIN
    assert matcher.match("hood").panel is None


# --- separators, quotes and decimal marks -------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("a;b\n1;2\n", ";"),
        ("a;b\n1,5;2,5\n", ";"),
        ("a,b\n1;x,2\n3,4\n5,6\n7,8\n9,1\n", ","),
        ("a\tb, c\n1\t2,5\n", "\t"),
        ('"a;b","c"\n"1;2","3"\n', ","),
        ("Reading\n4,9\n5,1\n", None),
        ("4.9\n5.1\n", None),
        ("sep=|\na;b|c\n", "|"),
        ("roof,4,9\nbonnet,5,1\n", ","),
    ],
)
def test_the_separator_is_found(text: str, mark: str | None) -> None:
    assert find_separator(text, "a.csv").mark == mark


def test_a_separator_that_can_be_two_things_is_asked_for() -> None:
    with pytest.raises(ReadingsError) as error:
        find_separator("a;b|c\n1;2|3\n", "a.csv")
    assert codes(error.value) == ["unclear-separator"]
    assert find_separator("a;b|c\n1;2|3\n", "a.csv", "bar").mark == "|"


def test_cells_know_where_they_begin_across_quoted_lines() -> None:
    rows = split_rows('a;"b\n""c""";d\n\n e ;f', "a.csv", ";")
    assert [[cell.text for cell in row] for row in rows] == [["a", 'b "c"', "d"], [], ["e", "f"]]
    assert rows[0][1].place == Place("a.csv", 1, 3)
    assert rows[0][2].place == Place("a.csv", 2, 8)
    assert rows[2][0].place == Place("a.csv", 4, 2)


@pytest.mark.parametrize(
    ("numbers", "mark", "problem"),
    [
        (["4.9", "5"], ".", None),
        (["4,9", "5"], ",", None),
        (["1.250", "4,9"], ",", None),
        (["1,250", "4.9"], ".", None),
        (["1,250.5"], ".", None),
        (["1.250.000"], ",", None),
        (["1.250"], ".", None),
        (["0,125"], ",", None),
        (["1,250"], ",", "unclear-comma"),
        (["4,9", "5.1"], ".", "mixed-decimals"),
        (["7"], ".", None),
    ],
)
def test_the_decimal_mark_is_found(numbers: list[str], mark: str, problem: str | None) -> None:
    cell = Cell("", Place("a.csv", 1, 1))
    decimal = find_decimal([(cell, numbers)], None)
    assert decimal.mark == mark
    assert (decimal.problem.code if decimal.problem else None) == problem


@pytest.mark.parametrize(
    ("number", "mark", "plain"),
    [
        ("1.250,5", ",", "1250.5"), ("1,250.5", ".", "1250.5"), ("4,9", ",", "4.9"),
        ("12,34.5", ".", None), ("1.2.3", ".", None), ("1250", ",", "1250"), ("-0,4", ",", "-0.4"),
        (",5", ",", ".5"), ("1234,567", ".", None),
    ],
)  # fmt: skip
def test_a_number_is_brought_to_one_form(number: str, mark: str, plain: str | None) -> None:
    assert plain_number(number, mark) == plain
    assert plain is None or Fraction(plain) is not None


# --- limits -------------------------------------------------------------------------------------


def test_a_file_that_is_too_large_is_not_read(tmp_path: Path, refinish: RuleSet) -> None:
    file = tmp_path / "a.csv"
    with file.open("wb") as sparse:
        sparse.truncate(engine.readings.source.MAX_BYTES + 1)
    with pytest.raises(ReadingsError) as error:
        understand(file, PANELS, refinish.vocabulary, refinish.facts[READINGS])
    assert codes(error.value) == ["file-too-large"]


def test_too_many_cells_or_readings_are_refused(
    refinish: RuleSet, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "Panel;um\n" + "roof;147\n" * 20
    monkeypatch.setattr(engine.readings.assembly, "MAX_READINGS", 10)
    with pytest.raises(ReadingsError) as error:
        read(text, refinish)
    assert codes(error.value) == ["too-many-readings"]
    assert str(error.value.problems[0].place) == "a.csv:12:6"
    monkeypatch.setattr(engine.readings.table, "MAX_CELLS", 10)
    with pytest.raises(ReadingsError) as error:
        read(text, refinish)
    assert codes(error.value) == ["too-many-cells"]


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "empty-file"), (b" \r\n\t", "empty-file"), (b"\xff\xfea", "not-text"),
        (b"a\0b;c", "not-text"), (b"%PDF-1.7", "not-a-table"), (b"a\x07;1", "control-character"),
        (b"Panel;um\nroof;" + b"7" * 3_000, "long-cell"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused(raw: bytes, code: str, refinish: RuleSet) -> None:
    with pytest.raises(ReadingsError) as error:
        read(raw, refinish)
    assert codes(error.value) == [code]


def test_a_file_or_folder_that_cannot_be_read(tmp_path: Path, refinish: RuleSet) -> None:
    for path, code in ((tmp_path / "none.csv", "no-such-file"), (tmp_path, "unreadable-file")):
        with pytest.raises(ReadingsError) as error:
            understand(path, PANELS, refinish.vocabulary, refinish.facts[READINGS])
        assert codes(error.value) == [code]


def test_a_long_file_is_read_in_little_time(refinish: RuleSet) -> None:
    rows = "".join(f"roof;{n};{100 + n % 50},5;10:05\n" for n in range(4_000))
    understood = read(f"Panel;Spot;Reading um;Time\n{rows}", refinish)
    assert understood.panels[0].count == 4_000
    assert understood.problems == ()


# --- facts and the record -----------------------------------------------------------------------


def test_nothing_is_told_while_a_problem_stands(refinish: RuleSet) -> None:
    understood = read("Panel;Reading\nroof;147\n", refinish)
    with pytest.raises(ReadingsError) as error:
        understood.told(refinish.facts[READINGS])
    assert codes(error.value) == ["no-unit"]


def test_a_told_fact_says_who_when_and_with_what(refinish: RuleSet) -> None:
    text = "Gauge: a gauge\nPanel;um;Operator;Date\nroof;147;Kim;1 March\nroof;148;Ada;2 March\n"
    told = read(text, refinish).told(refinish.facts[READINGS], by="nobody")["roof"]
    assert (told.by, told.at, told.instrument) == ("Kim, Ada", "1 March to 2 March", "a gauge")
    assert told.value == ((Fraction(147),), (Fraction(148),))
    assert (told.written, told.unit) == ("147 um, 148 um", "um")
    assert told.place == Place("a.csv", 3, 6)


def test_long_texts_are_cut_to_what_a_job_keeps(refinish: RuleSet) -> None:
    text = f"Gauge: {'g' * 500}\nPanel;um\nroof;147\n"
    told = read(text, refinish).told(refinish.facts[READINGS])["roof"]
    assert told.instrument is not None
    assert len(told.instrument) == 200
    assert told.instrument.endswith("...")


def test_the_record_has_checks_around_the_readings(refinish: RuleSet) -> None:
    understood = read("Panel;um\nZero;0\nroof;147\nroof;OL\nShim 50 um;51\n", refinish)
    before = JobFacts("BM-7", panels={panel: {} for panel in PANELS})
    told = understood.told(refinish.facts[READINGS])
    after = before.tell("panel", "roof", READINGS, told["roof"])
    drafts = reading_drafts(understood, before, after, "Kim")
    kinds = [draft.kind for draft in drafts]
    check, note = EntryKind.GAUGE_CHECK, EntryKind.NOTE
    assert kinds == [note, check, EntryKind.READING, check, note]
    assert {draft.job for draft in drafts} == {"BM-7"}
    zero, shim = (draft.payload for draft in drafts if draft.kind is check)
    assert (zero["on"], zero["when"], zero["read"]) == ("zero", "before", ["0 um"])
    assert (shim["on"], shim["when"], shim["nominal"]) == ("shim", "after", "50 um")
    assert drafts[0].payload["digest"] == understood.digest
    for draft in drafts:
        assert json.loads(canonical(draft.payload)) == draft.payload
