"""The shapes of vehicles a report can be drawn on, read from `shared/report/vehicles`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from engine.document import Document, read_document
from engine.errors import InputError, Problem, UsageError, did_you_mean
from engine.plaintext import quoted
from engine.ruleset.schema import shape_problems
from engine.supplied import report_folder

GENERIC = "generic"

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """One panel of a vehicle: its names, its corners and where its label stands.

    With `when_named` it is drawn only where a job names it.
    """

    names: tuple[str, ...]
    outline: tuple[Point, ...]
    label: Point
    when_named: bool = False

    @property
    def name(self) -> str:
        return self.names[0]


@dataclass(frozen=True, slots=True)
class Wheel:
    centre: Point
    radius: float


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle as seen from above, its faces unfolded. Lengths are in units of the drawing."""

    name: str
    title: str
    width: float
    height: float
    shapes: tuple[Shape, ...]
    glass: tuple[tuple[Point, ...], ...]
    wheels: tuple[Wheel, ...]


def read_vehicle(path: Path) -> Vehicle:
    """The vehicle in a file. Raises InputError with every mistake in it and its place."""
    document = read_document(path)
    problems = [problem for _, problem in shape_problems(document, "vehicle")]
    if problems:
        raise InputError(problems)
    return _Reader(document).read()


def supplied_vehicles() -> tuple[Vehicle, ...]:
    """Every supplied vehicle, by name."""
    folder = report_folder() / "vehicles"
    return tuple(read_vehicle(path) for path in sorted(folder.glob("*.yaml")))


def vehicle_named(name: str) -> Vehicle:
    """The supplied vehicle of that name, or the one in the file of that name.

    Raises UsageError where there is neither.
    """
    if name.lower().endswith((".yaml", ".yml", ".json")):
        return read_vehicle(Path(name))
    vehicles = {vehicle.name: vehicle for vehicle in supplied_vehicles()}
    if name in vehicles:
        return vehicles[name]
    fix = did_you_mean(name, vehicles) or f"There are: {', '.join(vehicles)}; or name a file."
    raise UsageError(f"there is no vehicle {quoted(name)} to draw. {fix}")


class _Reader:
    def __init__(self, document: Document) -> None:
        self._document = document
        self._data: Mapping[str, Any] = document.data
        self._width, self._height = map(float, self._data["size"])

    def read(self) -> Vehicle:
        data = self._data
        shapes = tuple(self._shapes(data["panels"]))
        self._check_names(shapes)
        return Vehicle(
            name=data["vehicle"],
            title=data["title"],
            width=self._width,
            height=self._height,
            shapes=shapes,
            glass=tuple(self._glass(data.get("glass", ()))),
            wheels=tuple(self._wheels(data.get("wheels", ()))),
        )

    def _shapes(self, panels: Iterable[Mapping[str, Any]]) -> Iterator[Shape]:
        for panel in panels:
            also = tuple(panel.get("also", ()))
            shape = Shape(
                names=(panel["panel"], *also),
                outline=_points(panel["outline"]),
                label=_point(panel["label"]),
                when_named=panel.get("when-named") == "yes",
            )
            yield shape
            if "mirror" in panel:
                others = tuple(panel.get("also-mirror", map(_other_side, also)))
                yield Shape(
                    names=(panel["mirror"], *others),
                    outline=self._mirrored(shape.outline),
                    label=self._mirrored((shape.label,))[0],
                    when_named=shape.when_named,
                )

    def _glass(self, panes: Iterable[Mapping[str, Any]]) -> Iterator[tuple[Point, ...]]:
        for pane in panes:
            outline = _points(pane["outline"])
            yield outline
            if pane.get("mirrored") == "yes":
                yield self._mirrored(outline)

    def _wheels(self, wheels: Iterable[Mapping[str, Any]]) -> Iterator[Wheel]:
        for wheel in wheels:
            centre, radius = _point(wheel["centre"]), float(wheel["radius"])
            yield Wheel(centre, radius)
            if wheel.get("mirrored") == "yes":
                yield Wheel(self._mirrored((centre,))[0], radius)

    def _mirrored(self, points: Iterable[Point]) -> tuple[Point, ...]:
        return tuple((x, self._height - y) for x, y in points)

    def _check_names(self, shapes: Iterable[Shape]) -> None:
        names = [name for shape in shapes for name in shape.names]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            listed = ", ".join(quoted(name) for name in twice)
            raise InputError(
                Problem(
                    "panel-twice",
                    f"two outlines are called {listed}",
                    self._document.place("panels"),
                    "Give every outline names of its own.",
                )
            )


def _other_side(name: str) -> str:
    sides = {"left": "right", "right": "left"}
    return " ".join(sides.get(word, word) for word in name.split())


def _points(corners: Iterable[Iterable[Any]]) -> tuple[Point, ...]:
    return tuple(_point(corner) for corner in corners)


def _point(corner: Iterable[Any]) -> Point:
    x, y = corner
    return float(x), float(y)
