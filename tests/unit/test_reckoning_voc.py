from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.voc import (
    Basis,
    Contents,
    VocLimit,
    governing_limit,
    judge_voc,
    judge_voc_figure,
    limits_from_table,
    mixed_voc,
    multistage_average,
    voc_actual,
    voc_content,
)
from tests.unit.rules_by_hand import table

COLUMNS = ["category", "limit-g-per-L", "basis"]
vocs = st.floats(0, 900)


@given(
    st.fractions(0, 500),
    st.fractions(1, 300),
    st.fractions(Fraction(1, 1000), Fraction(2, 5)),
    st.fractions(1, 300),
    st.fractions(Fraction(1, 1000), Fraction(2, 5)),
)
def test_leaving_out_water_and_exempt_never_lowers_below_the_actual(voc, water, wv, exempt, ev):
    mix = Contents(1, voc + water + exempt, water, wv, exempt, ev)
    assert voc_content(mix, basis=Basis.LESS_WATER_AND_EXEMPT) >= voc_actual(mix)
    assert voc_content(mix, basis=Basis.LESS_WATER) >= voc_content(mix, basis=Basis.AS_IS)


def test_the_three_bases_of_one_mix():
    mix = Contents(1, 600, 200, 0.2, 100, 0.1)
    assert voc_content(mix, basis=Basis.LESS_WATER_AND_EXEMPT) == Fraction(3000, 7)
    assert voc_content(mix, basis=Basis.LESS_WATER) == 500
    assert voc_content(mix, basis=Basis.AS_IS) == 400
    assert voc_actual(mix) == 300


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ((1, 100, 90, 0.09, 20, 0.02), "weigh 110 g, all the volatiles only 100 g"),
        ((1, 1200, 800, 0.8, 200, 0.2), "leaving no coating"),
        ((1, 500, 200, 0, 0, 0), "water_g is 200 and water_L is 0: give both"),
        ((1, 500, 0, 0, 0, 0.1), "exempt_g is 0 and exempt_L is 0.1: give both"),
        ((0, 500, 0, 0, 0, 0), "volume_L must be more than 0"),
        ((1, None, 0, 0, 0, 0), "volatiles_g is missing"),
    ],
)
def test_impossible_contents_are_refused(values, says):
    with pytest.raises(ReckoningError, match=says):
        Contents(*values)


@given(vocs, st.lists(vocs, max_size=3), vocs, st.floats(0.5, 4))
def test_a_multistage_average_lies_between_its_coats(base, mids, clear, weight):
    average = multistage_average(base=base, midcoats=mids, clear=clear, clear_weight=weight)
    coats = [Fraction(repr(v)) for v in (base, *mids, clear)]
    assert min(coats) <= average <= max(coats)


@given(st.lists(st.tuples(st.floats(0.01, 9), vocs), min_size=1, max_size=5))
def test_a_mix_lies_between_its_components(components):
    values = [Fraction(repr(voc)) for _, voc in components]
    assert min(values) <= mixed_voc(components) <= max(values)


def test_mixing_nothing_has_no_voc():
    with pytest.raises(ReckoningError, match="no volume"):
        mixed_voc([(0, 400)])


LIMITS = (
    VocLimit("primer", Fraction(540), Basis.LESS_WATER),
    VocLimit("topcoat", Fraction(420), Basis.LESS_WATER),
    VocLimit("cleaner", Fraction(200), Basis.AS_IS),
)


def test_exactly_on_the_limit_is_within():
    mix = Contents(1, 420, 0, 0, 0, 0)
    verdict = judge_voc(mix, limits=LIMITS, categories=["topcoat", "primer"])
    assert verdict.within
    assert verdict.governing.category == "topcoat"


def test_a_waterborne_paint_is_judged_on_the_basis_of_its_limit():
    mix = Contents(1, 735, 630, 0.63, 0, 0)
    assert judge_voc(mix, limits=LIMITS, categories=["topcoat"]).voc_g_per_L == Fraction(10500, 37)
    assert judge_voc(mix, limits=LIMITS, categories=["cleaner"]).voc_g_per_L == 105


@pytest.mark.parametrize(
    ("categories", "says"),
    [
        ([], "no VOC category is given"),
        (["glitter"], "no VOC limit for glitter .* it has cleaner, primer, topcoat"),
        (["topcoat", "cleaner"], "limited on different bases"),
    ],
)
def test_a_limit_that_cannot_govern_is_refused(categories, says):
    with pytest.raises(ReckoningError, match=says):
        governing_limit(LIMITS, categories)


def test_a_figure_on_another_basis_is_refused():
    with pytest.raises(ReckoningError, match="is less-water, the figure is as-is"):
        judge_voc_figure(300, Basis.AS_IS, governing=LIMITS[0])


@pytest.mark.parametrize(
    ("columns", "rows", "says"),
    [
        (["category"], [["a"]], "lacks the column limit-g-per-L, basis; it has category"),
        (COLUMNS, [["a", 1]], "row 1 of the table of VOC limits has 2 cells, not 3"),
        (COLUMNS, [], "has no rows"),
        (COLUMNS, [["a", 420, "dry"]], "has the basis 'dry'"),
        (COLUMNS, [["a", "420", "as-is"]], "VOC limit of a is not a number"),
        (COLUMNS, [["a", 420, "as-is"], ["a", 1, "as-is"]], "two VOC limits"),
    ],
)
def test_a_wrong_table_is_refused(columns, rows, says):
    with pytest.raises(ReckoningError, match=says):
        limits_from_table(table(columns, rows))
