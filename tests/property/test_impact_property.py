"""Impacts held to deciding and planning every job twice in full and comparing what comes out."""

from __future__ import annotations

import shutil
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.impact.comparison import NONE, OPEN, Comparison
from engine.impact.tally import Tally
from engine.impact.worked import worked_impact
from engine.plan import make_plan
from engine.plan.as_json import plan_json
from engine.reasoning.decide import decide
from engine.ruleset.load import load_ruleset
from engine.ruleset.run_cases import case_facts
from engine.ruleset.shop_folder import new_shop
from engine.supplied import supplied_ruleset_folder
from tests.unit.impact_edits import RULES, a_job, edited

EDITS = (
    ("limits.yaml", "{value: 12 mil,", "{value: 8 mil,"),
    ("limits.yaml", "{value: 10 degC,", "{value: 25 degC,"),
    ("rules/film.yaml", "{treatment: strip,", "{treatment: leave,"),
    ("rules/film.yaml", "  beats: all", "  note: beats nothing"),
    ("rules/film.yaml", "{not: {substrate: plastic}}", "{substrate: plastic}"),
    ("rules/film.yaml", "caution: [dust]", "hold: wash"),
    ("rules/car.yaml", "  when-open: apply", "  note: waits"),
    ("rules/car.yaml", "when: {car.washed: no}", "when: {car.washed: yes}"),
    ("labour.yaml", "{fixed: 30..45 min}", "{fixed: 1 h}"),
    ("steps/work.yaml", "phase: 20", "phase: 30"),
)


def shown(ruleset, job, *, ask):
    """Everything that an impact compares, from the decision and the plan in full."""
    decision = decide(ruleset, job, ask=ask)
    found = decision.as_json()
    made = make_plan(ruleset, decision)
    plan = plan_json(made)
    outcomes = {}
    for name, subject in (("", found["car"]), *found["panels"].items()):
        outcomes[name] = {
            ("hold", hold["topic"]) for hold in subject["holds"]
        } | {("caution", caution["topic"]) for caution in subject["cautions"]} | {
            ("step", step["step"]) for step in subject["steps"]
        }  # fmt: skip
    treatments = {
        name: panel.treatment or (NONE if panel.gap else OPEN)
        for name, panel in decision.panels.items()
    }
    materials = {
        each.get("product") or each.get("grade"): each["amount"] for each in plan["materials"]
    }
    # Of these a time or an amount is in no sum; time that only passes is no work.
    left_out = {each.key for each in made.tasks if each.times.person_hours is None}
    left_out.update(key for each in plan["materials"] for key in each.get("not_reckoned", ()))
    amounts = {key: got for key, got in materials.items() if got}
    work = plan["labour"]["person_hours"], amounts, left_out
    return decision.complete, treatments, outcomes, work


def holds_up(comparison, job, *, ask=True):
    """Hold one comparison to the long way round; whether anything differs."""
    change = comparison.of(job, asked=ask)
    was = shown(comparison.old, job, ask=ask)
    now = shown(comparison.new, job, ask=ask)
    assert (change.was_complete, change.is_complete) == (was[0], now[0])
    by_name = {subject.panel or "": subject for subject in change.subjects}
    for name in was[1]:
        treatment = by_name[name].treatment if name in by_name else None
        told = (treatment.was, treatment.now) if treatment else None
        assert told == ((was[1][name], now[1][name]) if was[1][name] != now[1][name] else None)
        assert treatment is None or treatment.because
    for name in was[2]:
        given_ = by_name[name].given if name in by_name else ()
        gained = {(each.what, each.name) for each in given_ if each.gained}
        lost = {(each.what, each.name) for each in given_ if not each.gained}
        assert (gained, lost) == (now[2][name] - was[2][name], was[2][name] - now[2][name])
        assert all(each.because for each in given_)
    assert (change.work is not None) is (was[3] != now[3])
    assert change.outcome is (was != now)
    return change.outcome


@pytest.fixture(scope="module")
def sets(tmp_path_factory):
    """Gives the small rule set with some of the edits made, each made up once."""
    made, numbers = {}, count()

    def with_edits(chosen):
        key = tuple(sorted(chosen))
        if key not in made:
            into = tmp_path_factory.mktemp("edited") / str(next(numbers))
            made[key] = load_ruleset(edited(into, *(EDITS[index] for index in key)))
        return made[key]

    return with_edits


FILMS = st.sampled_from(["4 mil", "8 mil", "9.5 mil", "12 mil", "12.1 mil", "20 mil", "unknown"])
JOBS = st.fixed_dictionaries(
    {
        "films": st.dictionaries(
            st.sampled_from(["roof", "bonnet", "left door"]), FILMS, min_size=1
        ),
        "washed": st.sampled_from(["yes", "no", "unknown"]),
    }
)
CHOSEN = st.sets(st.integers(0, len(EDITS) - 1), max_size=3)


@settings(max_examples=200, deadline=None)
@given(before=CHOSEN, after=CHOSEN, told=JOBS, ask=st.booleans())
def test_an_impact_is_what_deciding_twice_in_full_shows(sets, before, after, told, ask):
    old, new = sets(before), sets(after)
    job = a_job(old, told["films"], washed=told["washed"])
    differs = holds_up(Comparison(old, new), job, ask=ask)
    assert not differs or before != after


@settings(max_examples=60, deadline=None)
@given(chosen=CHOSEN, told=JOBS)
def test_the_same_rules_change_nothing(sets, chosen, told):
    """The second set is another object with the same files."""
    old = sets(chosen)
    job = a_job(old, told["films"], washed=told["washed"])
    assert not Comparison(old, old).of(job).outcome
    assert Comparison(old, old).of(job).subjects == ()


def test_a_comment_alone_changes_nothing(tmp_path):
    old = load_ruleset(RULES)
    folder = edited(tmp_path / "new")
    limits = folder / "limits.yaml"
    limits.write_text("# Looked at in spring.\n\n" + limits.read_text("utf-8"), "utf-8")
    new = load_ruleset(folder)
    assert new.digest != old.digest
    tally = worked_impact(old, new)
    empty = Tally(looked_at=tally.jobs, jobs=tally.jobs)
    assert tally == empty
    assert tally.jobs == len(old.cases)


def test_a_shops_limit_over_the_supplied_set(tmp_path):
    """Every eleventh worked case and each near the limit, against the long way round."""
    old = load_ruleset(supplied_ruleset_folder())
    new_shop(tmp_path / "yard")
    (tmp_path / "yard" / "limits.yaml").write_text(
        "film.overcoat-limit: {value: 11 mil, by: the shop lead, on: 2026-03-01, why: Two came "
        "back.}\n",
        "utf-8",
    )
    new = load_ruleset(tmp_path / "yard")
    comparison = Comparison(old, new)
    tally = worked_impact(old, new)
    named = {
        example.job
        for treatments in tally.treated.values()
        for example in treatments.panels.examples
    }
    assert named
    looked_at = differing = 0
    for index, job in enumerate(case_facts(old)):
        if index % 11 and job.job not in named:
            continue
        looked_at += 1
        differing += holds_up(comparison, job)
    assert looked_at > 60
    assert differing >= len(named)
    shutil.rmtree(tmp_path / "yard")
