"""One reading written wrongly, in every layout and place: named or asked about, never lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from engine.errors import ReadingsError
from engine.readings import READINGS, Given, Understood, understand
from engine.ruleset import load_ruleset
from engine.ruleset.model import RuleSet
from engine.supplied import supplied_ruleset_folder

PANELS = ("bonnet", "roof", "front wing left")
SLIPS = (
    "x12", "~120", "120a", "12O", "R3", "Spot 2", "mean", "n=3", "bonnet", "roof", "um", "**",
    "#120", "120 (edge)", "12..0", "1,2,0", "see note", "reading", "Panel", "spot", "3/", "Check",
    "zero", "thickness", "avg 120", "120 mil um", "date", "bonnet: 120",
)  # fmt: skip
READ = (("121", "124", "119"), ("130", "133", "131"), ("118", "117", "116"))
PLACES = [(row, column) for row in range(3) for column in range(3)]

Grid = list[list[str]]


@pytest.fixture(scope="module")
def refinish() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def long(grid: Grid) -> str:
    return "Panel;Reading\n" + long_without_heading(grid)


def long_without_heading(grid: Grid) -> str:
    pairs = [(panel, each) for panel, row in zip(PANELS, grid, strict=True) for each in row]
    return "".join(f"{panel};{each}\n" for panel, each in pairs)


def across(grid: Grid) -> str:
    rows = zip(PANELS, grid, strict=True)
    return "Panel;1;2;3\n" + "".join(f"{panel};{';'.join(row)}\n" for panel, row in rows)


def in_columns(grid: Grid) -> str:
    rows = enumerate(zip(*grid, strict=True), 1)
    heading = f"Spot;{';'.join(PANELS)}\n"
    return heading + "".join(f"{spot};{';'.join(row)}\n" for spot, row in rows)


def read(text: str, folder: Path, refinish: RuleSet) -> Understood:
    file = folder / "slip.csv"
    file.write_text(text, "utf-8")
    spec, given = refinish.facts[READINGS], Given(unit="um")
    return understand(file, PANELS, refinish.vocabulary, spec, given)


def taken(understood: Understood) -> int:
    return sum(part.count for part in understood.panels if part.match.panel is not None)


LAYOUTS = pytest.mark.parametrize("layout", [long, long_without_heading, across, in_columns])


@LAYOUTS
def test_without_a_slip_every_reading_is_taken(layout, tmp_path, refinish) -> None:
    understood = read(layout([list(row) for row in READ]), tmp_path, refinish)
    assert (taken(understood), understood.problems, understood.to_confirm) == (9, (), ())


@LAYOUTS
@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_named_asked_about_or_shown_as_left_out(
    layout: Callable[[Grid], str], slip: str, tmp_path: Path, refinish: RuleSet
) -> None:
    for row, column in PLACES:
        grid = [list(each) for each in READ]
        grid[row][column] = slip
        try:
            understood = read(layout(grid), tmp_path, refinish)
        except ReadingsError:
            continue
        shown = any(slip in what for _, what in understood.left_out)
        named = understood.problems or understood.to_confirm or understood.refused
        assert named or shown or taken(understood) == 9, (row, column)
