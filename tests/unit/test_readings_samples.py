"""Sample files of many layouts, each with what has to be understood of it.

Beside each file of `readings/` stands what is understood, or why nothing is. The layouts are
invented; separators, decimal commas and byte order marks are those spreadsheets write.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from engine.errors import InputError
from engine.readings import READINGS, Given, Understood, understand
from engine.ruleset import load_ruleset
from engine.ruleset.model import RuleSet
from engine.supplied import supplied_ruleset_folder

SAMPLES = Path(__file__).parent / "readings"
FILES = sorted(SAMPLES.glob("*.csv"))
PANELS = (
    "bonnet", "roof", "left side with the painted story", "right side", "cab door left",
    "cab door right", "front wing right", "front wing left", "rear door left", "rear door right",
    "sill below the book steps", "front bumper", "roof hatch",
)  # fmt: skip

TOLD: dict[str, dict[str, Any]] = {
    "single.csv": {"panel": "roof", "unit": "mil", "per_spot": 3},
    "single-heading.csv": {"panel": "Roof"},
    "statistics-below.csv": {"panel": "roof"},
    "wide-rows.csv": {"unit": "mil"},
    "wide-rows-no-heading.csv": {"unit": "um"},
    "rows-by-spot.csv": {"unit": "mils"},
    "rows-spots-named.csv": {"unit": "mil"},
    "thousands-told.csv": {"decimal": "point"},
    "comma-told.csv": {"decimal": "comma", "panel": "roof", "unit": "mil"},
    "unknown-panels-told.csv": {"names": {"Firmware": "", "door": "cab door left"}},
    "told-wrongly.csv": {
        "panel": "roof", "unit": "mil", "per_spot": 2,
        "names": {"boot": "bonnet", "roof": "rof"},
    },
    "uneven-spots.csv": {"per_spot": 2},
}  # fmt: skip
"""What a person says beside the file, where a sample needs it."""


@pytest.fixture(scope="module")
def refinish() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def read(file: Path, refinish: RuleSet) -> Understood:
    given = Given(**TOLD.get(file.name, {}))
    spec = refinish.facts[READINGS]
    return understand(file, PANELS, refinish.vocabulary, spec, given, name=file.name)


def shown(understood: Understood, refinish: RuleSet) -> str:
    """Everything that was understood, line by line."""
    lines = [
        f"layout: {understood.layout}",
        f"encoding: {understood.encoding}; separator: {understood.separator}; "
        f"decimal mark: {understood.decimal}; units: {', '.join(understood.units) or 'none'}",
    ]
    lines += [f"about: {role} = {text}" for role, text in understood.about.items()]
    for part in understood.panels:
        spots = ", ".join("/".join(each.written for each in spot) for spot in part.spots)
        match = part.match
        lines.append(
            f"name: {part.name or '(none)'} -> {match.panel or '(unknown)'} "
            f"({match.certainty.value} {match.score:.2f}): {spots or 'nothing'}"
        )
    lines += [f"check: {check.kind}; {check.text()}" for check in understood.checks]
    lines += [f"refused: {each.place}: {each.written}" for each in understood.refused]
    lines += [f"left out: {place}: {what}" for place, what in understood.left_out]
    lines += [f"assumed: {what}" for what in understood.assumptions]
    lines += [f"confirm: {problem}" for problem in understood.to_confirm]
    lines += [f"problem: {problem}" for problem in understood.problems]
    if not understood.problems:
        for panel, told in understood.told(refinish.facts[READINGS], by="the caller").items():
            lines.append(f"told: {panel}: {told.written}")
            said = {"unit": told.unit, "at": told.at, "with": told.instrument, "by": told.by}
            lines.append("  " + "; ".join(f"{key} {value}" for key, value in said.items()))
    lines += [f"note: {note}" for note in understood.notes()]
    return "\n".join(lines) + "\n"


def outcome(file: Path, refinish: RuleSet) -> str:
    try:
        return shown(read(file, refinish), refinish)
    except InputError as error:
        return f"refused\n{error.format_message()}\n"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_sample_is_understood_as_expected(file: Path, refinish: RuleSet) -> None:
    assert outcome(file, refinish) == file.with_suffix(".expected").read_text("utf-8")


def test_every_sample_has_its_expectation_and_the_other_way_round() -> None:
    assert len(FILES) > 40
    assert {file.stem for file in FILES} == {file.stem for file in SAMPLES.glob("*.expected")}
    assert TOLD.keys() <= {file.name for file in FILES}


def test_every_problem_has_its_place_inside_the_file(refinish: RuleSet) -> None:
    placed = 0
    for file in FILES:
        try:
            understood = read(file, refinish)
            problems = (*understood.problems, *understood.to_confirm)
        except InputError as error:
            problems = error.problems
        for problem in problems:
            if problem.place is not None:
                assert problem.place.file == file.name
                lines = file.read_bytes().count(b"\n") + 1
                assert 1 <= problem.place.line <= lines
                placed += 1
            assert problem.fix
    assert placed > 40
