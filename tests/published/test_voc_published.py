"""VOC formulas and limits against regulation and handbook.

Sources: 40 CFR 59 subpart B (59.102(b) and the terms of 59.104(a) read; Table 1 and the divisor
for several midcoats from memory); California district rules for the two-stage form (read); a metal
finishing handbook of 2013 (read); Directive 2004/42/EC Annex II B in a government summary (read);
pint, run here, for the pound per gallon.
"""

from fractions import Fraction

import pint
import pytest

from engine.quantity import Kind, parse_quantity, to_unit
from engine.reckoning.voc import (
    Basis,
    Contents,
    governing_limit,
    judge_voc,
    limits_from_table,
    mixed_voc,
    multistage_average,
    voc_actual,
    voc_content,
)
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

TABLES = load_ruleset(supplied_ruleset_folder(), with_cases=False).tables
units = pint.UnitRegistry()


def limits(name):
    return limits_from_table(TABLES[f"voc.{name}"])


def clear_weight():
    return dict(TABLES["voc.multistage-weights"].rows)["clear"]


def lb_per_gal_of(g_per_L):
    return float(to_unit(g_per_L, Kind.DENSITY, "lb/gal"))


# 40 CFR 59.104(a)(1), terms read; examples derived: 600 g of volatiles with 200 g exempt, and a
# waterborne paint with 630 g of water. Expected g/L and lb/gal.
@pytest.mark.parametrize(
    ("contents", "g_per_L", "lb_per_gal"),
    [
        (Contents(1, 600, 0, 0, 200, 0.25), 533.3, 4.451),
        (Contents(1, 735, 630, 0.63, 0, 0), 283.8, 2.368),
    ],
    ids=["exempt", "waterborne"],
)
def test_voc_less_water_and_exempt(contents, g_per_L, lb_per_gal):
    voc = voc_content(contents, basis=Basis.LESS_WATER_AND_EXEMPT)
    assert float(voc) == pytest.approx(g_per_L, abs=0.05)
    assert lb_per_gal_of(voc) == pytest.approx(lb_per_gal, abs=0.0005)


def test_voc_actually_let_go():
    # Derived with the same waterborne example.
    assert voc_actual(Contents(1, 735, 630, 0.63, 0, 0)) == 105


# 40 CFR 59.104(a)(2): two-stage form read in California district rules; midcoats from memory.
@pytest.mark.parametrize(
    ("base", "midcoats", "clear", "expected"),
    [(700, [], 420, 513.3), (700, [720], 420, 565.0)],
    ids=["two-stage-read", "three-stage-memory"],
)
def test_multistage(base, midcoats, clear, expected):
    ours = multistage_average(
        base=base, midcoats=midcoats, clear=clear, clear_weight=clear_weight()
    )
    assert float(ours) == pytest.approx(expected, abs=0.05)


def test_handbook_mix_of_two():
    # Metal finishing handbook, 2013, example A (read): the page prints 2.75 for 11.1 / 4.
    ours = mixed_voc([(3, 3.1), (1, 1.8)])
    assert ours == Fraction("2.775")
    assert ours == pytest.approx(2.75, abs=0.03)
    assert ours <= Fraction("2.8")


# Metal finishing handbook, 2013 (read): 119.8 g/L; regulation tables print whole numbers.
def test_pound_per_gallon():
    ours = float(parse_quantity("1 lb/gal", Kind.DENSITY).amount)
    assert ours == pytest.approx(119.8, abs=0.05)
    pinted = (1 * units.pound / units.US_liquid_gallon).to("g/L").magnitude
    assert ours == pytest.approx(pinted, rel=1e-12)


# 40 CFR 59 Table 1 (from memory): g/L with the lb/gal the regulation prints beside it.
@pytest.mark.parametrize(
    ("category", "g_per_L", "printed_lb_per_gal"),
    [
        ("pretreatment-wash-primer", 780, 6.5),
        ("primer-surfacer", 580, 4.8),
        ("primer-sealer", 550, 4.6),
        ("single-or-two-stage-topcoat", 600, 5.0),
        ("topcoat-of-more-than-two-stages", 630, 5.2),
        ("multicoloured-topcoat", 680, 5.7),
        ("specialty", 840, 7.0),
    ],
)
def test_federal_limits(category, g_per_L, printed_lb_per_gal):
    limit = governing_limit(limits("us-federal"), [category]).limit_g_per_L
    assert limit == g_per_L
    # Within 0.06 and not 0.05: the regulation cuts 5.26 down to 5.2.
    assert lb_per_gal_of(limit) == pytest.approx(printed_lb_per_gal, abs=0.06)


# Directive 2004/42/EC Annex II B (read in a government summary), g/L ready to use.
@pytest.mark.parametrize("jurisdiction", ["eu", "uk"])
@pytest.mark.parametrize(
    ("category", "g_per_L", "basis"),
    [
        ("preparatory", 850, Basis.AS_IS),
        ("pre-cleaner", 200, Basis.AS_IS),
        ("bodyfiller-and-stopper", 250, Basis.LESS_WATER),
        ("surfacer-filler-and-metal-primer", 540, Basis.LESS_WATER),
        ("wash-primer", 780, Basis.LESS_WATER),
        ("topcoat", 420, Basis.LESS_WATER),
        ("special-finish", 840, Basis.LESS_WATER),
    ],
)
def test_directive_limits(jurisdiction, category, g_per_L, basis):
    limit = governing_limit(limits(jurisdiction), [category])
    assert (limit.limit_g_per_L, limit.basis) == (g_per_L, basis)


# California suggested control measure of 2005 (from memory), g/L.
@pytest.mark.parametrize(
    ("category", "g_per_L"),
    [
        ("clear", 250),
        ("colour", 420),
        ("primer", 250),
        ("single-stage", 340),
        ("pretreatment", 660),
        ("adhesion-promoter", 540),
        ("multicolour", 680),
        ("uniform-finish", 540),
        ("temporary-protective", 60),
        ("other", 250),
    ],
)
def test_californian_measure(category, g_per_L):
    limit = governing_limit(limits("california-suggested-measure"), [category])
    assert limit.limit_g_per_L == g_per_L


def test_lowest_limit_governs():
    # 40 CFR 59.102(b) (read).
    table = limits("us-federal")
    assert governing_limit(table, ["primer-surfacer", "primer-sealer"]).category == "primer-sealer"
    mix = Contents(1, 560, 0, 0, 0, 0)
    assert judge_voc(mix, limits=table, categories=["primer-surfacer"]).within
    both = judge_voc(mix, limits=table, categories=["primer-surfacer", "primer-sealer"])
    assert not both.within
    assert both.over_by_g_per_L == 10
