"""Job files and typed words against the rule set that is supplied."""

from __future__ import annotations

from fractions import Fraction

import pytest

from engine.answers import choice_words, read_answer, read_value
from engine.document import parse_document
from engine.errors import JobFileError
from engine.jobfile import job_text, parse_job, without_places
from engine.ruleset.load import load_ruleset
from engine.ruleset.model import RuleSet
from engine.supplied import supplied_ruleset_folder

BOOKMOBILE = """\
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC,
  spray-booth: yes, region: us}
car: {year: 1996, drive: combustion, washed: yes, wash-soap: silicone-free, degreased: yes,
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
def refinish() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def test_a_job_of_the_bookmobile_reads_and_reads_back(refinish: RuleSet) -> None:
    facts = parse_job(parse_document(BOOKMOBILE, "bm-7.yaml"), refinish)
    assert len(facts.shop) == 5
    assert len(facts.car) == 8
    assert facts.car["car.year"].value == Fraction(1996)
    assert facts.panels["bonnet"]["filler.found"].value == "none"
    again = parse_job(parse_document(job_text(facts, refinish), "bm-7.yaml"), refinish)
    assert without_places(again) == without_places(facts)


def test_every_word_for_a_choice_means_that_choice(refinish: RuleSet) -> None:
    wrong = []
    for spec in refinish.facts.values():
        for word, meant in choice_words(spec).items() if spec.told else ():
            value = read_answer(spec, word).value
            if value not in (meant, frozenset({meant})):
                wrong.append((spec.id, word, meant, value))
        for choice in spec.choices if spec.told else ():
            assert read_value(spec, choice.id).written == choice.id
    assert wrong == []


def test_what_the_rules_decide_cannot_be_told(refinish: RuleSet) -> None:
    text = BOOKMOBILE + "    treatment: strip\n    film.typical: 5 mil\n"
    with pytest.raises(JobFileError) as error:
        parse_job(parse_document(text, "bm-7.yaml"), refinish)
    treatment, film = error.value.problems
    assert str(treatment).startswith("bm-7.yaml:15:5: `treatment` is what the rules decide;")
    assert "`substrate`" in (treatment.fix or "")
    assert film.fix == "Take it out and tell `film.readings`."
