"""Reckoned facts of the supplied rule set against published values and reference libraries.

Sources: SSPC-PA 2 (2012; base metal reading and number of areas, read in secondary texts); ISO
19840:2012 (correction for profile, from memory); ASTM D610-08(2019), Table 1 (read); ISO 4628-3
(from memory); ASTM D3359-23 and ISO 2409:2020 (classes side by side: ASTM column read, ISO column
from memory; cuts read in a field report, spacing of ISO 2409 from memory); psychrolib 2.5.0
(ASHRAE Handbook, Fundamentals 2017, chapter 1), run here; scipy's Student t, run here; a
protective-coatings journal of March 2016 for the humidity at a surface on the margin (read). The
rule of half the time for 10 degC warmer is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import psychrolib
import pytest
from scipy import stats

from engine.reckoning.reckoners import RECKONERS, Given
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder(), with_cases=False)
MIL = Fraction(254, 10)
BAR = Fraction(101_325, 100_000)
FT2 = Fraction(9_290_304, 10**8)


@pytest.fixture(autouse=True)
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def reckon(name: str, values: Mapping[str, Any]) -> Any:
    """What a reckoning gives; numbers are taken as the decimals they print."""
    exact = {
        fact: Fraction(str(value)) if isinstance(value, (int, float)) else value
        for fact, value in values.items()
    }
    return RECKONERS[name].compute(Given(exact, RULESET))


def spots(*um: Fraction | float) -> tuple[tuple[Fraction, ...], ...]:
    return tuple((Fraction(each),) for each in um)


# --- film -----------------------------------------------------------------------------------------


def test_base_metal_reading_of_sspc_pa_2() -> None:
    """5.1 mil read, 0.4 mil on the bare metal: 4.7 mil of film."""
    film = spots(Fraction("5.1") * MIL)
    less = reckon(
        "film.correction",
        {
            "film.readings": film,
            "film.gauge": "pull-off",
            "film.base-reading": Fraction("0.4") * MIL,
        },
    )
    typical = reckon("film.typical", {"film.readings": film, "film.correction": less})
    assert typical == Fraction("4.7") * MIL


@pytest.mark.parametrize(
    ("profile", "left"), [("fine", 120), ("medium", 105), ("coarse", 90), ("blasted", 105)]
)
def test_profile_corrections_of_iso_19840(profile: str, left: int) -> None:
    """130 µm read; the profile nobody knows is taken as medium."""
    film = spots(130)
    given = {"film.readings": film, "film.gauge": "magnetic", "metal-profile": profile}
    less = reckon("film.correction", given)
    assert reckon("film.typical", {"film.readings": film, "film.correction": less}) == left


@pytest.mark.parametrize(
    ("ft2", "areas"),
    [(15, 1), (100, 1), (101, 2), (215, 3), (300, 3), (1000, 3), (1001, 4), (2001, 5)],
)
def test_spots_by_area_of_sspc_pa_2(ft2: int, areas: int) -> None:
    assert reckon("film.spots-needed", {"area": ft2 * FT2}) == 5 * areas


@pytest.mark.parametrize(
    "film", [(118, 122, 120, 119, 121, 124, 117), (4.6, 4.8, 4.7), (90, 140), (5, 5, 5, 5.5)]
)
def test_uncertainty_is_the_t_interval_of_scipy(film: tuple[float, ...]) -> None:
    found = reckon("film.uncertainty", {"film.readings": spots(*(Fraction(str(x)) for x in film))})
    mean = sum(film) / len(film)
    _, high = stats.t.interval(0.95, len(film) - 1, loc=mean, scale=stats.sem(film))
    assert float(found) == pytest.approx(high - mean, rel=1e-9)


def test_one_spot_has_no_scatter_to_reckon_from() -> None:
    assert reckon("film.uncertainty", {"film.readings": spots(120)}) is None


# --- ratings --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("percent", "grade"),
    [
        (0, 10), (0.01, 10), (0.02, 9), (0.03, 9), (0.1, 8), (0.3, 7), (0.31, 6), (1, 6), (3, 5),
        (10, 4), (12, 3), (16, 3), (33, 2), (50, 1), (51, 0), (100, 0),
    ],
)  # fmt: skip
def test_rust_grades_of_astm_d610(percent: float, grade: int) -> None:
    assert reckon("rust.grade", {"rust-area": percent}) == grade


@pytest.mark.parametrize(
    ("percent", "degree"),
    [(0, 0), (0.05, 1), (0.5, 2), (1, 3), (8, 4), (40, 5), (0.06, 2), (9, 5), (80, 5)],
)
def test_degrees_of_rusting_of_iso_4628_3(percent: float, degree: int) -> None:
    """At each reference picture; between two the worse, which is this project's choice."""
    assert reckon("rust.degree", {"rust-area": percent}) == degree


@pytest.mark.parametrize(
    ("iso", "astm"), [(0, "5B"), (1, "4B"), (2, "3B"), (3, "2B"), (4, "1B"), (5, "0B")]
)
def test_cross_cut_scales_run_opposite_ways(iso: int, astm: str) -> None:
    assert reckon("adhesion.astm-class", {"adhesion-class": iso}) == astm


