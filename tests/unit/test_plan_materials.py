"""Materials, hours and cost of the small rule set against figures worked out by hand."""

from __future__ import annotations

from fractions import Fraction as F
from pathlib import Path

import pytest
from plan_jobs import changed, planned

from engine.plan import Plan
from engine.plan.materials import Material
from engine.ruleset import load_ruleset
from engine.ruleset.work import Span

TWO = "roof: {finish: bad, dents: 2, area: 2 m2}, left door: {finish: dull, area: 1 m2}"


def material(plan: Plan, product: str) -> Material:
    return next(each for each in plan.materials if each.product.id == product)


def missing(plan: Plan) -> list[str]:
    return [f"{each.about}: {each.what}: {each.why}" for each in plan.missing]


def test_paint_by_hand() -> None:
    """3 m2 at 60 um: 3 x 60 / (10 x 50) x 1.1 thinned / 0.6 landed / 0.9 not left in the cup."""
    paint = material(planned(TWO), "paint")
    assert paint.amount == Span.exactly(F(11, 15))
    assert {part.name: part.amount.high for part in paint.parts} == {
        "paint": F(4, 9),
        "hardener": F(2, 9),
        "thinner": F(1, 15),
    }
    cans = {part.name: part.cans.counts for part in paint.parts if part.cans}
    assert cans == {"paint": {F(1, 2): 1}, "hardener": {F(1, 4): 1}, "thinner": {F(1): 1}}


def test_thinner_of_the_first_part_alone(tmp_path: Path) -> None:
    """10 % of the two parts of paint is 0.2 on 3 parts: 3.2 / 3 thinned."""
    ruleset = changed(tmp_path / "set", products={"of: whole-mix": "of: first-part"})
    paint = material(planned(TWO, ruleset=ruleset), "paint")
    assert paint.amount == Span.exactly(F(36, 100) * F(32, 30) / F(54, 100))


def test_spots_are_sprayed_at_the_efficiency_of_small_areas() -> None:
    """5 to 20 % of 1 m2 at 30 um, 30 % landed: 0.05 x 30 / 500 / 0.3 / 0.9 to four times that."""
    plan = planned("left door: {finish: dull, area: 1 m2}")
    assert material(plan, "primer").amount == Span(F(1, 90), F(2, 45))
    assert any("5 % to 20 %" in each.text for each in plan.assumptions)


def test_a_told_share_replaces_the_assumed_one() -> None:
    plan = planned("left door: {finish: dull, area: 1 m2, bare-share: 10 %}")
    assert material(plan, "primer").amount == Span.exactly(F(1, 45))
    assert not any("of the panel" in each.text for each in plan.assumptions)


def test_a_share_that_nobody_tells_is_refused(tmp_path: Path) -> None:
    ruleset = changed(tmp_path / "set", **{"steps/all": {"share: 5..20 %, ": ""}})
    plan = planned("left door: {finish: dull, area: 1 m2}", ruleset=ruleset)
    told = [each for each in missing(plan) if each.startswith("Prime spots (left door): Primer")]
    assert told[0].endswith("bare share on left door: not known; estimate and tell it")


def test_a_share_by_treatment(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set", **{"steps/all": {"share: 5..20 %": "share-if: {sand: 50 %}"}}
    )
    plan = planned("left door: {finish: dull, area: 1 m2}", ruleset=ruleset)
    assert material(plan, "primer").amount == Span.exactly(F(1, 9))


def test_paint_over_two_bands_of_efficiency_takes_both_in() -> None:
    """From 0.8 m2 a door is painted at 60 %; the range holds both ends exactly."""
    plan = planned("door: {finish: dull}")
    paint = material(plan, "paint")
    each_m2 = F(11, 45)
    assert paint.amount == Span(each_m2 * F(8, 10), each_m2 * F(14, 10))
    spots = material(plan, "primer").amount
    assert spots == Span(F(4, 100) * 30 / 500 / F(27, 100), F(28, 100) * 30 / 500 / F(27, 100))


def test_a_spot_that_may_be_small_or_large_ranges_over_both_efficiencies(tmp_path: Path) -> None:
    """30 to 80 % of 1 m2: most paint at the top of the small band, 0.5 m2 at 30 %."""
    ruleset = changed(tmp_path / "set", **{"steps/all": {"share: 5..20 %": "share: 30..80 %"}})
    primer = material(planned("lid: {finish: dull, area: 1 m2}", ruleset=ruleset), "primer")
    per_m2 = F(30, 500) / F(9, 10)
    assert primer.amount.high == F(1, 2) * per_m2 / F(3, 10)
    assert primer.amount.low == min(F(3, 10) * per_m2 / F(3, 10), F(1, 2) * per_m2 / F(6, 10))


