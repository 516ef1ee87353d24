"""Reckoned facts written out: the numbers put in are those the value was reckoned from."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import pytest

from engine.document import parse_document
from engine.jobfile import parse_job
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE
from engine.reckoning.reckoners import RECKONERS
from engine.reckoning.reckoners.shown import SHOWN
from engine.reckoning.reckoners.written import Amounts, PutIn
from engine.ruleset import RuleSet, load_ruleset
from engine.ruleset.run_cases import case_facts
from engine.supplied import supplied_ruleset_folder
from engine.words import tongue

SAMPLE = """
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC, region: us}
car: {year: 1996, topcoat: base-and-clear}
panels:
  bonnet:
    part: original
    substrate: steel
    defects: [none]
    rust: none
    film: {gauge: magnetic, readings: [4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]}
    filler: {found: none}
"""

SUMS = (
    "film.spread",
    "film.above-ecoat",
    "film.offset",
    "film.spots-short",
    "build.if-sanded",
    "build.if-partly-stripped",
    "build.if-stripped",
    "build.must-come-off",
    "film.room",
    "air.dew-margin",
    "air.surface-needed",
    "air.hygrometers-apart",
    "cure.bake",
)


PUT_TOGETHER = (
    "/ sqrt(",
    "and ",
    "what the table takes off for the profile ",
    "gauge check before: ",
    "x ",
    "as the data sheet of the topcoat has it (",
)
"""Beginnings of words that have something put into them, said in their language at once."""


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


@pytest.fixture(scope="module")
def sample(ruleset: RuleSet) -> Explainer:
    job = parse_job(parse_document(SAMPLE, "BM-7.yaml"), ruleset)
    return Explainer(evaluate(inquiry_for(ruleset).program, job))


def reckonings(ruleset: RuleSet) -> Iterator[tuple[str, Any, PutIn, str]]:
    """Every reckoned fact known in a worked case: its reckoner, value, what was put in, in words.

    Panels beside the first are left out.
    """
    program = inquiry_for(ruleset).program
    for job in case_facts(ruleset):
        found = evaluate(program, job)
        explainer = Explainer(found)
        where = next(iter(found.panels))
        for fact in program.facts.values():
            name = fact.spec.reckoned
            if name is None:
                continue
            home = where if fact.spec.about == "panel" else None
            subject = found.subject(home)
            if subject.vector[fact.slot] in (OPEN, UNSURE, NOT_APPLICABLE):
                continue
            assert fact.reckoning is not None
            others = (panel for panel in found.panels.values() if panel is not subject)
            given = fact.reckoning.given(subject, found.car, others)
            assert given is not None
            (words, *_) = [
                part.text
                for part in explainer.fact(fact.spec.id, home).parts
                if part.kind == "reckoning"
            ]
            value = subject.exact.get(fact.slot, subject.vector[fact.slot])
            yield name, value, SHOWN[name](given), words


def worked_out(pieces: PutIn) -> Fraction:
    """A sum as it is written: every amount with the sign before it."""
    total, sign = Fraction(0), "+"
    for piece in pieces:
        if isinstance(piece, Amounts):
            signs = (sign, *(piece.signs or ("+",) * (len(piece.values) - 1)))
            for each, value in zip(signs, piece.values, strict=True):
                total += Fraction(value) if each == "+" else -Fraction(value)
        elif piece in ("+", "-"):
            sign = piece
    return total


def test_every_reckoning_can_be_written_out() -> None:
    assert set(SHOWN) == set(RECKONERS)


def test_what_is_written_out_comes_to_the_value(ruleset: RuleSet) -> None:
    met: set[str] = set()
    said: set[str] = set()
    for name, value, pieces, words in reckonings(ruleset):
        assert words.strip()
        said |= {piece for piece in pieces if isinstance(piece, str)}
        if name in SUMS:
            written = worked_out(pieces)
            if "never below nothing" in words:
                written = max(written, Fraction(0))
            if name == "air.hygrometers-apart":
                written = abs(written)
            # A bake is reckoned in floats.
            assert float(written) == pytest.approx(float(value), rel=1e-12), (name, words)
            met.add(name)
        elif name in ("film.typical", "film.low", "film.high", "film.reference"):
            put_in = next(piece for piece in pieces if isinstance(piece, Amounts))
            work = {"film.low": min, "film.high": max}.get(name, statistics.median)
            assert work(map(Fraction, put_in.values)) == value, (name, words)
            met.add(name)
    assert met >= {"film.typical", "build.if-sanded", "air.dew-margin", "film.reference"}
    left_english = said - tongue("es").sentences.keys() - {"x", "+", "t"}
    assert {each for each in left_english if not each.startswith(PUT_TOGETHER)} == set()


@pytest.mark.parametrize(
    ("fact", "where", "words"),
    [
        ("film.typical", "bonnet", "median of the spot means 4.9, 5.1, 5.1 mil"),
        (
            "build.if-sanded",
            "bonnet",
            "film, less sanding, plus coats: 5.1 - 0.5 + 1 + 1 + 2.5 mil",
        ),
        ("film.spread", "bonnet", "thickest less thinnest spot, 5.1 - 4.9 mil"),
    ],
)
def test_numbers_are_shown_in_the_units_of_the_region(
    sample: Explainer, fact: str, where: str | None, words: str
) -> None:
    assert sample.fact(fact, where).parts[0].text == words


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (
            "4.9, 5.1, 5.0",
            "4.9, 5.1, 5 mil - even, with a typical film of 5 mil "
            "- too few spots to test for odd ones",
        ),
        (
            "4.6, 4.7, 4.5, 9.6, 9.8, 9.7",
            "4.6, 4.7, 4.5, 9.6, 9.8, 9.7 mil - uneven: spread 5.3 mil over 2 mil "
            "- uneven: a step of 4.9 mil where the usual one is 0.1 mil",
        ),
        (
            "4.9, 5.0, 5.1, 4.9, 5.0, 5.1, 6.6",
            "4.9, 5, 5.1, 4.9, 5, 5.1, 6.6 mil - uneven: a step of 1.5 mil where the usual one is "
            "0.05 mil - uneven: apart stands 6.6 mil",
        ),
        (
            "9.0, 9.2, 9.4, 9.1, 9.2, 9.3",
            "9, 9.2, 9.4, 9.1, 9.2, 9.3 mil - even, with a typical film of 9.2 mil",
        ),
    ],
)
def test_what_made_a_film_even_or_uneven_is_shown(
    ruleset: RuleSet, readings: str, words: str
) -> None:
    text = SAMPLE.replace("[4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]", f"'{readings} mil'")
    job = parse_job(parse_document(text, "BM-7.yaml"), ruleset)
    found = Explainer(evaluate(inquiry_for(ruleset).program, job)).fact("film.history", "bonnet")
    assert found.parts[0].text == f"from level, spread and gaps of the spot means {words}"


def test_the_air_is_shown_as_it_was_measured_and_the_limits_with_their_sources(
    sample: Explainer,
) -> None:
    dew_point = sample.fact("air.dew-point", None)
    assert dew_point.text.startswith("Dew point: 52.9 degF")
    # Region us: 21 degC is 69.8 degF.
    assert dew_point.parts[0].text == "by the Magnus formula from 69.8 degF and 55 %"
    told = [reason.told.written for _, reason in dew_point.walk() if reason.told]
    assert told == ["21 degC", "55 %"]
    limits = [part for part in sample.fact("build.if-sanded", "bonnet").parts if part.source]
    assert [(part.text, str(part.source)) for part in limits] == [
        ("limit build.sanded-off: 0.5 mil", "common practice")
    ]


def test_what_is_not_known_has_no_numbers(ruleset: RuleSet) -> None:
    job = parse_job(parse_document(SAMPLE, "BM-7.yaml"), ruleset)
    job = job.withdraw("panel", "bonnet", "film.readings")
    found = Explainer(evaluate(inquiry_for(ruleset).program, job)).fact("film.typical", "bonnet")
    assert {part.kind for part in found.parts} == {"fact"}
