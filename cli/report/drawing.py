"""The plan view: the vehicle's panels shaded by film thickness, with number, treatment and film."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cli.report.bands import Band, band_of
from cli.report.harmless import shorten
from cli.report.placing import Placed
from cli.report.vehicles import Point, Shape, Wheel
from engine.words import say

UNREAD = "unread"
"""The pattern of a panel whose film is not known."""

# Measures of the drawing itself, in its units: how wide a letter is taken to be, and a label high.
_LETTER = 7.9
_PADDING = 12.0
_LABEL_HEIGHT = 36.0
_LONGEST = 18


@dataclass(frozen=True, slots=True)
class Marked:
    """What is drawn of one panel of the job; `film` in um, None where it is not known."""

    panel: str
    number: int
    verdict: str
    film: Fraction | None
    film_text: str


@dataclass(frozen=True, slots=True)
class Label:
    """A plate with two lines of text; `leader` runs from it to its panel where it stands apart."""

    x: float
    y: float
    width: float
    height: float
    lines: tuple[str, str]
    leader: tuple[Point, Point] | None


@dataclass(frozen=True, slots=True)
class DrawnPanel:
    """An outline; without a label it is no panel of the job."""

    points: str
    title: str
    pattern: str | None
    label: Label | None


@dataclass(frozen=True, slots=True)
class PlanView:
    """Everything the drawing holds, in its own units; `beside` are panels it has no place for,
    each with its pattern."""

    title: str
    width: float
    height: float
    panels: tuple[DrawnPanel, ...]
    glass: tuple[str, ...]
    wheels: tuple[Wheel, ...]
    beside: tuple[tuple[Marked, str], ...]


def plan_view(placed: Placed, marked: Sequence[Marked], bands: tuple[Band, ...]) -> PlanView:
    """Draw the panels of a job on the vehicle they were placed on."""
    by_panel = {mark.panel: mark for mark in marked}
    by_shape = {shape.name: by_panel[panel] for panel, shape in placed.drawn.items()}
    vehicle = placed.vehicle
    # What lies on another panel is drawn after it.
    shapes = sorted(vehicle.shapes, key=lambda shape: shape.when_named)
    return PlanView(
        title=vehicle.title,
        width=vehicle.width,
        height=vehicle.height,
        panels=tuple(
            _drawn(shape, by_shape.get(shape.name), bands, vehicle.width)
            for shape in shapes
            if shape.name in by_shape or not shape.when_named
        ),
        glass=tuple(points(pane) for pane in vehicle.glass),
        wheels=vehicle.wheels,
        beside=tuple(
            (by_panel[panel], pattern_of(by_panel[panel], bands)) for panel in placed.beside
        ),
    )


def _drawn(shape: Shape, mark: Marked | None, bands: tuple[Band, ...], across: float) -> DrawnPanel:
    outline, at = shape.outline, shape.label
    if mark is None:
        return DrawnPanel(
            points(outline), say("{name}: not in this job", name=shape.name), None, None
        )
    title = f"{mark.panel}: {mark.verdict}, {mark.film_text}"
    return DrawnPanel(
        points(outline), title, pattern_of(mark, bands), _label(outline, at, mark, across)
    )


def pattern_of(mark: Marked, bands: tuple[Band, ...]) -> str:
    """The pattern a panel is filled with."""
    return UNREAD if mark.film is None else band_of(mark.film, bands).pattern


def _label(outline: tuple[Point, ...], at: Point, mark: Marked, across: float) -> Label:
    lines = (shorten(f"{mark.number} {mark.verdict}", _LONGEST), shorten(mark.film_text, _LONGEST))
    width = max(map(len, lines)) * _LETTER + _PADDING
    inside = contains(outline, at)
    leader = None if inside else (at, middle(outline))
    # A plate may reach over its panel, never over the edge of the drawing.
    x = max(1.0, min(at[0] - width / 2, across - width - 1.0))
    y = at[1] - _LABEL_HEIGHT / 2
    return Label(x, y, width, _LABEL_HEIGHT, lines, leader)


def points(outline: Sequence[Point]) -> str:
    """Corners as SVG writes them."""
    return " ".join(f"{x:g},{y:g}" for x, y in outline)


def contains(outline: Sequence[Point], point: Point) -> bool:
    """Whether a point lies inside a polygon: a ray from it crosses the outline an odd number of
    times."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def middle(outline: Sequence[Point]) -> Point:
    """The centre of the box around a polygon."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def counted_patterns(marked: Sequence[Marked], bands: tuple[Band, ...]) -> Mapping[str, int]:
    """How many panels each pattern is drawn on."""
    found: dict[str, int] = {}
    for mark in marked:
        pattern = pattern_of(mark, bands)
        found[pattern] = found.get(pattern, 0) + 1
    return found