@pytest.mark.parametrize(
    ("um", "test", "cuts", "spacing"),
    [
        (40, "cross-cut", 11, 1),
        (50, "cross-cut", 11, 1),
        (51, "cross-cut", 6, 2),
        (125, "cross-cut", 6, 2),
        (126, "x-cut", None, None),
    ],
)
def test_tape_test_by_film_of_astm_d3359(
    um: int, test: str, cuts: int | None, spacing: int | None
) -> None:
    given = {"film.typical": um}
    assert reckon("adhesion.test", given) == test
    assert reckon("adhesion.cuts", given) == cuts
    assert reckon("adhesion.spacing", given) == spacing


@pytest.mark.parametrize(
    ("um", "spacing"), [(60, 1), (61, 2), (120, 2), (121, 3), (250, 3), (251, None)]
)
def test_cut_spacing_of_iso_2409(um: int, spacing: int | None) -> None:
    """On hard ground; the method ends at 250 µm."""
    assert reckon("adhesion.iso-spacing", {"film.typical": um}) == spacing


# --- air ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("air", [10, 15, 21, 30, 35])
@pytest.mark.parametrize("humidity", [30, 50, 70, 85])
def test_humidity_by_wet_bulb_against_psychrolib(air: float, humidity: float) -> None:
    wet = psychrolib.GetTWetBulbFromRelHum(air, humidity / 100, 101_325)
    given = {"shop.air-temperature": air, "shop.wet-bulb": wet, "shop.air-pressure": BAR}
    found = reckon("air.humidity-by-wet-bulb", given)
    assert float(found) == pytest.approx(humidity, abs=0.35)


@pytest.mark.parametrize(
    ("air", "humidity"), [(20, 60), (25, 50), (30, 80), (10, 85), (35, 70), (18, 65)]
)
def test_dew_point_and_surface_against_psychrolib(air: float, humidity: float) -> None:
    dew = psychrolib.GetTDewPointFromRelHum(air, humidity / 100)
    given = {"shop.air-temperature": air, "air.humidity": humidity}
    found = reckon("air.dew-point", given)
    assert float(found) == pytest.approx(dew, abs=0.05)
    needed = reckon("air.surface-needed", {"air.dew-point": found})
    assert needed == found + RULESET.limits["air.dew-margin-least"].amount
    vapour = psychrolib.GetVapPresFromRelHum(air, humidity / 100)
    at_surface = 100 * vapour / psychrolib.GetSatVapPres(float(needed))
    surface = {**given, "shop.surface-temperature": needed}
    assert float(reckon("air.surface-humidity", surface)) == pytest.approx(at_surface, abs=0.2)


@pytest.mark.parametrize(("air", "humidity", "at_metal"), [(20, 60, 82.2), (25, 70, 83.1)])
def test_humidity_at_metal_on_the_margin(air: float, humidity: float, at_metal: float) -> None:
    """Three degrees over the dew point the air at the metal is at 82 to 83 %."""
    given = {"shop.air-temperature": air, "air.humidity": humidity}
    surface = reckon("air.dew-point", given) + 3
    found = reckon("air.surface-humidity", {**given, "shop.surface-temperature": surface})
    assert float(found) == pytest.approx(at_metal, abs=0.2)


@pytest.mark.parametrize(("surface", "air"), [(15, 20), (12, 18), (20, 30)])
def test_humidity_needed_keeps_the_margin_exactly(surface: float, air: float) -> None:
    """Held against psychrolib: at that humidity the dew point lies the margin below the surface."""
    given = {"shop.surface-temperature": surface, "shop.air-temperature": air}
    needed = float(reckon("air.humidity-needed", given))
    assert psychrolib.GetTDewPointFromRelHum(air, needed / 100) == pytest.approx(
        surface - 3, abs=0.05
    )


@pytest.mark.parametrize(
    ("humidity", "may_wait"),
    [(40, "same-shift"), (40.1, "watched"), (55, "watched"), (56, "at-once")],
)
def test_bloom_band_of_sspc_tr_3(humidity: float, may_wait: str) -> None:
    """Bloom quickens above about 40 to 55 % at the surface (read in a secondary text)."""
    assert reckon("metal.hold-time", {"air.surface-humidity": humidity}) == may_wait


# --- cure and filler ------------------------------------------------------------------------------


@pytest.mark.parametrize(("degC", "factor"), [(30, 0.5), (20, 1.0), (15, 2**0.5), (25, 0.5**0.5)])
def test_cure_halves_for_ten_degrees(degC: float, factor: float) -> None:
    given = {"car.topcoat": "base-and-clear", "shop.surface-temperature": degC}
    assert float(reckon("cure.factor", given)) == pytest.approx(factor, rel=1e-12)
    drying = RULESET.products["clearcoat"].handling.drying
    assert drying is not None
    assert drying.cured_h is not None
    time = reckon("cure.time", {**given, "cure.factor": factor})
    assert float(time) == pytest.approx(float(drying.cured_h) * factor, rel=1e-12)


def test_a_paraboloid_holds_half_its_cylinder() -> None:
    """Geometry (Archimedes): 0.05 m2, 4 mm deep; 30 % of what is put on is sanded off again."""
    given = {"filler.to-build": 4000, "filler.area": 0.05, "filler.shape": "dish"}
    volume = reckon("filler.volume", given)
    assert float(volume) == pytest.approx(0.05 * 4 / 2 / 0.7)
    mass = reckon("filler.mass", {"filler.volume": volume})
    assert float(reckon("filler.hardener", {"filler.mass": mass})) == pytest.approx(
        float(mass) * 0.02
    )
