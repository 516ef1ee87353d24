"""The plan view: vehicles that are sound data, panels placed by words, values on every panel."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from report_pages import MIL, bookmobile, drawings, job, page, supplied, texts

from cli.report.bands import Band, LimitLine, band_of, film_bands
from cli.report.drawing import contains, middle
from cli.report.placing import best_vehicle, place, placed_on
from cli.report.vehicles import read_vehicle, supplied_vehicles, vehicle_named
from engine.errors import InputError, UsageError

VEHICLES = {vehicle.name: vehicle for vehicle in supplied_vehicles()}


def drawn(panels: list[str], vehicle: str) -> dict[str, str]:
    placed = place(panels, VEHICLES[vehicle], supplied().vocabulary)
    return {panel: shape.name for panel, shape in placed.drawn.items()}


def test_every_kind_of_vehicle_is_supplied() -> None:
    assert set(VEHICLES) == {"van", "saloon", "hatchback", "pickup", "generic"}


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
def test_a_vehicle_stays_on_its_sheet_and_its_labels_lead_to_its_panels(vehicle) -> None:
    for shape in vehicle.shapes:
        for x, y in (*shape.outline, shape.label):
            assert 0 <= x <= vehicle.width
            assert 0 <= y <= vehicle.height
        assert contains(shape.outline, shape.label) or shape.label != middle(shape.outline)


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
def test_no_label_lies_inside_another_panel_that_is_always_drawn(vehicle) -> None:
    always = [shape for shape in vehicle.shapes if not shape.when_named]
    for shape in always:
        inside = [other.name for other in always if contains(other.outline, shape.label)]
        assert inside in ([shape.name], [])


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
def test_left_is_right_mirrored(vehicle) -> None:
    shapes = {shape.name: shape for shape in vehicle.shapes}
    lefts = [name for name in shapes if "left" in name.split()]
    assert lefts
    for name in lefts:
        right = shapes[name.replace("left", "right")]
        assert [(x, vehicle.height - y) for x, y in right.outline] == list(shapes[name].outline)
        # Below the middle line is the left side: the front of the vehicle is at the left.
        assert middle(shapes[name].outline)[1] > vehicle.height / 2


def test_a_point_is_found_inside_a_polygon_by_crossings() -> None:
    notched = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 4.0), (0.0, 10.0))
    assert contains(notched, (5.0, 2.0))
    assert not contains(notched, (5.0, 8.0))
    assert not contains(notched, (11.0, 5.0))


# --- placing ----------------------------------------------------------------------------------


def test_the_bookmobile_is_drawn_as_a_van_and_what_has_no_place_stands_beside() -> None:
    placed = placed_on(None, tuple(bookmobile().panels), supplied().vocabulary)
    assert placed.vehicle.name == "van"
    assert placed.drawn["left side with the painted story"].name == "left side"
    assert placed.drawn["roof hatch"].name == "roof hatch"
    assert set(placed.beside) == {
        "sill below the book steps",
        "loan counter flap",
        "book return flap",
    }


@pytest.mark.parametrize(
    ("name", "shape"),
    [
        ("Front Door LEFT", "front door left"),
        ("LH front door", "front door left"),
        ("door, front, left", "front door left"),
        ("hood", "bonnet"),
        ("trunk lid", "boot lid"),
        ("front left fender", "front wing left"),
        ("rear left quarter", None),
        ("left quarter", "quarter panel left"),
        ("boot", "boot lid"),
        ("boot lid", "boot lid"),
        ("rear wing right", "quarter panel right"),
        ("bonnet with the badge holes", "bonnet"),
        ("front door", None),
        ("left and right sill", None),
        ("door mirror left", None),
        ("bonnets", None),
        ("", None),
    ],
)
def test_panels_are_placed_by_their_words_and_never_guessed(name, shape) -> None:
    assert drawn([name], "saloon").get(name) == shape


def test_the_panel_with_fewest_words_to_spare_takes_the_place() -> None:
    assert drawn(["roof rack", "roof"], "saloon") == {"roof": "roof"}


def test_two_panels_that_fit_alike_are_both_listed_beside() -> None:
    placed = place(["hood", "bonnet", "roof"], VEHICLES["saloon"], supplied().vocabulary)
    assert set(placed.drawn) == {"roof"}
    assert placed.beside == ("hood", "bonnet")


@pytest.mark.parametrize(
    ("panels", "vehicle"),
    [
        (["boot lid", "quarter panel left", "bonnet"], "saloon"),
        (["tailgate", "quarter panel left", "bonnet", "rear door left"], "hatchback"),
        (["load bed", "bed side left"], "pickup"),
        (["sliding door left", "left side"], "van"),
        (["front door left", "rear door left", "bonnet"], "generic"),
        (["bonnet"], "generic"),
        (["propeller"], "generic"),
    ],
)
def test_the_vehicle_is_the_only_one_with_most_places_or_none_in_particular(
    panels, vehicle
) -> None:
    found = best_vehicle(panels, VEHICLES.values(), supplied().vocabulary)
    assert found.vehicle.name == vehicle
    assert len(found.drawn) == len([name for name in panels if name != "propeller"])


def test_an_unknown_vehicle_is_refused_with_what_is_near() -> None:
    with pytest.raises(UsageError, match="Did you mean `saloon`"):
        vehicle_named("salon")


def test_a_vehicle_of_ones_own_is_read_and_a_faulty_one_refused_with_its_place(
    tmp_path: Path,
) -> None:
    own = tmp_path / "trailer.yaml"
    text = (
        "prepwright: vehicle/1\nvehicle: trailer\ntitle: Trailer\nsize: [100, 60]\npanels:\n"
        "  - {panel: flap left, mirror: flap right, outline: [[0, 40], [9, 40], [9, 50]], "
        "label: [5, 43]}\n"
    )
    own.write_text(text, "utf-8")
    trailer = vehicle_named(str(own))
    assert [shape.name for shape in trailer.shapes] == ["flap left", "flap right"]
    own.write_text(text.replace("label: [5, 43]", "label: [5]"), "utf-8")
    with pytest.raises(InputError) as refused:
        read_vehicle(own)
    assert f"{own}:6:" in str(refused.value)
    own.write_text(text.replace("flap right", "flap left"), "utf-8")
    with pytest.raises(InputError, match="two outlines are called `flap left`"):
        read_vehicle(own)


# --- bands ------------------------------------------------------------------------------------


def lines(*mils: int) -> list[LimitLine]:
    return [LimitLine(f"limit-{mil}", mil * MIL, f"{mil} mil") for mil in mils]


def test_a_film_at_a_limit_lies_in_the_band_below_it() -> None:
    bands = film_bands(lines(2, 7, 10, 12))
    assert [band.text for band in bands] == [
        "up to 2 mil",
        "over 2 to 7 mil",
        "over 7 to 10 mil",
        "over 10 to 12 mil",
        "over 12 mil",
    ]
    assert band_of(12 * MIL, bands).text == "over 10 to 12 mil"
    assert band_of(12 * MIL + Fraction(1, 1000), bands).text == "over 12 mil"
    assert band_of(Fraction(0), bands).text == "up to 2 mil"


@pytest.mark.parametrize("count", range(5))
def test_every_band_has_a_pattern_of_its_own_and_the_heaviest_lies_above_all(count) -> None:
    bands: tuple[Band, ...] = film_bands(lines(*range(1, count + 1)))
    assert len(bands) == count + 1
    assert len({band.pattern for band in bands}) == count + 1
    if count:
        assert bands[-1].pattern == "cross"


# --- on the page ------------------------------------------------------------------------------


def test_number_treatment_and_film_of_every_drawn_panel_are_printed() -> None:
    html = page(bookmobile())
    (plan,) = drawings(html, "plan")
    written = texts(plan)
    for line in ("3 partial-strip", "13.3 mil", "4 partial-strip", "9 strip", "14 sand"):
        assert line in written
    assert written.count("not read") == 4
    beside = html.split("Not on the drawing")[1].split("</table>")[0]
    assert "sill below the book steps" in beside
    assert "6.1 mil" in beside


def test_patterns_differ_by_band_and_every_one_is_explained() -> None:
    html = page(bookmobile())
    (plan,) = drawings(html, "plan")
    filled = {
        title.text.split(":")[0]: polygon.get("fill")
        for polygon in plan.iter("polygon")
        if (title := polygon.find("title")) is not None and polygon.get("fill", "")[:3] == "url"
    }
    assert filled["left side with the painted story"] == "url(#p-cross)"
    assert filled["cab door left"] == "url(#p-hatch)"
    assert filled["right side"] == "url(#p-dots)"
    assert filled["roof hatch"] == "url(#p-unread)"
    legend = html.split('<ul class="legend">')[1].split("</ul>")[0]
    for fill in set(filled.values()):
        assert fill in legend
        assert f'<pattern id="{fill[5:-1]}"' in html


def test_no_plate_reaches_over_the_edge_or_over_another() -> None:
    for name, vehicle in VEHICLES.items():
        always = [shape.name for shape in vehicle.shapes if not shape.when_named]
        panels = ", ".join(f"{panel}: {{substrate: steel}}" for panel in always)
        (plan,) = drawings(page(job(panels), vehicle=name), "plan")
        plates = [
            tuple(float(plate[0].get(each, "")) for each in ("x", "y", "width", "height"))
            for plate in plan.iter("g")
            if plate.get("class") == "plate"
        ]
        assert len(plates) == len(always)
        for at, (x, y, width, height) in enumerate(plates):
            assert x >= 0
            assert y >= 0
            assert x + width <= vehicle.width
            assert y + height <= vehicle.height
            for x2, y2, width2, height2 in plates[:at]:
                apart = x + width <= x2 or x2 + width2 <= x or y + height <= y2 or y2 + height2 <= y
                assert apart, f"{name}: plates at {x},{y} and {x2},{y2} touch"


def test_a_vehicle_draws_what_is_named_only_where_it_is_named() -> None:
    without = page(job("roof: {substrate: steel}"), vehicle="van")
    assert "sliding door left" not in without
    assert "sill left: not in this job" in without
    named = page(job("sliding door left: {substrate: steel}"), vehicle="van")
    assert re.search(r"<title>sliding door left: [^<]*not read</title>", named)
