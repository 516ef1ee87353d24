"""Many panels, sorted out once, compare as each of them with all others one by one."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from unittest.mock import patch

from hypothesis import given, settings
from hypothesis import strategies as st

from engine.facts import JobFacts, Told
from engine.reasoning import evaluate as evaluator
from engine.reasoning.decide import inquiry_for
from engine.reasoning.program import Program
from engine.reckoning.averages import median_of
from engine.reckoning.others import Kin, Others, median_among
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

films = st.fractions(0, 2000, max_denominator=12)


@cache
def program() -> Program:
    return inquiry_for(load_ruleset(supplied_ruleset_folder(), with_cases=False)).program


@given(st.lists(films, min_size=2, max_size=30))
def test_the_median_of_the_others_is_that_of_the_rest_of_the_list(values: list[Fraction]) -> None:
    kin = Kin()
    kin.members += [{"film": value} for value in values]
    for place in range(len(values)):
        rest = values[:place] + values[place + 1 :]
        others = Others(kin, place)
        assert [one["film"] for one in others] == rest
        assert len(others) == len(rest)
        assert median_among(others, "film") == median_of(rest)


@st.composite
def panels(draw: st.DrawFn) -> dict[str, Told]:
    """A panel told whole, in part, or with "don't know" where it decides what it compares with."""
    told = {}
    for fact in ("substrate", "part"):
        choices = program().facts[fact].spec.choice_ids[:2]
        answer = draw(st.sampled_from(["nothing", None, *choices]))
        if answer != "nothing":
            told[fact] = Told(answer, "")
    if draw(st.integers(0, 3)):
        told["film.readings"] = Told(tuple((draw(films),) for _ in range(3)), "")
    return told


@settings(max_examples=60, deadline=None)
@given(st.lists(panels(), max_size=12), st.booleans())
def test_panels_sorted_out_come_to_what_panels_one_by_one_do(
    sheets: list[dict[str, Told]], whole: bool
) -> None:
    if whole:
        sheets = [
            sheet
            for sheet in sheets
            if len(sheet) == 3 and all(told.value is not None for told in sheet.values())
        ]
    job = JobFacts("job", panels={f"p{place}": sheet for place, sheet in enumerate(sheets)})
    one_by_one = evaluator.evaluate(program(), job)
    with patch.object(evaluator, "_MANY", -1):
        together = evaluator.evaluate(program(), job)
    assert together == one_by_one