@pytest.mark.parametrize(
    ("panel", "low", "high", "row"),
    [
        ("door", "0.8", "1.4", "`door`"),
        ("Front-Door", "0.9", "1.6", "`front door`"),
        ("left rear door", "1", "1.5", "`left door`"),
        ("left front door", "0.9", "1.6", "`left door or front door`"),
        ("roof", "2", "2", "`roof`"),
    ],
)
def test_areas_nobody_told_come_from_the_table_as_assumptions(
    panel: str, low: str, high: str, row: str
) -> None:
    plan = planned(f"{panel}: {{finish: dull}}")
    assert plan.setting.area(panel) == Span(F(low), F(high))
    assert any(each.about == panel and row in each.text for each in plan.assumptions)


def test_an_area_that_no_row_gives_is_missing_and_nothing_is_reckoned_from_it() -> None:
    plan = planned("lid: {finish: dull}")
    assert plan.setting.area("lid") is None
    told = missing(plan)
    assert any(each.startswith("lid: area: nobody told it") for each in told)
    assert "Paint (lid): Paint: the area of lid is not known; measure and tell it" in told
    paint = material(plan, "paint")
    assert paint.amount == Span.exactly(0)
    assert paint.not_reckoned == ("spray-paint: lid",)
    assert paint.parts == ()
    assert "sand: lid" in plan.hours.left_out


def test_a_product_without_solids_is_refused(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set",
        products={"    volume-solids: 50 %\n    parts": "    parts"},
    )
    plan = planned(TWO, ruleset=ruleset)
    assert material(plan, "paint").amount == Span.exactly(0)
    assert any("Paint has no `volume-solids` in products.yaml" in each for each in missing(plan))


def test_a_system_without_the_product_is_refused(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set",
        products={"if-stripped: [{product: primer, film: 40 um}, ": "if-stripped: ["},
    )
    plan = planned(TWO, ruleset=ruleset)
    assert any("puts no `primer` on a panel `if-stripped`" in each for each in missing(plan))


def test_a_coat_that_no_step_puts_on_is_told(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set",
        products={"if-sanded: [": "if-sanded: [{product: putty, film: 5 um}, "},
    )
    plan = planned("left door: {finish: dull, area: 1 m2}", ruleset=ruleset)
    assert [each.text for each in plan.assumptions if "counts on" in each.text] == [
        "the build counts on 5 um of Putty, and no step puts it on"
    ]


def test_counted_uses_by_hand() -> None:
    """Two dents at 20 to 30 g; cleaner at 50 ml on 2 and on 1 m2."""
    plan = planned(TWO)
    assert material(plan, "putty").amount == Span(F(40), F(60))
    assert material(plan, "putty").parts[0].cans is not None
    assert material(plan, "cleaner").amount == Span.exactly(F(15, 100))


def test_a_count_nobody_told_is_missing() -> None:
    told = missing(planned("roof: {finish: bad, area: 2 m2}"))
    assert "Fill (roof): Putty: dents on roof: not known; count and tell them" in told


def test_grades_step_by_the_ratio_and_sheets_are_counted() -> None:
    """P80 201 um to P320 46.2 um at most 2.5 at a time: P80, P150, P320 (2.01, 2.16)."""
    plan = planned("left door: {finish: dull, area: 2 m2}")
    assert plan.task("sand: left door").grits == ("P80", "P150", "P320")
    assert [(each.grade, each.sheets) for each in plan.abrasives] == [
        (grade, Span(F(4), F(6))) for grade in ("P80", "P150", "P320")
    ]


def test_a_step_too_far_for_the_grades_there_are_is_refused(tmp_path: Path) -> None:
    ruleset = changed(tmp_path / "set", limits={"value: 2.5": "value: 1.1"})
    plan = planned("left door: {finish: dull, area: 2 m2}", ruleset=ruleset)
    assert plan.task("sand: left door").grits == ()
    assert any("no way from P80 to P320" in each for each in missing(plan))


def test_hours_by_hand() -> None:
    """Paint: 30 min and 10 min a m2 on 3 m2, 15 min between two coats, two people."""
    plan = planned(TWO)
    times = plan.task("spray-paint: roof, left door").times
    assert times.hands_on == Span.exactly(F(1))
    assert times.standing_by == Span.exactly(F(1, 4))
    assert times.person_hours == Span.exactly(F(5, 2))
    assert times.waiting == Span.exactly(F(12))
    sand = plan.task("sand: left door").times
    assert sand.hands_on == Span(F(35, 60), F(55, 60))


def test_mix_is_made_up_in_batches_inside_the_usable_pot_life() -> None:
    """75 min of spraying and half of one hour usable: three batches."""
    task = planned(TWO).task("spray-paint: roof, left door")
    assert task.batches["paint"].count == 3


