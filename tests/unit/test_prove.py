"""What proofs find in spoilt rule sets: each finding with a car that the evaluator confirms."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from engine.reasoning.decide import decide
from engine.reasoning.evaluate import evaluate
from engine.reasoning.program import compile_ruleset
from engine.ruleset import RuleSet, load_ruleset
from engine.ruleset.run_cases import run_cases
from engine.supplied import supplied_ruleset_folder

pytest.importorskip("z3")

from engine.prove import Proof, ProofFinding, prove
from engine.prove.cases import cases_yaml
from engine.prove.limits import with_limit
from engine.prove.witness import PANEL

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"
LEFT = "- {rule: %s, about: panel, when: {%s}, then: {%s}, because: B., source: {kind: shop}%s}\n"


def rule(name: str, when: str, then: str, more: str = "") -> str:
    return LEFT % (name, when, then, more)


@pytest.fixture
def proved(tmp_path: Path):
    """Proofs about the small rule set with other files in it, and that rule set."""

    def run(**files: str) -> tuple[Proof, RuleSet]:
        folder = tmp_path / "set"
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(SMALL, folder)
        for name, text in files.items():
            (folder / f"{name.replace('__', '/')}.yaml").write_text(text, "utf-8")
        ruleset = load_ruleset(folder)
        return prove(ruleset), ruleset

    return run


def only(proof: Proof, code: str) -> ProofFinding:
    (found,) = (finding for finding in proof.findings if finding.code == code)
    return found


# Beside the rule that leaves a panel as it is, this gives every panel a treatment.
WHOLE = rule("all-sanded", "panel.refinish: yes", "treatment: sand")


def test_a_gap_comes_with_the_fact_that_makes_it_one(proved) -> None:
    proof, ruleset = proved()
    gap, *others = (finding for finding in proof.findings if finding.code == "gap")
    assert all(other.message != gap.message for other in others)
    assert gap.message == (
        "no rule gives a treatment where `film.readings` does not apply and `panel.refinish` is yes"
    )
    assert gap.names == ("film.readings", "panel.refinish")
    assert [place.file for place in gap.places] == ["facts/panel.yaml"] * 2
    assert gap.witness is not None
    assert gap.witness.told()["panel"]["substrate"].value == "plastic"
    panel = decide(ruleset, gap.witness.job).panels[PANEL]
    assert panel.treatment is None
    assert panel.gap
    assert not proof.clean
    assert not any(text.startswith("No gap") for text in proof.proved)


def test_without_a_gap_it_is_said(proved) -> None:
    proof, _ = proved(rules__whole=WHOLE)
    assert [finding.code for finding in proof.findings if finding.wrong] == []
    assert "No gap: whatever is told in full of a car, its panel gets a treatment." in proof.proved


def test_every_gap_is_told_apart(proved) -> None:
    proof, _ = proved(
        rules__film=rule("strip-peeling", "defects: {includes: peeling}", "treatment: strip")
        + rule("sand-few", "substrate: steel, dents: {below: 3}", "treatment: sand")
        + rule("concludes", "substrate: steel", "conclude: {panel.bares-metal: yes}"),
        rules__car=rule("strip-work", "substrate: steel", "caution: dust"),
        cases__film="cases: []\n",
    )
    gaps = [finding for finding in proof.findings if finding.code == "gap"]
    assert len(gaps) >= 2
    assert {"substrate", "dents"} <= {name for gap in gaps for name in gap.names}
    for gap in gaps:
        assert gap.witness is not None
        told = gap.witness.told()["panel"]
        assert "peeling" not in str(told["defects"].value)


# --- conflicts ----------------------------------------------------------------------------------


def test_two_rules_that_beat_each_other(proved) -> None:
    proof, ruleset = proved(
        rules__whole=WHOLE
        + rule("dented", "dents: {above: 3}", "treatment: strip", ", beats: [not-refinished]")
    )
    found = only(proof, "beat-each-other")
    assert found.names == ("dented", "not-refinished") or found.names == (
        "not-refinished",
        "dented",
    )
    assert len(found.places) == 2
    assert found.witness is not None
    truths = evaluate(compile_ruleset(ruleset), found.witness.job).panels[PANEL].truths
    by_id = {each.rule.id: truths[each.index] for each in compile_ruleset(ruleset).rules}
    assert by_id["dented"] is True
    assert by_id["not-refinished"] is True
    assert set(found.witness.needed) == {"dents", "panel.refinish"}


def test_two_rules_that_both_beat_all(proved) -> None:
    proof, _ = proved(
        rules__whole=WHOLE + rule("scrap", "dents: {above: 9}", "treatment: strip", ", beats: all")
    )
    found = only(proof, "both-beat-all")
    assert "`leave` and `strip`" in found.message or "`strip` and `leave`" in found.message
    assert found.witness is not None
    assert found.witness.treatment == "strip"


def test_rules_that_beat_all_and_never_meet_are_no_conflict(proved) -> None:
    proof, _ = proved(
        rules__whole=WHOLE
        + rule(
            "scrap", "dents: {above: 9}, panel.refinish: yes", "treatment: strip", ", beats: all"
        )
    )
    assert proof.clean
    assert any(text.startswith("No conflict") for text in proof.proved)


def test_a_deeper_treatment_that_loses_to_a_loser(proved) -> None:
    proof, ruleset = proved(
        rules__whole=WHOLE
        + rule("deep", "dents: {above: 3}", "treatment: strip")
        + rule("middle", "dents: {above: 2}", "treatment: sand", ", beats: [deep]")
        + rule("light", "dents: {above: 1}", "treatment: leave", ", beats: [middle, all-sanded]")
    )
    found = only(proof, "beaten-by-a-loser")
    assert found.names == ("deep", "middle")
    assert found.witness is not None
    decided = decide(ruleset, found.witness.job).panels[PANEL].treatment
    assert decided == found.witness.treatment
    assert decided != "strip"


# --- rules without effect -------------------------------------------------------------------------


def test_a_rule_that_can_never_fire_for_reasons_of_several_facts(proved) -> None:
    """Rules conclude the fact only of steel, so nothing of plastic is ever so concluded."""
    proof, _ = proved(
        facts__more="panel.rusty: {about: panel, title: Rusty, kind: yes-no, "
        "concluded: {otherwise: no}}\n",
        rules__whole=WHOLE
        + rule("only-steel", "substrate: steel", "conclude: {panel.rusty: yes}")
        + rule(
            "rusty-plastic",
            "panel.rusty: yes, substrate: plastic, dents: {above: 1}",
            "caution: dust",
        ),
    )
    found = only(proof, "never-fires")
    assert found.names == ("rusty-plastic",)
    assert found.message == (
        "`rusty-plastic` can never fire: it never holds together that rusty: yes; "
        "material is plastic"
    )
    assert found.witness is None


def test_a_limit_out_of_order_names_both_places_and_what_would_do(proved) -> None:
    proof, ruleset = proved(
        rules__whole=WHOLE
        + rule("band", "film.typical: {above: 13 mil, at-most: $film.limit}", "caution: dust")
    )
    found = only(proof, "dead-by-limit")
    assert found.names == ("band", "film.limit")
    assert [str(place) for place in found.places] == ["rules/whole.yaml:2:3", "limits.yaml:1:1"]
    assert "with `film.limit` at 304.8 um" in found.message
    assert found.witness is not None
    limit = ruleset.limits["film.limit"]
    other = with_limit(ruleset, "film.limit", limit.amount * 2)
    program = compile_ruleset(other)
    truths = evaluate(program, found.witness.job).panels[PANEL].truths
    band = next(each for each in program.rules if each.rule.id == "band")
    assert truths[band.index] is True
    now = compile_ruleset(ruleset)
    assert evaluate(now, found.witness.job).panels[PANEL].truths[band.index] is False


def test_a_rule_that_others_always_cover_is_a_note(proved) -> None:
    proof, _ = proved(
        rules__whole=WHOLE
        + rule("dusty", "dents: {above: 1}", "caution: dust")
        + rule("dustier", "dents: {above: 2}", "caution: dust")
    )
    found = only(proof, "never-matters")
    assert found.names == ("dustier",)
    assert not found.wrong
    assert found.witness is not None
    assert "`dusty`" in str(found.witness_says)
    assert "rules/whole.yaml:2:3" in [str(place) for place in found.places]
    assert proof.clean


def test_what_was_reviewed_may_stand(proved) -> None:
    proof, _ = proved(
        rules__whole=WHOLE
        + rule("dusty", "dents: {above: 1}", "caution: dust")
        + rule("dustier", "dents: {above: 2}", "caution: dust"),
        reviewed="- {finding: never-matters, names: [dustier], why: For its reason.}\n",
    )
    assert proof.findings == []
    ((finding, review),) = proof.let_stand
    assert (finding.names, review.why) == (("dustier",), "For its reason.")


def test_what_was_reviewed_and_is_gone_is_named(proved) -> None:
    proof, _ = proved(
        rules__whole=WHOLE + rule("dusty", "dents: {above: 1}", "caution: dust"),
        reviewed="- {finding: never-matters, names: [dusty], why: For its reason.}\n",
    )
    found = only(proof, "reviewed-in-vain")
    assert [str(place) for place in found.places] == ["reviewed.yaml:1:3"]
    assert proof.clean


def test_rules_that_no_case_fires_are_looked_for_among_all_cars(proved) -> None:
    proof, _ = proved(rules__whole=WHOLE, cases__film="cases: []\n")
    assert proof.clean
    assert any("(0 in a worked case, " in text for text in proof.proved)


def test_what_was_not_proved_is_always_said(proved) -> None:
    proof, _ = proved(rules__whole=WHOLE)
    told = " ".join(proof.not_proved)
    for said in ("free numbers", "one panel", "plausible range", "for people to judge"):
        assert said in told


# --- worked cases ---------------------------------------------------------------------------------


def test_findings_become_cases_that_load_and_say_what_is_so_today(proved, tmp_path) -> None:
    more = (
        rule("deep", "dents: {above: 3}", "treatment: strip")
        + rule("middle", "dents: {above: 2}", "treatment: sand", ", beats: [deep]")
        + rule("light", "dents: {above: 1}", "treatment: leave", ", beats: [middle]")
        + rule("scrap", "dents: {above: 9}", "treatment: strip", ", beats: all")
        + rule("band", "film.typical: {above: 13 mil, at-most: $film.limit}", "caution: dust")
        + rule("dusty", "dents: {above: 1}", "caution: dust")
        + rule("dustier", "dents: {above: 2}", "caution: dust")
    )
    proof, ruleset = proved(rules__more=more)
    codes = {finding.code for finding in proof.findings}
    assert codes >= {"gap", "both-beat-all", "dead-by-limit", "never-matters"}
    text = cases_yaml(ruleset, proof.findings)
    (tmp_path / "set" / "cases" / "found.yaml").write_text(text, "utf-8")
    results = run_cases(load_ruleset(tmp_path / "set"))
    found = [result for result in results if result.case.file == "cases/found.yaml"]
    assert len(found) == sum(finding.witness is not None for finding in proof.findings)
    assert [result.failures for result in found] == [()] * len(found)


def test_nothing_found_makes_an_empty_file_of_cases(proved) -> None:
    _, ruleset = proved(rules__whole=WHOLE)
    assert cases_yaml(ruleset, []).endswith("cases: []\n")


# --- the supplied rule set ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def supplied() -> Proof:
    return prove(load_ruleset(supplied_ruleset_folder()))


def test_the_supplied_rules_leave_no_gap_no_conflict_and_no_dead_rule(supplied: Proof) -> None:
    assert [finding.message for finding in supplied.findings if finding.wrong] == []
    assert supplied.findings == []
    assert [text.split(":")[0] for text in supplied.proved][:3] == [
        "No gap",
        "No conflict",
        "No dead rule",
    ]


def test_a_rule_taken_out_of_the_supplied_set_leaves_a_gap(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    folder.mkdir()
    head = "prepwright: shop/1\nname: own\nbuilds-on: refinish\n"
    (folder / "shop.yaml").write_text(head, "utf-8")
    (folder / "retired.yaml").write_text(
        "rules: {new-bare-metal-sanded: {by: a, on: 2026-03-01, why: b}}\n", "utf-8"
    )
    ruleset = load_ruleset(folder)
    gaps = [finding for finding in prove(ruleset).findings if finding.code == "gap"]
    assert gaps
    for gap in gaps:
        assert gap.witness is not None
        panel = gap.witness.told()["panel"]
        assert panel["part"].value == "new-bare"
        assert panel["substrate"].value in ("steel", "galvanised-steel", "aluminium")
        assert decide(ruleset, gap.witness.job).panels[PANEL].gap


def test_a_shop_limit_below_another_kills_the_band_between_them(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    folder.mkdir()
    head = "prepwright: shop/1\nname: own\nbuilds-on: refinish\n"
    (folder / "shop.yaml").write_text(head, "utf-8")
    (folder / "limits.yaml").write_text(
        "film.overcoat-limit: {value: 9.5 mil, by: a, on: 2026-03-01, why: b}\n", "utf-8"
    )
    found = [
        finding
        for finding in prove(load_ruleset(folder)).findings
        if finding.names[:1] == ("film-in-sign-off-band",)
    ]
    assert [finding.code for finding in found] == ["dead-by-limit"]
    assert set(found[0].names) == {"film-in-sign-off-band", "film.sign-off-from"} or set(
        found[0].names
    ) == {"film-in-sign-off-band", "film.overcoat-limit"}
