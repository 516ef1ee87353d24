"""Running worked cases: what counts as met, and what is said where it is not."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest

from engine.ruleset import load_ruleset
from engine.ruleset.run_cases import CaseResult, coverage, run_cases

SMALL = Path(__file__).parent / "small_ruleset"

SOUND = "{substrate: steel, defects: [none], film.readings: [5 mil, 5.2 mil, 5.1 mil]}"


@pytest.fixture
def results(tmp_path):
    """Runs the small rule set with one case, written as the keys after `case:`."""

    def run(*keys: str, panel: str = SOUND, warmth: str = "20 degC") -> CaseResult:
        folder = copytree(SMALL, tmp_path / "small", dirs_exist_ok=True)
        lines = [
            "cases:",
            "- case: the case",
            f"  shop: {{shop.air-temperature: {warmth}}}",
            "  car: {car.washed: yes}",
            f"  panel: {panel}",
            *(f"  {key}" for key in keys),
        ]
        (folder / "cases" / "film.yaml").write_text("\n".join(lines) + "\n", "utf-8")
        (result,) = run_cases(load_ruleset(folder))
        return result

    return run


def test_the_cases_of_the_small_rule_set_pass():
    found = run_cases(load_ruleset(SMALL))
    assert found
    assert [result.failures for result in found] == [()] * len(found)


def test_a_rule_that_should_fire_tells_what_it_lacks_and_by_how_much(results):
    (failure,) = results("fires: [film-over-limit]").failures
    assert failure == (
        "film-over-limit should fire, but it is quiet; "
        "to fire it needs typical film above 304.8 um (it is 130 um, 175 um away)"
    )


def test_a_rule_that_should_stay_quiet_tells_what_keeps_it_from_that(results):
    (failure,) = results("quiet: [film-within-limit]").failures
    assert failure.startswith("film-within-limit should stay quiet, but it fires; to stay quiet")
    assert "typical film above 304.8 um (it is 130 um" in failure


def test_an_unknown_fact_leaves_a_rule_open(results):
    bare = "{substrate: steel, defects: [none]}"
    assert results("open: [film-over-limit]", panel=bare).passed
    (failure,) = results("fires: [film-over-limit]", panel=bare).failures
    assert "is open" in failure
    assert "(not known)" in failure


def test_a_rule_about_the_car_is_looked_up_on_the_car(results):
    result = results("fires: [not-washed]")
    assert result.failures == (
        "not-washed should fire, but it is quiet; to fire it needs washed to be no (it is yes)",
    )
    assert results("quiet: [not-washed]").nearness == {"not-washed": 1}


def test_the_treatment_is_the_settled_one(results):
    assert results("expect: {treatment: sand}").passed
    (failure,) = results("expect: {treatment: strip}").failures
    assert "should be strip, but it is sand" in failure
    assert "film-over-limit" in failure


def test_an_open_treatment_is_written_open(results):
    bare = "{substrate: steel, defects: [none]}"
    assert results("expect: {treatment: open}", panel=bare).passed
    (failure,) = results("expect: {treatment: sand}", panel=bare).failures
    assert "is open" in failure
    assert "film.readings" in failure


def test_outcomes_there_and_not_there(results):
    met = "expect: {cautions: [dust], steps: [sand-panel], no-holds: [wash]}"
    assert results(met).passed
    unmet = "expect: {no-cautions: [dust], no-steps: [sand-panel], holds: [wash]}"
    failures = results(unmet).failures
    assert len(failures) == 3
    assert any("hold wash should be there; the nearest rule not-washed" in f for f in failures)
    assert any("caution dust should not be there; film-within-limit" in f for f in failures)
    assert any("step sand-panel should not be there; film-within-limit" in f for f in failures)


@pytest.mark.parametrize("written", ["5.1 mil", "129.5 um", "129.54 um", "0.00510 in"])
def test_a_number_is_compared_to_the_decimals_written(results, written):
    assert results(f"expect: {{facts: {{film.typical: {written}}}}}").passed


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("5.2 mil", "film.typical should be 5.2 mil, but it is 5.1 mil"),
        ("5 mil", "film.typical should be 5 mil, but it is 5.1 mil"),
        ("129.6 um", "film.typical should be 129.6 um, but it is 129.5 um"),
        ("130 um", "film.typical should be 130 um, but it is 129.5 um"),
        ("unknown", "film.typical should not be known, but it is 130 um"),
    ],
)
def test_another_number_is_another_number(results, written, said):
    assert results(f"expect: {{facts: {{film.typical: {written}}}}}").failures == (said,)


def test_a_fact_may_be_expected_unknown(results):
    bare = "{substrate: steel, defects: [none]}"
    assert results("expect: {facts: {film.typical: unknown}}", panel=bare).passed
    (failure,) = results("expect: {facts: {film.typical: 5 mil}}", panel=bare).failures
    assert "not known" in failure


def test_a_value_that_cannot_be_read_fails_the_case_with_its_place(results):
    (failure,) = results("fires: []", panel="{substrate: stele}").failures
    assert "cases/film.yaml:2:" in failure
    assert "`steel`" in failure


def test_every_rule_without_its_two_cases_is_found():
    ruleset = load_ruleset(SMALL)
    found = run_cases(ruleset)
    lacking = coverage(ruleset, found)
    fired = {rule for result in found for rule in result.case.fires}
    assert set(lacking.never_fired) == set(ruleset.rules) - fired
    assert "film-within-limit" not in lacking.never_near


def test_a_failing_case_covers_nothing(results):
    failing = results("fires: [film-within-limit, film-over-limit]")
    assert not failing.passed
    ruleset = load_ruleset(SMALL)
    assert coverage(ruleset, [failing]).never_fired == tuple(ruleset.rules)


def test_how_near_a_miss_is_counts_the_tests_that_keep_the_rule_quiet(results):
    assert results("quiet: [strip-work]").nearness == {"strip-work": 1}
    assert results("quiet: [strip-work]", warmth="40 degC").nearness == {"strip-work": 2}
