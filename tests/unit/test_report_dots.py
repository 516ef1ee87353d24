"""Readings as dots: every spot there, to scale, with the limits it is held against."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_pages import MIL, bookmobile, drawings, job, page, planned, texts

from cli.report.bands import LimitLine
from cli.report.dots import LEFT, RIGHT, axis_for, spot_means
from engine.quantity import Kind

PANELS = list(bookmobile().panels)


def test_a_spot_of_several_readings_is_one_dot_at_their_mean() -> None:
    decision, _ = planned(bookmobile())
    means = spot_means(decision.panels["bonnet"], "film.readings")
    assert [mean / MIL for mean in means] == [
        Fraction("4.9"),
        Fraction("5.1"),
        Fraction("5.1"),
        Fraction("4.8"),
        5,
    ]


def test_every_spot_is_drawn_and_what_lies_over_the_limit_is_square() -> None:
    html = page(
        job(
            "roof: {part: original, substrate: steel, film: {gauge: magnetic, "
            "readings: [5 mil, 5 mil, 10 mil, 12 mil, 12.1 mil]}}"
        )
    )
    (plot,) = drawings(html, "dots")
    circles = [each for each in plot.iter("circle") if each.get("class") == "dot"]
    squares = [each for each in plot.iter("rect") if each.get("class") == "dot"]
    assert [each.findtext("title") for each in circles] == ["5 mil", "5 mil", "10 mil", "12 mil"]
    assert [each.findtext("title") for each in squares] == ["12.1 mil"]
    first, second, third, _ = circles
    assert first.get("cx") == second.get("cx")
    assert float(first.get("cy", "")) > float(second.get("cy", ""))
    # Twice the film is twice as far from zero.
    near, far = (float(each.get("cx", "")) - LEFT for each in (first, third))
    assert far / near == pytest.approx(2, rel=0.001)
    assert "typical 10 mil" in texts(plot)


def test_limits_are_drawn_where_they_belong_and_named() -> None:
    html = page(bookmobile())
    plots = drawings(html, "dots")
    for plot in plots:
        lines = [each for each in plot.iter("line") if each.get("class") == "limit"]
        assert lines
        if plot.findtext("text") == "Film readings":
            xs = [float(line.get("x1", "")) - LEFT for line in lines]
            assert [x / xs[-1] for x in xs] == pytest.approx(
                [2 / 12, 7 / 12, 10 / 12, 1], rel=0.001
            )
            assert {"2 mil", "7 mil", "10 mil", "12 mil"} <= set(texts(plot))


def test_filler_has_a_plot_of_its_own_with_its_own_limit() -> None:
    html = page(bookmobile())
    (filler,) = (each for each in drawings(html, "dots") if each.findtext("text") == "Filler depth")
    assert "0.25 in" in texts(filler)
    assert "9 mm" in html or "0.354 in" in html


def test_the_readings_are_printed_as_they_were_told() -> None:
    assert "4.9, 5.1, 5/5.2/5.1, 4.8, 5 mil" in page(bookmobile())


class _Metric:
    """What an axis asks of a setting."""

    def unit(self, kind: Kind) -> str:
        return "um"


@given(
    st.lists(st.fractions(min_value=0, max_value=5000, max_denominator=1000), max_size=20),
    st.fractions(min_value=Fraction(1, 10), max_value=5000, max_denominator=1000),
)
def test_an_axis_holds_every_reading_and_has_few_round_ticks(means, limit) -> None:
    axis = axis_for(means, [LimitLine("limit", limit, "")], Kind.THICKNESS, _Metric())
    assert axis is not None
    assert axis.end >= max([*means, limit])
    assert 1 <= axis.end / axis.step <= 10
    assert (axis.end / axis.step).denominator == 1
    for mean in means:
        assert axis.x(mean) == pytest.approx(LEFT + float(mean / axis.end) * (RIGHT - LEFT))


def test_nothing_to_plot_is_no_axis() -> None:
    assert axis_for([], [], Kind.THICKNESS, _Metric()) is None
