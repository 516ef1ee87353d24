"""The plan says how mixes are made up, and holds them beside the VOC limits of the region."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise

import pytest
from jsonschema import Draft202012Validator
from plan_jobs import planned

from cli.output.plan_text import plan_text
from cli.output.style import Style
from engine.decision import Decision
from engine.document import parse_document
from engine.jobfile import parse_job
from engine.plan import Plan, make_plan, merged
from engine.plan.solvent import SolventLine
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import schema_folder, supplied_ruleset_folder

JOB = """prepwright: job/1
job: BM-7
shop: {{air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC, {shop}}}
car: {{year: 1996, washed: yes, degreased: yes, topcoat: {topcoat}, lead-test: negative}}
panels:
  bonnet:
    part: original
    substrate: steel
    area: 1.5 m2
    defects: [none]
    rust: none
    film: {{gauge: magnetic, readings: [4.9 mil, 5.1 mil, 5.0 mil, 5.0 mil, 5.1 mil]}}
    filler: {{found: none}}
"""


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def plan_of(
    shop: str, topcoat: str = "base-and-clear", ruleset: RuleSet | None = None
) -> tuple[Decision, Plan]:
    rules = ruleset or supplied()
    text = JOB.format(shop=shop, topcoat=topcoat)
    decision = decide(rules, parse_job(parse_document(text, "job.yaml"), rules), ask=False)
    return decision, make_plan(rules, decision)


def lines(plan: Plan) -> dict[str, SolventLine]:
    assert plan.solvent is not None
    return {"+".join(each.id for each in line.products): line for line in plan.solvent.lines}


def with_voc(figures: dict[str, int]) -> RuleSet:
    rules = supplied()
    products = dict(rules.products)
    for name, figure in figures.items():
        product = products[name]
        products[name] = replace(product, handling=replace(product.handling, voc=Fraction(figure)))
    return replace(rules, products=products)


def test_base_and_clear_are_averaged_where_the_federal_rule_averages_them() -> None:
    # 40 CFR 59.104(a)(2) (terms read): (base + 2 * clear) / 3; Table 1 (from memory): 600 g/L.
    rules = with_voc({"basecoat": 700, "clearcoat": 580})
    _, plan = plan_of("region: us", ruleset=rules)
    line = lines(plan)["basecoat+clearcoat"]
    assert line.voc_g_per_L == 620
    assert line.over_by_g_per_L == 20
    assert line.limit is not None
    assert line.limit.limit_g_per_L == 600
    assert "basecoat" not in lines(plan)
    assert plan.solvent is not None
    assert plan.solvent.over == (line,)
    assert plan.solvent.unsure


def test_each_coat_stands_alone_in_europe() -> None:
    # Directive 2004/42/EC, Annex II B (read): topcoats 420 g/L.
    rules = with_voc({"basecoat": 421, "clearcoat": 420})
    _, plan = plan_of("region: eu", ruleset=rules)
    assert lines(plan)["basecoat"].over_by_g_per_L == 1
    assert lines(plan)["clearcoat"].over_by_g_per_L == 0
    assert plan.solvent is not None
    assert plan.solvent.table is not None
    assert plan.solvent.table.id == "voc.eu"
    assert not plan.solvent.unsure


def test_a_californian_district_has_its_own_limits() -> None:
    # Suggested control measure of 2005 (from memory): clear 250 g/L.
    _, plan = plan_of("region: us, voc-rules: california")
    assert lines(plan)["clearcoat"].over_by_g_per_L == 170
    assert plan.solvent is not None
    assert str(plan.solvent.source).endswith("(from memory)")


@pytest.mark.parametrize(
    ("shop", "why"),
    [
        ("region: other", "no VOC limits are kept for the region `other`"),
        ("region: us, voc-rules: other-district", "ask the state or district"),
        ("spray-booth: yes", "`shop.region` is not known"),
    ],
)
def test_where_no_table_holds_nothing_is_compared(shop: str, why: str) -> None:
    decision, plan = plan_of(shop)
    assert plan.solvent is not None
    assert plan.solvent.lines == ()
    assert why in (plan.solvent.why or "")
    assert "Held against no limit" in plan_text(plan, decision, supplied(), Style(width=100))


def test_a_figure_of_unknown_basis_is_not_compared() -> None:
    rules = supplied()
    tables = dict(rules.tables)
    figures = tables["voc.product-figures"]
    kept = tuple(row for row in figures.rows if row[0] != "clearcoat")
    tables["voc.product-figures"] = replace(figures, rows=kept)
    _, plan = plan_of("region: eu", ruleset=replace(rules, tables=tables))
    line = lines(plan)["clearcoat"]
    assert line.limit is None
    assert "what the VOC figure of `clearcoat` leaves out" in (line.why or "")


def test_a_rule_set_without_such_tables_says_nothing() -> None:
    plan = planned("door: {area: 1 m2, finish: sound}")
    assert plan.solvent is None


def test_text_and_json_carry_figure_limit_source_and_no_clearance() -> None:
    decision, plan = plan_of("region: us", "single-stage")
    text = " ".join(plan_text(plan, decision, supplied(), Style(width=200)).split())
    assert "420 g/L" in text
    assert "600 g/L, single or two stage topcoat, less water and exempt" in text
    assert "40 CFR 59 subpart B, Table 1 (from memory)" in text
    assert "Information, never clearance" in text
    shown = merged(decision, plan)
    schema = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(shown)) == []
    (found,) = [
        line for line in shown["plan"]["solvent"]["lines"] if line["products"] == ["single-stage"]
    ]
    assert found["voc"]["low"] == found["voc"]["high"] == 420
    assert found["limit"]["high"] == 600
    assert found["over_by"]["high"] == 0
    assert shown["plan"]["solvent"]["limits"] == "voc.us-federal"


def test_mixes_say_their_ratio_and_what_a_percentage_is_of() -> None:
    decision, plan = plan_of("region: eu")
    text = " ".join(plan_text(plan, decision, supplied(), Style(width=200)).split())
    assert "2 clear, 1 hardener, then thinner 10 % of the whole mix before it (0.3 parts)" in text
    (clear,) = [
        each for each in merged(decision, plan)["materials"] if each["product"] == "clearcoat"
    ]
    assert [(each["part"], each["parts"]) for each in clear["ratio"]] == [
        ("clear", 2), ("hardener", 1), ("thinner", 0.3),
    ]  # fmt: skip
    assert clear["thinner"] == {"part": "thinner", "percent": 10, "of": "whole-mix"}


def test_the_other_meaning_of_a_percentage_is_told_and_mixed() -> None:
    rules = supplied()
    clear = rules.products["clearcoat"]
    assert clear.handling.thinner is not None
    thinner = replace(clear.handling.thinner, of_whole_mix=False)
    products = dict(rules.products)
    products["clearcoat"] = replace(clear, handling=replace(clear.handling, thinner=thinner))
    changed = replace(rules, products=products)
    decision, plan = plan_of("region: eu", ruleset=changed)
    text = " ".join(plan_text(plan, decision, changed, Style(width=200)).split())
    assert "then thinner 10 % of the clear alone (0.2 parts)" in text


def test_batches_are_given_part_by_part_and_end_inside_the_pot_life() -> None:
    products = dict(supplied().products)
    clear = products["clearcoat"]
    short = replace(clear, handling=replace(clear.handling, pot_life_h=Fraction(1, 4)))
    rules = replace(supplied(), products={**products, "clearcoat": short})
    decision, plan = plan_of("region: eu", ruleset=rules)
    (batches,) = [each.batches["clearcoat"] for each in plan.tasks if "clearcoat" in each.batches]
    assert batches.count > 1
    assert (
        batches.hours_each
        <= Fraction(1, 4) * supplied().limits["mixing.usable-pot-life"].amount / 100
    )
    text = " ".join(plan_text(plan, decision, rules, Style(width=200)).split())
    assert f"{batches.count} batches of up to" in text
    assert "of a pot life of 15 min" in text


def test_the_lead_may_have_grades_stepped_by_numbers() -> None:
    tables = dict(supplied().tables)
    numbers = tables["abrasives.number-rule"]
    rows = tuple(row if row[0] != "in-the-plan" else (row[0], True) for row in numbers.rows)
    assert rows != numbers.rows
    tables["abrasives.number-rule"] = replace(numbers, rows=rows)
    _, by_grain = plan_of("region: eu")
    _, by_numbers = plan_of("region: eu", ruleset=replace(supplied(), tables=tables))

    def jumps(plan: Plan) -> list[int]:
        grades = [[int(grit.removeprefix("P")) for grit in each.grits] for each in plan.tasks]
        return [
            fine - coarse for steps in grades for coarse, fine in pairwise(steps) if coarse <= 320
        ]

    assert max(jumps(by_grain)) > 100
    assert max(jumps(by_numbers)) <= 100


def test_every_product_and_category_of_the_voc_tables_is_there() -> None:
    rules = supplied()
    rows = rules.tables["voc.product-categories"].rows
    figures = {row[0] for row in rules.tables["voc.product-figures"].rows}
    for product, table, category in rows:
        assert rules.products[str(product)].handling.voc is not None
        assert product in figures
        assert category in {row[0] for row in rules.tables[str(table)].rows}
    held = {str(product) for product, table, _ in rows if table == "voc.eu"}
    sprayed = {
        name
        for name, product in rules.products.items()
        if product.handling.volume_solids is not None and product.handling.voc is not None
    }
    assert sprayed <= held
