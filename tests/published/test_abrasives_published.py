"""Abrasive grades against published grain sizes and textbook steps.

Sources: FEPA 43-1 / ISO 6344 grain sizes, read in secondary reproductions; comparison charts of P
and CAMI grades (read); an auto collision textbook of 2022 for shaping filler (read); the ratio
limit of 2.5 is this project's own and derived.
"""

from itertools import pairwise

import pytest

from engine.reckoning.abrasives import (
    RatioRule,
    grades_from_tables,
    grain_ratio,
    number_rule_from_table,
    parse_grade,
    sequence,
)
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder(), with_cases=False)
TABLES = RULESET.tables
GRADES = grades_from_tables(TABLES["abrasives.p-grades"], TABLES["abrasives.cami-grades"])
BY_RATIO = RatioRule(RULESET.limits["abrasives.step-ratio"].amount)
BY_NUMBERS = number_rule_from_table(TABLES["abrasives.number-rule"])


def grade(text):
    return parse_grade(text)


# FEPA 43-1 / ISO 6344, read in secondary reproductions; half a micron from P240 up.
@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("P240", 58.5),
        ("P280", 52.2),
        ("P320", 46.2),
        ("P360", 40.5),
        ("P400", 35.0),
        ("P500", 30.2),
        ("P600", 25.8),
        ("P800", 21.8),
        ("P1000", 18.3),
        ("P1200", 15.3),
        ("P1500", 12.6),
        ("P2000", 10.3),
        ("P2500", 8.4),
    ],
)
def test_micro_grades(text, um):
    assert float(GRADES.median_um(grade(text))) == pytest.approx(um, abs=0.5)


# The other printed value of these sizes (read); it must lie in the tolerance the table states.
@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("P60", 260),
        ("P80", 197),
        ("P100", 156),
        ("P120", 127),
        ("P150", 97),
        ("P180", 78),
        ("P220", 65),
        ("P280", 52.5),
    ],
)
def test_coarse_grades_agree_with_the_other_source(text, um):
    tolerance = {row[0]: row[2] for row in TABLES["abrasives.p-grades"].rows}
    ours = float(GRADES.median_um(grade(text)))
    assert abs(um - ours) <= ours * tolerance[text] / 100


# Comparison charts (read): CAMI grade, the P grade beside it, printed um and its spread.
@pytest.mark.parametrize(
    ("cami", "p", "um", "spread"),
    [
        ("CAMI 320", "P400", 35, 1),
        ("CAMI 360", "P500", 28.8, 1.5),
        ("CAMI 400", "P800", 23, 1.5),
        ("CAMI 500", "P1000", 19, 1),
        ("CAMI 600", "P1200", 15.5, 0.5),
    ],
)
def test_cami_grades(cami, p, um, spread):
    assert GRADES.as_p(grade(cami)) == grade(p)
    assert float(GRADES.median_um(grade(cami))) == pytest.approx(um, abs=spread)


# Derived from the grain sizes; P80 to P180 is the textbook step that must pass.
@pytest.mark.parametrize(
    ("coarse", "fine", "ratio", "ok"),
    [
        ("P80", "P180", 2.45, True),
        ("P80", "P240", 3.44, False),
        ("P80", "P320", 4.35, False),
        ("P180", "P320", 1.77, True),
        ("P400", "P600", 1.36, True),
    ],
)
def test_steps_by_ratio(coarse, fine, ratio, ok):
    a, b = grade(coarse), grade(fine)
    assert float(grain_ratio(a, b, GRADES)) == pytest.approx(ratio, abs=0.01)
    assert BY_RATIO.step(a, b, GRADES).ok is ok


# Common practice, no source: about a hundred numbers while coarse, one or two grades when fine.
@pytest.mark.parametrize(
    ("coarse", "fine", "ok"),
    [
        ("P80", "P180", True),
        ("P80", "P240", False),
        ("P400", "P600", True),
        ("P400", "P800", False),
    ],
)
def test_steps_by_number(coarse, fine, ok):
    assert BY_NUMBERS.step(grade(coarse), grade(fine), GRADES).ok is ok


def test_filler_shaping_as_the_textbook_has_it():
    # Auto collision textbook, 2022 (read): 40, then 80, then 180.
    found = sequence(grade("P40"), grade("P180"), GRADES, rule=RatioRule(2.5))
    assert [str(step) for step in found] == ["P40", "P80", "P180"]


def test_polishing_series_steps_are_small():
    # Common practice, no source: 1500, 2000, 2500, 3000.
    series = [grade(text) for text in ("P1500", "P2000", "P2500", "P3000")]
    for a, b in pairwise(series):
        assert RatioRule(1.5).step(a, b, GRADES).ok
