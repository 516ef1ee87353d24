from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.mixing import (
    PercentOf,
    add_percent,
    hardener_mass_g,
    hardener_percent,
    mix_by_parts,
    mixed_solids_percent,
    pot_life_batches,
    scale_readings,
)

parts = st.floats(0.01, 50)
ratios = st.dictionaries(st.sampled_from("ABCDE"), parts, min_size=1)


@given(st.floats(0.01, 50), ratios)
def test_parts_sum_to_the_volume_exactly(volume, ratio):
    assert sum(mix_by_parts(volume, ratio).values()) == Fraction(repr(volume))


@given(ratios, st.floats(0, 50))
def test_the_two_meanings_of_a_percentage_agree_only_for_one_part(ratio, percent):
    whole = add_percent(ratio, name="thinner", percent=percent, of=PercentOf.WHOLE_MIX)
    first = add_percent(ratio, name="thinner", percent=percent, of=PercentOf.FIRST_PART)
    same = len(ratio) == 1 or percent == 0
    assert (whole["thinner"] == first["thinner"]) is same


def test_an_unchosen_percentage_is_refused_with_both_meanings():
    with pytest.raises(ReckoningError) as caught:
        add_percent({"A": 2, "B": 1}, name="thinner", percent=10, of=None)
    assert "of the whole mix (0.3 parts) or of A alone (0.2 parts)" in str(caught.value)


def test_an_addition_may_not_hide_a_part():
    with pytest.raises(ReckoningError, match="A is in the ratio already"):
        add_percent({"A": 2}, name="A", percent=10, of=PercentOf.WHOLE_MIX)


@pytest.mark.parametrize("ratio", [{}, {"A": 0, "B": 0}])
def test_a_ratio_without_parts_is_refused(ratio):
    with pytest.raises(ReckoningError, match="has no parts"):
        mix_by_parts(1, ratio)


def test_a_negative_part_is_named():
    with pytest.raises(ReckoningError, match="part of B must be 0 or more"):
        mix_by_parts(1, {"A": 2, "B": -1})


@given(st.lists(st.tuples(parts, st.floats(0, 100)), min_size=1, max_size=5))
def test_mixed_solids_lie_between_those_of_the_components(components):
    mixed = mixed_solids_percent(components)
    contents = [Fraction(repr(content)) for _, content in components]
    assert min(contents) <= mixed <= max(contents)


def test_mixing_nothing_has_no_solids():
    with pytest.raises(ReckoningError, match="no parts"):
        mixed_solids_percent([])


def test_scale_readings_add_up_in_pouring_order():
    readings = scale_readings(
        1, {"paint": 4, "hardener": 1}, density_g_per_mL={"hardener": 1, "paint": 1.25}
    )
    assert [(r.component, r.mass_g, r.shown_g) for r in readings] == [
        ("paint", 1000, 1000),
        ("hardener", 200, 1200),
    ]


def test_a_missing_density_is_named():
    with pytest.raises(ReckoningError, match="density of hardener is missing"):
        scale_readings(1, {"paint": 4, "hardener": 1}, density_g_per_mL={"paint": 1.25})


@given(st.floats(1, 5000), st.floats(0.1, 10))
def test_hardener_by_mass_comes_back(filler, percent):
    hardener = hardener_mass_g(filler, hardener_percent=percent)
    assert hardener_percent(filler, hardener) == Fraction(repr(percent))


@given(st.floats(0.1, 40), st.floats(0.1, 8), st.floats(10, 100), st.floats(0.5, 20))
def test_batches_fit_the_pot_life_and_one_fewer_would_not(volume, life, usable, rate):
    batches = pot_life_batches(
        volume, pot_life_h=life, usable_percent=usable, application_rate_L_per_h=rate
    )
    wanted = Fraction(repr(volume))
    assert batches.volume_each_L * batches.count == wanted
    assert batches.volume_each_L <= batches.most_per_batch_L
    assert batches.hours_each <= Fraction(repr(life)) * Fraction(repr(usable)) / 100
    if batches.count > 1:
        assert wanted / (batches.count - 1) > batches.most_per_batch_L


def test_a_pot_life_just_long_enough_is_one_batch():
    batches = pot_life_batches(2, pot_life_h=1, usable_percent=50, application_rate_L_per_h=4)
    assert batches.count == 1
