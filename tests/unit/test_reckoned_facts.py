"""Reckoned facts as a decision sees them: what they take, what they leave, what they refuse."""

from __future__ import annotations

import json
from typing import Any

import pytest

from engine.document import parse_document
from engine.jobfile import parse_job
from engine.reasoning.decide import decide, inquiry_for
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN
from engine.reasoning.program import compile_ruleset
from engine.reckoning.reckoners import RECKONERS
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder(), with_cases=False)
PROGRAM = inquiry_for(RULESET).program
SHOP = {
    "air-temperature": "21 degC",
    "relative-humidity": "50 %",
    "surface-temperature": "20 degC",
    "region": "eu",
    "spray-booth": "yes",
}
CAR = {
    "drive": "combustion",
    "washed": "yes",
    "wash-soap": "silicone-free",
    "degreased": "yes",
    "dressings": "no",
    "topcoat": "base-and-clear",
    "lead-test": "negative",
}
PANEL = {
    "part": "original",
    "substrate": "steel",
    "defects": ["none"],
    "rust": "none",
    "film.gauge": "magnetic",
    "film.readings": ["125 um", "130 um", "127 um", "126 um", "128 um"],
    "filler.found": "none",
}


def job(panels: dict[str, dict[str, Any]], car: dict[str, str] | None = None, **shop: str) -> Any:
    """A sound van; panels differ from PANEL, the shop from SHOP; `absent` removes a fact."""
    told = {
        "prepwright": "job/1",
        "job": "BM-7",
        "shop": without_absent({**SHOP, **{k.replace("_", "-"): v for k, v in shop.items()}}),
        "car": {**CAR, **(car or {})},
        "panels": {name: without_absent({**PANEL, **differs}) for name, differs in panels.items()},
    }
    return parse_job(parse_document(json.dumps(told), "bm-7.json"), RULESET)


def without_absent(sheet: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in sheet.items() if value != "absent"}


def run(panels: dict[str, dict[str, Any]], **shop: str) -> Evaluation:
    return evaluate(PROGRAM, job(panels, **shop))


def exact(evaluation: Evaluation, panel: str | None, fact: str) -> Any:
    return evaluation.subject(panel).exact.get(PROGRAM.slots[fact])


def state(evaluation: Evaluation, panel: str | None, fact: str) -> Any:
    return evaluation.subject(panel).vector[PROGRAM.slots[fact]]


def readings(*um: float) -> dict[str, Any]:
    return {"film.readings": [f"{each} um" for each in um]}


# --- the registry ---------------------------------------------------------------------------------


def test_every_reckoning_is_declared_by_the_supplied_rule_set() -> None:
    declared = {spec.reckoned for spec in RULESET.facts.values() if spec.reckoned}
    assert declared == set(RECKONERS)


@pytest.mark.parametrize("name", RECKONERS)
def test_what_a_reckoner_takes_is_there(name: str) -> None:
    reckoner = RECKONERS[name]
    assert set(reckoner.takes) <= set(RULESET.facts)
    assert set(reckoner.alike) <= set(reckoner.reads)
    assert set(reckoner.limits) <= set(RULESET.limits)
    assert set(reckoner.tables) <= set(RULESET.tables)


# --- corrections ----------------------------------------------------------------------------------


def test_every_figure_of_the_film_rests_on_corrected_readings() -> None:
    pulled = {"film.gauge": "pull-off", "film.base-reading": "10 um"}
    found = run({"roof": pulled})
    plain = run({"roof": {}})
    for fact in ("film.typical", "film.low", "film.high"):
        assert exact(found, "roof", fact) == exact(plain, "roof", fact) - 10
    for fact in ("film.spread", "film.spots", "film.uncertainty"):
        assert exact(found, "roof", fact) == exact(plain, "roof", fact)


