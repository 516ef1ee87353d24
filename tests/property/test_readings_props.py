"""Files of readings: what is laid out in any way comes back exactly, and nothing gets past refusal.

Layouts, separators, decimal marks, encodings, lines above and below are drawn at random around
readings that are known.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from engine.errors import InputError
from engine.quantity import Kind, from_unit
from engine.readings import READINGS, Given, Understood, understand
from engine.readings.source import read_source
from engine.ruleset import load_ruleset
from engine.ruleset.model import RuleSet
from engine.supplied import supplied_ruleset_folder

PANELS = ("bonnet", "roof", "cab door left", "cab door right", "front wing left", "rear bumper")
OTHER_NAMES = {
    "bonnet": "Hood",
    "roof": "ROOF",
    "cab door left": "LH cab door",
    "cab door right": "Cab-door R/H",
    "front wing left": "LF fender",
    "rear bumper": "bumper rear",
}
MARKS = {";": "semicolon", ",": "comma", "\t": "tab", "|": "bar"}
UNITS = ("mil", "um", "mm")

Spots = list[list[str]]


@pytest.fixture(scope="module")
def refinish() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@dataclass(frozen=True)
class Drawn:
    """Readings by panel as plain numbers, and everything about how they are written down."""

    readings: dict[str, Spots]
    unit: str
    layout: str
    separator: str
    decimal: str
    quotes: bool
    end: str
    encoding: str
    above: bool
    unit_in: str
    renamed: bool
    statistics: bool
    checks: bool
    blank_lines: bool


@st.composite
def numbers(draw: st.DrawFn, unit: str) -> str:
    places = draw(st.sampled_from([1, 2]))
    highest = {"mil": 90, "um": 2400, "mm": 2}[unit]
    whole = draw(st.integers(0, highest - 1))
    return f"{whole}.{draw(st.integers(0, 10**places - 1)):0{places}d}"


@st.composite
def drawn_files(draw: st.DrawFn) -> Drawn:
    unit = draw(st.sampled_from(UNITS))
    layout = draw(st.sampled_from(["long", "rows", "columns", "blocks", "spot rows"]))
    several = layout in ("long", "spot rows", "columns")
    spot = st.lists(numbers(unit), min_size=1, max_size=3 if several else 1)
    if layout == "spot rows":
        spot = st.lists(numbers(unit), min_size=2, max_size=3)
    spots = st.lists(spot, min_size=1, max_size=5)
    panels = draw(st.lists(st.sampled_from(PANELS), min_size=1, max_size=4, unique=True))
    separator = draw(st.sampled_from(list(MARKS)))
    decimal = draw(st.sampled_from([".", ","]))
    return Drawn(
        readings={panel: draw(spots) for panel in panels},
        unit=unit,
        layout=layout,
        separator=separator,
        decimal=decimal,
        quotes=draw(st.booleans()),
        end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"])),
        above=draw(st.booleans()),
        unit_in=draw(st.sampled_from(["heading", "cell", "above", "told"])),
        renamed=draw(st.booleans()),
        statistics=draw(st.booleans()),
        checks=draw(st.booleans()),
        blank_lines=draw(st.booleans()),
    )


class Writer:
    """Writes drawn readings the way a gauge or a spreadsheet might."""

    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn

    def content(self) -> bytes:
        drawn = self.drawn
        rows: list[list[str]] = []
        if drawn.above:
            rows += [["Gauge", "film gauge"], ["Serial no", "007"]]
        if drawn.unit_in == "above" and drawn.layout != "blocks":
            rows += [["Unit", drawn.unit]]
        if rows and drawn.blank_lines:
            rows += [[]]
        rows += getattr(self, drawn.layout.replace(" ", "_"))()
        text = io.StringIO()
        quoting = csv.QUOTE_ALL if drawn.quotes else csv.QUOTE_MINIMAL
        writer = csv.writer(
            text, delimiter=drawn.separator, quoting=quoting, lineterminator=drawn.end
        )
        writer.writerows(rows)
        encoding = drawn.encoding
        raw = text.getvalue().encode(encoding)
        return b"\xfe\xff" + raw if encoding == "utf-16-be" else raw

    def name(self, panel: str) -> str:
        return OTHER_NAMES[panel] if self.drawn.renamed else panel

    def number(self, plain: str) -> str:
        written = plain.replace(".", self.drawn.decimal)
        return f"{written} {self.drawn.unit}" if self.drawn.unit_in == "cell" else written

    def heading(self, text: str) -> str:
        return f"{text} [{self.drawn.unit}]" if self.drawn.unit_in == "heading" else text

    def long(self) -> list[list[str]]:
        rows = [["Panel", "Spot", self.heading("Reading"), "Time"]]
        if self.drawn.checks:
            rows += [["Zero check", "", self.number("0.1"), "09:58"]]
        rows += [
            [self.name(panel), str(at), self.number(plain), "10:05"]
            for panel, spots in self.drawn.readings.items()
            for at, spot in enumerate(spots, 1)
            for plain in spot
        ]
        if self.drawn.checks:
            rows += [["Zero check after", "", self.number("0.2"), "10:30"]]
        every = [
            plain for spots in self.drawn.readings.values() for spot in spots for plain in spot
        ]
        if self.drawn.statistics:
            highest = max(every, key=Fraction)
            rows += [[], ["Max", "", self.number(highest), ""], ["N", "", str(len(every)), ""]]
        return rows

    def rows(self) -> list[list[str]]:
        width = max(len(spots) for spots in self.drawn.readings.values())
        rows = [["Panel", *(self.heading(f"Spot {at}") for at in range(1, width + 1))]]
        for panel, spots in self.drawn.readings.items():
            cells = [self.number(spot[0]) for spot in spots]
            rows.append([self.name(panel), *cells, *[""] * (width - len(cells))])
        return rows

    def spot_rows(self) -> list[list[str]]:
        rows = [["Part", "Spot", *(self.heading(f"Reading {at}") for at in (1, 2, 3))]]
        for panel, spots in self.drawn.readings.items():
            for at, spot in enumerate(spots):
                cells = [self.number(plain) for plain in spot]
                rows.append([self.name(panel), f"S{at}", *cells, *[""] * (3 - len(cells))])
        return rows

    def columns(self) -> list[list[str]]:
        panels = list(self.drawn.readings)
        rows = [["Spot", *(self.heading(self.name(panel)) for panel in panels)]]
        for at in range(max(map(len, self.drawn.readings.values()))):
            for step in range(3):
                cells = [self._at(panel, at, step) for panel in panels]
                if any(cells):
                    rows.append([f"spot {at}", *cells])
        return rows

    def _at(self, panel: str, at: int, step: int) -> str:
        spots = self.drawn.readings[panel]
        found = spots[at][step : step + 1] if at < len(spots) else []
        return self.number(found[0]) if found else ""

    def blocks(self) -> list[list[str]]:
        rows: list[list[str]] = []
        for panel, spots in self.drawn.readings.items():
            rows += [["Batch", self.name(panel)]]
            if self.drawn.unit_in == "above":
                rows += [["Units", self.drawn.unit]]
            rows += [["No", self.heading("Thickness")]]
            rows += [[str(at), self.number(spot[0])] for at, spot in enumerate(spots, 1)]
            if self.drawn.statistics:
                lowest = min((spot[0] for spot in spots), key=Fraction)
                rows += [["Min", self.number(lowest)], ["Count", str(len(spots))]]
            if self.drawn.blank_lines:
                rows += [[]]
        return rows


def amounts(drawn: Drawn) -> dict[str, tuple[tuple[Fraction, ...], ...]]:
    return {
        panel: tuple(
            tuple(from_unit(Fraction(plain), Kind.THICKNESS, drawn.unit) for plain in spot)
            for spot in spots
        )
        for panel, spots in drawn.readings.items()
    }


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(drawn=drawn_files())
def test_known_readings_come_back_exactly(drawn: Drawn, refinish: RuleSet) -> None:
    raw = Writer(drawn).content()
    spec = refinish.facts[READINGS]
    said = Given(unit=drawn.unit if drawn.unit_in == "told" else None)
    understood = understand(raw, PANELS, refinish.vocabulary, spec, said, name="a.csv")
    assert understood.problems == ()
    assert {part.match.certainty.value for part in understood.panels} == {"certain"}
    assert understood.to_confirm == ()
    assert understood.separator == MARKS[drawn.separator]
    told = understood.told(spec)
    assert {panel: fact.value for panel, fact in told.items()} == amounts(drawn)
    assert all(fact.unit == drawn.unit for fact in told.values())
    gauge = "film gauge, serial 007" if drawn.above else None
    checks = 2 if drawn.checks and drawn.layout == "long" else 0
    assert len(understood.checks) == checks
    for fact in told.values():
        assert (fact.instrument or "").startswith(gauge or "")
        assert ("checked before and after" in (fact.instrument or "")) == bool(checks)
        assert fact.at == ("10:05" if drawn.layout == "long" else None)


shards = st.sampled_from(
    ["Panel", "panel", "roof", "Hood", "LH door", "Reading", "Reading [um]", "Thickness (mil)",
     "um", "mil", "Unit", "Spot", "1", "2", "3", "4,9", "4.9", "1,250", "1.250,5", "147", "-1",
     "OL", "---", ">2000", "n/a", "Mean", "N", "Zero", "shim 5.0 mil", "before", "Date", "10:05",
     "Batch", "bonnet", "=1+1", "@x", "+", '"', '""', "'", ";", ",", "\t", "|", "\n", "\n\n",
     "\r\n", ":", " ", "sep=;", "[", "]", "(", ")", "/", "5.0/5.2", "5 mil", "x", "\u00b5m", "É",
     "1e3", "1e99", "½", "\u202e", "\x1b", "\ufeff", "12345678901234567890123456789012345678901"]
)  # fmt: skip
tables = st.lists(shards, max_size=60).map("".join)
heads = st.sampled_from(
    ["Panel", "Part", "roof", "Hood", "Reading [um]", "Thickness (mil)", "Spot", "No", "Time",
     "Unit", "Mean", "Zero", "1", "2", "3", "", "x", "Remark", "um"]
)  # fmt: skip
cells = st.sampled_from(
    ["roof", "Hood", "bonnet", "LH cab door", "1", "2", "147", "147.5", "147,5", "5.1 mil", "OL",
     "", "", "n/a", "Mean", "Zero", "shim 50 um", "x", "-3", "1/4", "5.0/5.2", "\u00bc", "um", "=1"]
)  # fmt: skip
tame = st.sampled_from(["147", "152.5", "5.25", "", "OL", "roof", "Hood", "bonnet", "Zero"])
grids = st.tuples(
    st.sampled_from(";,\t|"),
    st.lists(heads, min_size=1, max_size=5),
    st.sampled_from([cells, tame, tame]).flatmap(
        lambda these: st.lists(st.lists(these, min_size=1, max_size=5), max_size=8)
    ),
).map(lambda grid: "\n".join(grid[0].join(row) for row in [grid[1], *grid[2]]))
raw_files = st.one_of(
    st.binary(max_size=300),
    grids.map(str.encode),
    grids.map(str.encode),
    grids.map(str.encode),
    tables.map(str.encode),
    tables.map(lambda text: text.encode("utf-16")),
    st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
)
given_things = st.just(Given(unit="um")) | st.builds(
    Given,
    panel=st.sampled_from([None, None, "roof", "nothing", ""]),
    unit=st.sampled_from([None, "mil", "um", "furlong"]),
    per_spot=st.sampled_from([None, None, 1, 2]),
    names=st.dictionaries(st.sampled_from(["Hood", "roof", "x"]), st.sampled_from(["", "roof"])),
    separator=st.sampled_from([None, None, "comma", "semicolon", "tab", "bar"]),
    decimal=st.sampled_from([None, None, "point", "comma"]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@example(raw=b"\xff\xfe", said=Given())
@example(raw=b"roof;1\x0017;2", said=Given())
@example(raw=b"Panel;;;\n;;;\nroof;1;2;3\n", said=Given())
@given(raw=raw_files, said=given_things)
def test_whatever_comes_is_understood_or_refused(
    raw: bytes, said: Given, refinish: RuleSet
) -> None:
    spec = refinish.facts[READINGS]
    try:
        understood = understand(raw, PANELS, refinish.vocabulary, spec, said, name="a.csv")
        told = understood.told(spec)
    except InputError as error:
        check_refusal(error)
        return
    check_all_accounted_for(raw, understood)
    for panel, fact in told.items():
        assert panel in PANELS
        assert isinstance(fact.value, tuple)
        for spot in fact.value:
            assert all(0 <= amount <= 2_500 for amount in spot)


def check_refusal(error: InputError) -> None:
    assert error.problems
    assert all(problem.fix for problem in error.problems)


def check_all_accounted_for(raw: bytes, understood: Understood) -> None:
    """Each reading stands in the file where it is said to stand, with the digits it has there."""
    lines = read_source(raw, "a.csv").text.split("\n")
    readings = [reading for part in understood.panels for spot in part.spots for reading in spot]
    for reading in readings:
        line = lines[reading.place.line - 1]
        digits = [char for char in reading.written.split()[0] if char.isdigit()]
        there = line[reading.place.column - 1 :]
        assert all(digit in there for digit in digits)
        assert reading.amount is not None


def test_a_file_on_disk_reads_as_its_bytes(tmp_path: Path, refinish: RuleSet) -> None:
    raw = b"Panel;Reading um\nroof;147\n"
    file = tmp_path / "a.csv"
    file.write_bytes(raw)
    spec = refinish.facts[READINGS]
    by_path = understand(file, PANELS, refinish.vocabulary, spec, name="a.csv")
    assert by_path == understand(raw, PANELS, refinish.vocabulary, spec, name="a.csv")
