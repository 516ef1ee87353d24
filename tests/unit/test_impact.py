"""What differs for one job between two rule sets, and which rule is named for it."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from engine.facts import Told
from engine.impact.cause import Cause, How
from engine.impact.comparison import Comparison
from engine.impact.fitting import Misfit, Unfit, fitted
from engine.impact.tally import MOST_EXAMPLES, MOST_FAILED, Tally
from engine.ruleset.load import load_ruleset
from tests.unit.impact_edits import LIMIT_HIGHER, LIMIT_LOWER, RULES, a_job, edited

OVER = "- rule: film-over-limit\n  about: panel\n"
SAND_TOO = (
    "- rule: sand-too\n  about: panel\n  when: {substrate: steel}\n  then: {treatment: sand}\n"
    "  because: Steel is sanded.\n  source: {kind: memory}\n  beats: [film-over-limit]\n"
)


@pytest.fixture(scope="module")
def small():
    return load_ruleset(RULES)


@pytest.fixture
def change_of(small, tmp_path):
    """What differs for the panel of a job after edits."""

    def changed(*edits, film="10 mil", **car):
        new = load_ruleset(edited(tmp_path / "new", *edits))
        return Comparison(small, new).of(a_job(small, {"roof": film}, **car))

    return changed


def panel(change):
    (found,) = [each for each in change.subjects if each.panel == "roof"]
    return found


def treated(change):
    found = panel(change).treatment
    return found.was, found.now, found.because


def test_a_lower_limit_takes_a_panel_deeper(change_of):
    change = change_of(LIMIT_LOWER)
    assert treated(change) == ("sand", "strip", (Cause("film-over-limit", How.FIRES),))
    given = {(each.what, each.name, each.gained) for each in panel(change).given}
    assert given == {("step", "sand-panel", False), ("caution", "dust", False)}
    assert panel(change).fires == ("film-over-limit",)
    assert panel(change).quiet == ("film-within-limit",)
    assert "panel.bares-metal" in panel(change).facts
    (car,) = [each for each in change.subjects if each.panel is None]
    assert {(each.what, each.name, each.because) for each in car.given} == {
        ("step", "wash-car", (Cause("strip-work", How.FIRES),)),
        ("caution", "dust", (Cause("strip-work", How.FIRES),)),
    }
    assert car.facts == ("car.any-stripped",)
    assert change.outcome


def test_a_higher_limit_leaves_a_panel_lighter(change_of):
    change = change_of(LIMIT_HIGHER, film="14 mil")
    assert treated(change) == ("strip", "sand", (Cause("film-over-limit", How.QUIET),))


def test_a_panel_on_neither_side_of_the_old_and_new_limit_stays(change_of):
    change = change_of(LIMIT_LOWER, film="5 mil")
    assert change.subjects == ()
    assert change.work is None
    assert not change.outcome


@pytest.mark.parametrize(
    ("edits", "film", "was", "now", "because"),
    [
        ([("rules/film.yaml", OVER, f"{SAND_TOO}{OVER}")], "14 mil", "strip", "sand",
         {("film-over-limit", How.LOSES), ("sand-too", How.ADDED)}),
        ([("rules/film.yaml", "  beats: all", "  note: beats nothing")], "14 mil", "leave",
         "strip", {("film-over-limit", How.WINS)}),
        ([("rules/film.yaml", "{treatment: strip,", "{treatment: leave,")], "14 mil", "strip",
         "leave", {("film-over-limit", How.SAYS)}),
        ([("rules/film.yaml", "film-over-limit", "film-too-thick"),
          ("cases/film.yaml", "film-over-limit", "film-too-thick"), LIMIT_HIGHER], "14 mil",
         "strip", "sand", {("film-over-limit", How.GONE)}),
        ([("rules/film.yaml", "{film.typical: {above: $film.limit}}",
           "{film.typical: {above: $film.limit}, film.gauge: magnetic}")], "14 mil", "strip",
         "none", {("film-over-limit", How.QUIET)}),
        ([("rules/film.yaml", "{film.typical: {above: $film.limit}}",
           "{film.typical: {above: $film.limit}, dents: {above: 2}}")], "14 mil", "strip", "open",
         {("film-over-limit", How.OPEN)}),
    ],
)  # fmt: skip
def test_the_rule_that_does_otherwise_is_named(small, tmp_path, edits, film, was, now, because):
    new = load_ruleset(edited(tmp_path / "new", *edits))
    job = a_job(small, {"roof": film})
    if any("beats" in before for _, before, _ in edits):
        job = job.tell("panel", "roof", "panel.refinish", Told("no", "no"))
    found = Comparison(small, new).of(job)
    assert treated(found) == (was, now, tuple(sorted(Cause(*each) for each in because)))


def test_a_decision_becomes_open_and_the_other_way_round(small, tmp_path):
    asking = ("rules/film.yaml", "{above: $film.limit}}", "{above: $film.limit}, car.washed: yes}")
    new = load_ruleset(edited(tmp_path / "new", asking))
    job = a_job(small, {"roof": "14 mil"}).withdraw("car", None, "car.washed")
    opened = Comparison(small, new).of(job)
    assert (opened.was_complete, opened.is_complete) == (True, False)
    assert treated(opened)[:2] == ("strip", "open")
    closed = Comparison(new, small).of(job)
    assert (closed.was_complete, closed.is_complete) == (False, True)
    assert treated(closed) == ("open", "strip", (Cause("film-over-limit", How.FIRES),))


def test_other_times_change_the_work_and_nothing_else(change_of):
    change = change_of(("labour.yaml", "{fixed: 30..45 min}", "{fixed: 2 h}"), film="14 mil")
    assert change.subjects == ()
    assert change.outcome
    assert change.work.before.person_hours.high == Fraction(3, 4)
    assert change.work.after.person_hours.low == 2


def test_other_words_are_no_change(change_of):
    change = change_of(
        ("rules/film.yaml", "Film and condition let the paint stay.", "It may stay."),
        ("limits.yaml", "film above this comes down", "taken down above"),
        ("steps/work.yaml", "Sand it evenly.", "Sand it."),
    )
    assert not change.outcome
    assert change.work is None


# --- told facts that a rule set does not know -----------------------------------------------------


def test_told_facts_are_laid_under_rules_that_know_less(small, tmp_path):
    new = load_ruleset(
        edited(
            tmp_path / "new",
            ("facts/car.yaml", "car.year:", "car.built:"),
            ("facts/panel.yaml", "cracking: Cracks", "crazing: Cracks"),
            ("cases/film.yaml", "car.year", "car.built"),
        )
    )
    job = a_job(small, {"roof": "14 mil", "bonnet": "5 mil"})
    job = job.tell("panel", "bonnet", "defects", Told(frozenset({"cracking"}), "cracks"))
    job = job.tell("panel", "roof", "dents", Told(None, "don't know"))
    kept, unfit = fitted(new, job)
    assert unfit == (Unfit("car.year", Misfit.UNKNOWN), Unfit("defects", Misfit.OTHER_VALUE))
    assert "car.year" not in kept.car
    assert "defects" not in kept.panels["bonnet"]
    assert kept.panels["roof"] == job.panels["roof"]
    change = Comparison(small, new).of(job)
    assert (change.unfit_before, change.unfit_after) == ((), unfit)


def test_a_fact_that_is_worked_out_or_told_of_others_now_is_left_out(small, tmp_path):
    new = load_ruleset(
        edited(
            tmp_path / "new",
            ("facts/car.yaml", "about: car\n  title: Topcoat", "about: shop\n  title: Topcoat"),
            ("facts/car.yaml", "{about: shop, title: Warming-up, kind: temperature-difference",
             "{about: shop, title: Warming-up, kind: pressure"),
        )
    )  # fmt: skip
    job = a_job(small, {"roof": "5 mil"})
    job = job.tell("shop", None, "shop.warm-up", Told(Fraction(3), "3 degC", unit="degC"))
    job = job.tell("panel", "roof", "film.typical", Told(Fraction(3), "3 um", unit="um"))
    assert fitted(new, job)[1] == (
        Unfit("car.topcoat", Misfit.OTHER_SUBJECT),
        Unfit("film.typical", Misfit.NOT_TOLD),
        Unfit("shop.warm-up", Misfit.OTHER_VALUE),
    )


# --- counting -------------------------------------------------------------------------------------


def test_counts_of_parts_join_to_the_counts_of_the_whole(small, tmp_path):
    new = load_ruleset(edited(tmp_path / "new", LIMIT_LOWER))
    comparison = Comparison(small, new)
    whole, parts = Tally(), [Tally(), Tally(), Tally()]
    for index in range(30):
        job = a_job(small, {"roof": f"{5 + index % 7} mil", "bonnet": "10 mil"})
        for tally in (whole, parts[index // 10]):
            tally.add(comparison.of(job), f"BM-{index}", index + 1)
    for tally in (whole, parts[2]):
        tally.fail("its record lacks a part", "BM-99", 99)
    joined = Tally()
    for part in parts:
        joined.join(part)
    assert joined == whole
    ((key, found),) = whole.treated.items()
    assert (key.was, key.now) == ("sand", "strip")
    assert found.panels.jobs == 30
    assert found.panels.subjects == 30 + sum(5 + index % 7 > 9 for index in range(30))
    assert len(found.panels.examples) == MOST_EXAMPLES
    assert whole.same == 0


def test_failures_are_counted_past_those_named():
    tally, other = Tally(), Tally()
    for index in range(MOST_FAILED):
        tally.fail("no", f"BM-{index}", index)
        other.fail("no", f"BM-{index}", index)
    tally.join(other)
    assert tally.failed == tally.jobs == 2 * MOST_FAILED
    assert len(tally.shown_failed) == MOST_FAILED
    assert json.dumps(tally.same) == "0"