def test_the_base_metal_holds_the_profile_already() -> None:
    both = {"film.gauge": "pull-off", "film.base-reading": "10 um", "metal-profile": "coarse"}
    assert exact(run({"roof": both}), "roof", "film.correction") == 10
    profile = {"film.gauge": "pull-off", "metal-profile": "coarse"}
    assert exact(run({"roof": profile}), "roof", "film.correction") == 40


@pytest.mark.parametrize("gauge", ["eddy-current", "ultrasonic"])
def test_a_gauge_the_correction_was_not_made_for_is_left_alone(gauge: str) -> None:
    panel = {"substrate": "aluminium", "rust": "absent", "film.gauge": gauge}
    found = run({"roof": {**panel, "metal-profile": "medium"}})
    assert state(found, "roof", "film.correction") is NOT_APPLICABLE
    assert exact(found, "roof", "film.typical") == 127


def test_a_correction_beyond_a_reading_is_refused_once_and_decides_nothing() -> None:
    panel = {"film.gauge": "pull-off", "film.base-reading": "50 um", **readings(125, 48, 130)}
    decision = decide(RULESET, job({"roof": panel}))
    roof = decision.panels["roof"]
    assert roof.treatment is None
    assert not decision.complete
    (refused,) = roof.found.refused
    assert refused.fact == "film.correction"
    assert refused.why.startswith("A film reading of 48 µm is below the 50 µm that is taken off")
    assert "film.typical" not in roof.found.facts


# --- missing and bad input ------------------------------------------------------------------------


def test_air_without_water_is_refused_and_holds_the_coating() -> None:
    decision = decide(RULESET, job({"roof": {}}, relative_humidity="0 %"))
    assert [refused.fact for refused in decision.car.refused] == ["air.dew-point"]
    assert "air with no water has no dew point" in decision.car.refused[0].why
    assert "air.dew-margin" not in decision.car.facts
    assert any(hold.topic == "air" and hold.provisional for hold in decision.car.holds)


def test_cure_outside_its_rule_is_refused_and_no_time_is_given() -> None:
    decision = decide(RULESET, job({"roof": {}}, surface_temperature="14 degC"))
    (refused,) = decision.car.refused
    assert refused.fact == "cure.factor"
    assert "take the time from the product data sheet" in refused.why
    assert "cure.time" not in decision.car.facts
    assert decision.panels["roof"].treatment == "sand"


def test_a_failed_reckoning_asks_no_question_more() -> None:
    """What cannot be reckoned must not make unrelated answers look as if they mattered."""
    asked = [
        {(each.panel, each.fact) for each in decide(RULESET, job({"roof": {}}, **shop)).questions}
        for shop in ({}, {"surface_temperature": "14 degC"})
    ]
    assert asked[0] == asked[1]


def test_filler_without_its_area_is_not_reckoned() -> None:
    found = run({"roof": {"filler.to-build": "4 mm", "filler.shape": "dish"}})
    assert exact(found, "roof", "filler.layers") == 2
    assert state(found, "roof", "filler.volume") is NOT_APPLICABLE


# --- humidity by two ways -------------------------------------------------------------------------


def test_a_told_humidity_goes_before_the_wet_bulb() -> None:
    found = run({"roof": {}}, wet_bulb="14 degC", air_pressure="1013 mbar")
    assert exact(found, None, "air.humidity") == 50
    assert exact(found, None, "air.humidity-by-wet-bulb") != 50


def test_humidity_nobody_knows_stays_open() -> None:
    found = run({"roof": {}}, relative_humidity="unknown")
    assert state(found, None, "air.humidity") is OPEN
    assert state(found, None, "air.dew-margin") is OPEN


def test_the_barometer_is_asked_for_where_a_wet_bulb_leaves_the_margin_open() -> None:
    def asked(**shop: str) -> set[str]:
        near = {"relative_humidity": "absent", "surface_temperature": "15.8 degC"}
        return {each.fact for each in decide(RULESET, job({"roof": {}}, **near, **shop)).questions}

    assert "shop.air-pressure" not in asked()
    assert "shop.relative-humidity" in asked()
    by_bulb = asked(wet_bulb="16 degC")
    assert "shop.air-pressure" in by_bulb
    assert "shop.relative-humidity" not in by_bulb


