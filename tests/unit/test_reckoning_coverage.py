from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.cans import cans_for
from engine.reckoning.coverage import (
    EfficiencyBand,
    dry_film,
    efficiency_bands_from_table,
    efficiency_for_area,
    in_coats,
    overspray_litres,
    practical_litres,
    spreading_rate_m2_per_L,
    theoretical_litres,
    wet_film,
    wet_spread_m2_per_L,
)
from tests.unit.rules_by_hand import table

films = st.fractions(1, 500, max_denominator=20)
solids = st.fractions(1, 100, max_denominator=20)
thinners = st.fractions(0, 100, max_denominator=20)
areas = st.fractions(Fraction(1, 10), 40, max_denominator=20)
BANDS = [EfficiencyBand(1, 35), EfficiencyBand(3, 50), EfficiencyBand(None, 60)]


@given(films, solids, thinners)
def test_wet_and_dry_film_are_inverse(film, vs, thinner):
    mix = {"volume_solids_percent": vs, "thinner_percent": thinner}
    wet = wet_film(film, **mix)
    assert wet >= film
    assert dry_film(wet, **mix) == film


@given(films, solids)
def test_wet_spread_is_the_spreading_rate(film, vs):
    wet = wet_film(film, volume_solids_percent=vs, thinner_percent=0)
    assert wet_spread_m2_per_L(wet_film_um=wet) == spreading_rate_m2_per_L(
        volume_solids_percent=vs, dry_film_um=film
    )


@given(areas, films, solids, st.fractions(1, 100), st.fractions(0, 99))
def test_practical_litres_leave_the_theoretical_on_the_panel(area, film, vs, efficiency, loss):
    litres = practical_litres(
        area,
        film,
        volume_solids_percent=vs,
        transfer_efficiency_percent=efficiency,
        other_loss_percent=loss,
    )
    ideal = theoretical_litres(area, film, volume_solids_percent=vs)
    assert litres * (1 - loss / 100) * efficiency / 100 == ideal
    sprayed = litres * (1 - loss / 100)
    assert sprayed - overspray_litres(sprayed, transfer_efficiency_percent=efficiency) == ideal


@given(films, st.integers(1, 9), solids, thinners)
def test_coats_add_up_to_the_film(film, count, vs, thinner):
    coats = in_coats(film, coats=count, volume_solids_percent=vs, thinner_percent=thinner)
    assert coats.dry_film_each * coats.count == film


@pytest.mark.parametrize(
    ("area", "percent"), [(0.2, 35), (1, 35), (1.01, 50), (3, 50), (3.5, 60), (400, 60)]
)
def test_efficiency_by_area(area, percent):
    assert efficiency_for_area(area, table=BANDS) == percent


def test_efficiency_bands_come_from_a_table():
    bands = table(["up-to-m2", "percent"], [[1, 35], [3, 50], ["any", 60]])
    assert list(efficiency_bands_from_table(bands)) == BANDS


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ([], "is empty"),
        ([EfficiencyBand(1, 35)], "ends at 1 m2 and the panel has 2 m2"),
        ([EfficiencyBand(None, 60), EfficiencyBand(5, 50)], "only the last band"),
        ([EfficiencyBand(5, 60), EfficiencyBand(3, 50)], "from small to large"),
        ([EfficiencyBand(5, 0)], "transfer efficiency must be more than 0"),
    ],
)
def test_a_wrong_efficiency_table_is_refused(table, says):
    with pytest.raises(ReckoningError, match=says):
        efficiency_for_area(2, table=table)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"volume_solids_percent": 0}, "volume_solids_percent must be more than 0"),
        ({"volume_solids_percent": None}, "volume_solids_percent is missing; take it from"),
        ({"transfer_efficiency_percent": 101}, "must be from 0 to 100"),
        ({"other_loss_percent": 100}, "nothing is left to spray"),
        ({"other_loss_percent": -1}, "must be from 0 to 100"),
    ],
)
def test_impossible_litres_are_refused(change, says):
    given_ = {
        "volume_solids_percent": 45,
        "transfer_efficiency_percent": 60,
        "other_loss_percent": 5,
    }
    with pytest.raises(ReckoningError, match=says):
        practical_litres(2, 50, **(given_ | change))


CAN_SIZES = st.lists(
    st.sampled_from([Fraction(n, 4) for n in (1, 2, 3, 4, 5, 7, 10, 14, 20)]),
    min_size=1,
    max_size=4,
    unique=True,
)


@given(st.fractions(Fraction(1, 10), 6, max_denominator=20), CAN_SIZES)
def test_cans_cover_the_need_with_least_left_over_then_fewest(need, sizes):
    cans = cans_for(need, can_sizes_L=sizes)
    assert cans.bought_L == sum(size * count for size, count in cans.counts.items()) >= need
    assert cans.left_over_L == cans.bought_L - need
    tried = [
        (sum(s * n for s, n in zip(sizes, counts, strict=True)), sum(counts))
        for counts in product(*(range(int(need / s) + 2) for s in sizes))
    ]
    assert (cans.bought_L, cans.number) == min(pair for pair in tried if pair[0] >= need)


def test_the_largest_can_first_would_leave_more_over():
    cans = cans_for(3, can_sizes_L=[2.5, 1])
    assert dict(cans.counts) == {1: 3}
    assert cans.left_over_L == 0


def test_sizes_without_a_common_measure():
    cans = cans_for(1.9, can_sizes_L=[Fraction("0.946352946"), 1, 5])
    assert cans.left_over_L == Fraction("1.946352946") - Fraction("1.9")


def test_no_can_sizes_is_refused():
    with pytest.raises(ReckoningError, match="can_sizes_L is empty"):
        cans_for(1, can_sizes_L=[])


def test_a_hopeless_search_is_refused_and_does_not_hang():
    with pytest.raises(ReckoningError, match="too many volumes"):
        cans_for(1000, can_sizes_L=[0.001, 0.00101])
