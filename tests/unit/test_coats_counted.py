"""Every coat the build counts on is sprayed by a step, and every coat sprayed all over is counted.

Looked at through real plans of the supplied rules, for every substrate, part, treatment and
topcoat that they lead to.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import product

import pytest

from engine.decision import Decision
from engine.document import parse_document
from engine.jobfile import parse_job
from engine.plan import Plan, make_plan
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder

SUBSTRATES = ("steel", "galvanised-steel", "aluminium", "plastic", "fibreglass", "carbon-fibre")
METALS = SUBSTRATES[:3]
TOPCOATS = ("base-and-clear", "single-stage")
SHOP = (
    "{air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC, "
    "spray-booth: yes, region: us}"
)
THIN, THICK = (f"[{', '.join(f'{film + i / 10} mil' for i in range(5))}]" for film in (4.8, 13.0))

STATES = {
    "sound": f"defects: [none], rust: none, film.readings: {THIN}",
    "thick": f"defects: [none], rust: none, film.readings: {THICK}",
    "peeling": f"defects: [peeling], rust: none, film.readings: {THIN}",
    "cracked through": (
        f"defects: [cracking], defect-depth: to-substrate, rust: none, film.readings: {THIN}"
    ),
    "edges shown": f"defects: [edge-mapping, bleeding], rust: none, film.readings: {THIN}",
    "holed": f"defects: [none], rust: perforated, film.readings: {THIN}",
    "bare": "defects: [none], rust: none",
}
PARTS = ("original", "used", "new-ecoated", "new-bare")


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def panels(substrate: str) -> Iterator[str]:
    gauge = "magnetic" if "steel" in substrate else "ultrasonic"
    weaves = ("", "weave-shows", "painted") if substrate == "carbon-fibre" else ("",)
    for part, (state, told), weave in product(PARTS, STATES.items(), weaves):
        shown = f", carbon.weave: {weave}" if weave else ""
        yield (
            f"  {part} {state} {weave}: {{part: {part}, substrate: {substrate}, {told}, "
            f"film.gauge: {gauge}, filler.found: none{shown}}}\n"
        )


@cache
def planned(substrate: str, topcoat: str) -> tuple[Decision, Plan]:
    text = (
        f"prepwright: job/1\njob: T-1\nshop: {SHOP}\n"
        "car: {year: 1996, drive: combustion, washed: yes, wash-soap: silicone-free, "
        f"degreased: yes, dressings: no, topcoat: {topcoat}, lead-test: negative}}\n"
        f"panels:\n{''.join(panels(substrate))}"
    )
    decision = decide(
        supplied(), parse_job(parse_document(text, "job.yaml"), supplied()), ask=False
    )
    return decision, make_plan(supplied(), decision)


@pytest.mark.parametrize(("substrate", "topcoat"), list(product(SUBSTRATES, TOPCOATS)))
def test_what_is_counted_is_sprayed_and_what_is_sprayed_all_over_is_counted(
    substrate: str, topcoat: str
) -> None:
    decision, plan = planned(substrate, topcoat)
    system = supplied().systems[topcoat]
    wrong = {}
    for name, panel in decision.panels.items():
        way = supplied().treatments[panel.treatment].coats if panel.treatment else None
        if way is None:
            continue
        told = {id: fact.value for id, fact in panel.found.facts.items()}
        counted = {coat.product for coat in system.coats_on(way, told.get)}
        uses = [
            use
            for task in plan.tasks
            if name in task.task.panels
            for use in task.task.step.work.products
            if use.as_film
        ]
        sprayed = {use.product for use in uses}
        whole = {use.product for use in uses if use.covers_all(panel.treatment)}
        if not whole <= counted <= sprayed:
            wrong[name, panel.treatment] = (counted - sprayed, whole - counted)
    assert wrong == {}
    assert not [each for each in plan.assumptions if "build" in each.text]


@pytest.mark.parametrize(("substrate", "topcoat"), list(product(SUBSTRATES, TOPCOATS)))
def test_every_treatment_that_paints_is_among_them(substrate: str, topcoat: str) -> None:
    decision, _ = planned(substrate, topcoat)
    found = {panel.treatment for panel in decision.panels.values()}
    assert {"sand", "partial-strip", "strip"} <= found
    assert "renew" in found or substrate not in METALS