def test_warmth_shortens_cure_by_the_products_own_rule() -> None:
    """Handle after 1 h at 20 degC, twice as fast for 10 degC: 30 min at 30 degC, 2 h at 10."""
    for degrees, hours in (("30 degC", F(1, 2)), ("10 degC", F(2)), ("20 degC", F(1))):
        plan = planned("roof: {finish: bad, area: 2 m2}", shop=f"surface-temperature: {degrees}")
        assert plan.task("spray-primer: roof").times.waiting == Span.exactly(hours)


def test_a_temperature_outside_the_rule_gives_no_time() -> None:
    plan = planned("roof: {finish: bad, area: 2 m2}", shop="surface-temperature: 36 degC")
    assert plan.task("spray-primer: roof").times.waiting is None
    told = missing(plan)
    assert any("Primer: from 20 to 36 degC is more than the 15 degC" in each for each in told)
    assert any("Paint gives its times for 20 degC and no rule for 36 degC" in each for each in told)


def test_without_any_temperature_the_data_sheets_is_taken_and_told() -> None:
    plan = planned("roof: {finish: bad, area: 2 m2}", shop="spray-booth: yes")
    assert plan.task("spray-primer: roof").times.waiting == Span.exactly(F(1))
    assert any("temperature is not known" in each.text for each in plan.assumptions)


def test_the_air_stands_in_for_the_surface_and_says_so() -> None:
    plan = planned("roof: {finish: bad, area: 2 m2}", shop="air-temperature: 30 degC")
    assert plan.task("spray-primer: roof").times.waiting == Span.exactly(F(1, 2))
    assert any("as warm as the air" in each.text for each in plan.assumptions)


def test_cost_by_hand_and_what_has_no_price_is_named() -> None:
    plan = planned("left door: {finish: dull, area: 1 m2, bare-share: 10 %}")
    lines = {line.what: line for line in plan.cost.lines}
    assert lines["paint"].amount == Span.exactly(F(11, 45) * 40)
    assert lines["cleaner"].amount == Span.exactly(F(1, 20) * 8)
    assert lines["primer"].amount is None
    assert lines["primer"].why == "no price in labour.yaml"
    assert [line.what for line in plan.cost.not_priced] == ["primer"]
    hours = plan.hours.person_hours
    assert lines["labour"].amount == hours.times(50)
    assert plan.cost.currency == "EUR"
    assert plan.cost.total == hours.times(50) + Span.exactly(F(440, 45) + F(2, 5))


def test_a_price_in_labour_stands_over_the_products_own(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set",
        labour={
            "rate: 50 EUR\n": "rate: 50 EUR\nprices: {paint: {amount: 60 EUR, per: 2 L}, "
            "primer: {amount: 9 EUR, per: 1 L}}\n"
        },
    )
    plan = planned("left door: {finish: dull, area: 1 m2, bare-share: 10 %}", ruleset=ruleset)
    lines = {line.what: line for line in plan.cost.lines}
    assert lines["paint"].amount == Span.exactly(F(11, 45) * 30)
    assert lines["cleaner"].amount == Span.exactly(F(1, 20) * 8)
    assert lines["primer"].amount == material(plan, "primer").amount.times(9)
    assert not plan.cost.not_priced


def test_two_currencies_are_not_added(tmp_path: Path) -> None:
    ruleset = changed(tmp_path / "set", products={"40 EUR": "40 USD"})
    plan = planned(TWO, ruleset=ruleset)
    assert plan.cost.total is None
    assert any("EUR and USD; give all of them in one currency" in each for each in missing(plan))


def test_without_labour_there_is_no_time_no_calendar_and_no_rate(tmp_path: Path) -> None:
    changed(tmp_path / "set")
    (tmp_path / "set" / "labour.yaml").unlink()
    ruleset = load_ruleset(tmp_path / "set")
    plan = planned(TWO, ruleset=ruleset)
    assert plan.calendar is None
    assert all(task.times.hands_on is None for task in plan.tasks)
    assert plan.cost.lines[0].why == "labour.yaml gives no rate"


def test_times_for_the_rest_are_taken_only_where_the_shop_gives_them(tmp_path: Path) -> None:
    without = changed(tmp_path / "a", labour={"  mask: {fixed: 2 h}\n": ""})
    told = missing(planned(TWO, ruleset=without))
    assert "Mask (car): time: labour.yaml gives no time for `mask`; put the shop's in" in told
    given = changed(
        tmp_path / "b",
        labour={"  mask: {fixed: 2 h}\n": "", "times:": "otherwise: {fixed: 5..10 min}\ntimes:"},
    )
    plan = planned(TWO, ruleset=given)
    assert plan.task("mask").times.hands_on == Span(F(1, 12), F(1, 6))
    assert any(each.about == "Mask" for each in plan.assumptions)


def test_gear_of_step_and_products_once_each() -> None:
    gear = [each.id for each in planned(TWO).task("spray-paint: roof, left door").gear]
    assert gear == ["hood", "mask"]
