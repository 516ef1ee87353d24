"""Sections through the film, to scale: what stays, what comes off, what goes on, and the limit."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_pages import MIL, bookmobile, drawings, job, page, planned, supplied, texts

from cli.report.bands import LimitLine
from cli.report.layers import (
    HEIGHT,
    KEPT,
    NEW,
    OFF,
    UNKNOWN,
    Layer,
    Section,
    drawn_section,
    scale_for,
    section,
    spread,
)

LIMIT = LimitLine("film.overcoat-limit", 12 * MIL, "12 mil")


def sections() -> dict[str, Section]:
    decision, plan = planned(bookmobile())
    return {
        name: section(supplied(), plan.setting, panel) for name, panel in decision.panels.items()
    }


def mils(layers: tuple[Layer, ...], kind: str) -> list[Fraction]:
    return [layer.um / MIL for layer in layers if layer.kind == kind and layer.um is not None]


def test_a_sanded_panel_loses_what_sanding_takes_and_gains_the_system() -> None:
    # 5.9 mil less 0.5 mil, and 1 + 1 + 2.5 mil on top, as the rule set has them.
    roof = sections()["roof"]
    assert mils(roof.now, KEPT) == [Fraction("5.4")]
    assert mils(roof.now, OFF) == [Fraction("0.5")]
    assert mils(roof.after, KEPT) == [Fraction("5.4")]
    assert mils(roof.after, NEW) == [1, 1, Fraction("2.5")]
    assert roof.after_text == "9.9 mil"


def test_a_partly_stripped_panel_keeps_its_undercoat() -> None:
    story = sections()["left side with the painted story"]
    assert mils(story.now, KEPT) == [2]
    assert mils(story.now, OFF) == [Fraction("11.3")]
    assert mils(story.after, NEW) == [2, 1, Fraction("2.5")]


def test_a_stripped_panel_keeps_nothing() -> None:
    door = sections()["rear door left"]
    assert mils(door.now, KEPT) == []
    assert mils(door.now, OFF) == [Fraction("9.1")]
    assert mils(door.after, KEPT) == []
    assert sum(mils(door.after, NEW)) == 7


def test_a_panel_left_alone_stays_as_it_is_and_is_not_given_a_film_nobody_read() -> None:
    flap = sections()["book return flap"]
    assert (flap.now, flap.after) == ((), ())
    assert (flap.now_lacks, flap.after_lacks) == ("not read", "stays as it is, not measured")


def test_what_was_never_measured_is_drawn_as_unknown_under_the_new_coats() -> None:
    hatch = sections()["roof hatch"]
    assert [layer.kind for layer in hatch.after] == [UNKNOWN, NEW, NEW, NEW]
    assert hatch.after[0].um is None
    assert not hatch.after_known


@pytest.mark.parametrize(
    ("car", "panel", "says"),
    [
        ("topcoat: base-and-clear", "roof: {substrate: steel}", "the treatment is open"),
        (
            "year: 1996",
            "roof: {part: original, substrate: steel, defects: [none], rust: none, "
            "film: {gauge: magnetic, readings: [5 mil, 5 mil, 5 mil, 5 mil, 5 mil]}}",
            "the topcoat to come is not known",
        ),
    ],
)
def test_what_is_open_is_said_and_not_drawn(car, panel, says) -> None:
    decision, plan = planned(job(panel, car))
    found = section(supplied(), plan.setting, decision.panels["roof"])
    assert (found.after, found.after_lacks) == ((), says)


def test_films_before_and_after_are_those_the_decision_tells() -> None:
    decision, _ = planned(bookmobile())
    checked = 0
    for name, found in sections().items():
        facts = decision.panels[name].found.facts
        if "film.typical" in facts:
            assert found.now_total == facts["film.typical"].value
        way = supplied().treatments[decision.panels[name].treatment or ""].coats
        if found.after_known and way is not None:
            assert found.after_total == facts[f"build.{way}"].value
            checked += 1
    assert checked >= 10


# --- to scale ---------------------------------------------------------------------------------

films = st.fractions(min_value=1, max_value=2500, max_denominator=100)


@given(st.lists(st.tuples(films, films, films), min_size=1, max_size=4), films)
def test_every_height_is_its_thickness_by_one_scale(stacks, limit_um) -> None:
    limit = LimitLine("limit", limit_um, "limit")
    made = [
        Section("panel", "steel", tuple(Layer(KEPT, "film", um, "") for um in stack), ())
        for stack in stacks
    ]
    scale = scale_for(made, [limit])
    for each in made:
        drawn = drawn_section(each, scale, [limit])
        floor = drawn.floor
        for layer in drawn.now:
            assert layer.height == pytest.approx(float(layer.layer.um) * scale.per_um)
            assert layer.y + layer.height == pytest.approx(floor)
            floor = layer.y
        assert floor > 0
        ((_, y),) = drawn.limits
        assert HEIGHT - y == pytest.approx(float(limit_um) * scale.per_um)
        # The film reaches over the line exactly where it is over the limit.
        if each.now_total != limit_um:
            assert (floor < y) == (each.now_total > limit_um)


@given(st.lists(st.floats(min_value=0, max_value=110), max_size=9), st.floats(1, 12))
def test_labels_never_touch(middles, gap) -> None:
    placed = spread(sorted(middles, reverse=True), gap, lowest=113)
    assert all(one - other >= gap - 1e-9 for one, other in pairwise(placed))
    assert all(y <= 113 for y in placed)


def test_the_drawn_bars_are_to_scale_and_carry_their_values() -> None:
    html = page(bookmobile())
    drawn = drawings(html, "section")
    assert len(drawn) == len(bookmobile().panels)
    story = drawn[list(bookmobile().panels).index("left side with the painted story")]
    bars = {
        (rect.get("class"), rect.get("x")): float(rect.get("height", ""))
        for rect in story.iter("rect")
        if "layer" in rect.get("class", "")
    }
    assert bars["layer off", "42"] / bars["layer kept", "42"] == pytest.approx(11.3 / 2, rel=0.01)
    (line,) = (each for each in story.iter("line") if each.get("class") == "limit")
    per_mil = bars["layer kept", "42"] / 2
    assert HEIGHT - float(line.get("y1", "")) == pytest.approx(12 * per_mil, rel=0.01)
    written = texts(story)
    assert "12 mil" in written
    assert "11.3 mil comes off" in written
    assert "2.5 mil Two-pack clearcoat" in written
    assert "After in all 7.5 mil" in written


def test_every_section_has_the_same_limit_line() -> None:
    heights = {
        line.get("y1")
        for drawing in drawings(page(bookmobile()), "section")
        for line in drawing.iter("line")
        if line.get("class") == "limit"
    }
    assert len(heights) == 1