# --- beside other panels --------------------------------------------------------------------------


def test_the_reference_is_the_median_of_the_other_panels_alike() -> None:
    found = run(
        {
            "roof": readings(150, 150, 150),
            "bonnet": readings(100, 100, 100),
            "wing": readings(104, 104, 104),
            "sill": readings(120, 120, 120),
            "door": {"substrate": "galvanised-steel", **readings(10, 10, 10)},
            "bumper": {"substrate": "plastic", "film.readings": "absent", "rust": "absent"},
        }
    )
    assert exact(found, "roof", "film.reference") == 104
    assert exact(found, "roof", "film.offset") == 46
    assert exact(found, "bonnet", "film.reference") == 120
    assert exact(found, "bonnet", "film.offset") == -20
    assert state(found, "roof", "film.beside-others") == "thicker"
    assert state(found, "door", "film.reference") is NOT_APPLICABLE
    assert state(found, "bumper", "film.reference") is NOT_APPLICABLE


def test_a_panel_that_may_compare_leaves_the_reference_open() -> None:
    others = {"wing": readings(104, 104, 104), "sill": readings(120, 120, 120)}
    unread = run({"roof": {}, **others, "door": {"film.readings": "absent"}})
    assert state(unread, "roof", "film.reference") is OPEN
    unnamed = run({"roof": {}, **others, "door": {"substrate": "absent"}})
    assert state(unnamed, "roof", "film.reference") is OPEN
    other_metal = {"substrate": "galvanised-steel", "film.readings": "absent"}
    apart = run({"roof": {}, **others, "door": other_metal})
    assert exact(apart, "roof", "film.reference") == 112


def test_an_explanation_names_the_panels_compared_with() -> None:
    found = run({"roof": {}, "wing": readings(104, 104), "sill": readings(120, 120)})
    told = [reason.text for _, reason in Explainer(found).fact("film.reference", "roof").walk()]
    assert "wing: Typical film: 104 um" in told
    assert "sill: Typical film: 120 um" in told


def test_the_order_of_panels_does_not_matter() -> None:
    panels = {"roof": {}, "wing": readings(104, 104, 104), "sill": readings(120, 120, 120)}
    forth, back = run(panels), run(dict(reversed(panels.items())))
    for name in panels:
        assert forth.panels[name].vector == back.panels[name].vector


# --- the same again -------------------------------------------------------------------------------


def test_what_was_kept_is_what_is_worked_out_anew() -> None:
    told = ({"roof": {}, "wing": readings(104, 104, 104)}, {"wet_bulb": "14 degC"})
    kept = evaluate(PROGRAM, job(told[0], **told[1]))
    anew = evaluate(compile_ruleset.__wrapped__(RULESET), job(told[0], **told[1]))
    assert kept.car.exact == anew.car.exact
    for name, panel in kept.panels.items():
        assert panel.exact == anew.panels[name].exact
        assert panel.vector == anew.panels[name].vector


def test_every_reading_since_the_last_passed_check_is_suspect() -> None:
    panel = {"film.readings": [["125 um", "126 um"], "127 um"]}
    for before, after, suspect in (
        ("passed", "passed", 0),
        ("passed", "failed", 3),
        ("failed", "passed", 3),
        ("passed", "absent", 3),
    ):
        checks = without_absent({"gauge-before": before, "gauge-after": after})
        found = evaluate(PROGRAM, job({"roof": panel}, car=checks))
        assert exact(found, "roof", "film.suspect-readings") == suspect
    unchecked = evaluate(PROGRAM, job({"roof": panel}))
    assert state(unchecked, "roof", "film.suspect-readings") is NOT_APPLICABLE
