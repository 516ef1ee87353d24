"""Supposing facts otherwise, and the smallest change that gives another treatment."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.answers import read_value
from engine.document import parse_document
from engine.facts import JobFacts
from engine.jobfile import parse_job, read_job
from engine.reasoning.decide import decide
from engine.reasoning.supposing import Change, difference, flips, suppose
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder

SAMPLE = """
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC, region: us}
car: {year: 1996, drive: combustion, washed: yes, wash-soap: silicone-free, degreased: yes, \
dressings: no, topcoat: base-and-clear, lead-test: negative}
panels:
  bonnet:
    part: original
    substrate: steel
    defects: [none]
    rust: none
    film: {gauge: magnetic, readings: [4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]}
    filler: {found: none}
"""


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@pytest.fixture(scope="module")
def job(ruleset: RuleSet) -> JobFacts:
    return parse_job(parse_document(SAMPLE, "BM-7.yaml"), ruleset)


def change(ruleset: RuleSet, fact: str, value: object, panel: str | None = "bonnet") -> Change:
    spec = ruleset.facts[fact]
    told = read_value(spec, value)
    return Change(str(spec.about), panel, fact, spec.title, "", "", told)


def test_supposing_rust_through_renews_the_metal(ruleset: RuleSet, job: JobFacts) -> None:
    after = suppose(ruleset, job, [change(ruleset, "rust", "perforated")])
    (bonnet,) = (each for each in difference(decide(ruleset, job), after) if each.panel)
    assert bonnet.treatment == ("sand", "renew")
    assert bonnet.facts["rust"] == ("none", "perforated")
    assert "metal-clean" in bonnet.gained["holds"]
    assert "sand-finish" in bonnet.lost["steps"]


def test_equal_decisions_differ_in_nothing(ruleset: RuleSet, job: JobFacts) -> None:
    assert difference(decide(ruleset, job), decide(ruleset, job)) == ()


def test_a_panel_that_came_later_shows_as_new(ruleset: RuleSet, job: JobFacts) -> None:
    more = replace(job, panels={**job.panels, "roof": job.panels["bonnet"]})
    found = difference(decide(ruleset, job), decide(ruleset, more))
    assert [(each.panel, each.treatment) for each in found] == [("roof", (None, "sand"))]


def test_each_flip_is_what_the_rules_then_decide(ruleset: RuleSet, job: JobFacts) -> None:
    found = {flip.treatment: flip for flip in flips(ruleset, job, "bonnet")}
    assert set(found) == set(ruleset.treatments) - {"sand"}
    for treatment, flip in found.items():
        assert flip.changes
        assert len(flip.changes) == 1
        assert suppose(ruleset, job, flip.changes).panels["bonnet"].treatment == treatment


def test_the_film_that_flips_lies_just_over_the_limit(ruleset: RuleSet, job: JobFacts) -> None:
    found = {flip.treatment: flip for flip in flips(ruleset, job, "bonnet")}
    changes = found["partial-strip"].changes
    assert changes is not None
    (film,) = changes
    limit = ruleset.limits["film.overcoat-limit"].amount
    assert film.fact == "film.readings"
    assert isinstance(film.told.value, tuple)
    assert all(limit < spot[0] <= limit * 102 / 100 for spot in film.told.value)


def test_every_flip_of_the_demo_van_holds(ruleset: RuleSet) -> None:
    job = read_job(demo_folder() / "bookmobile.yaml", ruleset)
    for panel in ("roof", "loan counter flap", "front bumper"):
        for flip in flips(ruleset, job, panel, budget=1500):
            if flip.changes:
                after = suppose(ruleset, job, flip.changes)
                assert after.panels[panel].treatment == flip.treatment


def test_a_search_cut_short_says_so(ruleset: RuleSet, job: JobFacts) -> None:
    assert not any(flip.searched for flip in flips(ruleset, job, "bonnet", budget=0))
