"""What was understood of a file of readings, and the facts it makes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import PurePath

from engine.answers import MAX_NAME, read_value
from engine.errors import InputError, Place, Problem, ReadingsError
from engine.facts import Told
from engine.plaintext import forbidden_character
from engine.readings.panels import Match
from engine.readings.words import When
from engine.ruleset.model import FactSpec
from engine.value_reader import Where

READINGS = "film.readings"


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: how it is written, with its unit and a full stop for decimal mark, and where.

    `amount` is in the base unit of its kind; None where it cannot be read, which a problem says.
    """

    written: str
    place: Place
    amount: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """What stands where a reading should and is none: the gauge was past its range."""

    written: str
    place: Place
    name: str


@dataclass(frozen=True, slots=True)
class GaugeCheck:
    """A check of the gauge: on what (`zero`, `shim`, `check`), when, and what it read.

    `nominal` is the thickness of the shim. Whether it passed is not settled here: that takes the
    gauge's accuracy.
    """

    label: str
    kind: str
    when: When
    nominal: str | None
    readings: tuple[Reading, ...]
    time: str | None
    place: Place

    def text(self) -> str:
        """The check in one line."""
        on = f" of {self.nominal}" if self.nominal and self.nominal not in self.label else ""
        read = ", ".join(reading.written for reading in self.readings) or "nothing"
        at = f" at {self.time}" if self.time else ""
        return f"{self.label}{on}, {self.when.value} the readings{at}: read {read}"


@dataclass(frozen=True, slots=True)
class PanelReadings:
    """The readings of one name in the file: the panel it means, and its spots in file order."""

    name: str
    match: Match
    spots: tuple[tuple[Reading, ...], ...]
    times: tuple[str, ...]
    by: tuple[str, ...]
    instrument: str | None
    place: Place

    @property
    def count(self) -> int:
        return sum(map(len, self.spots))


@dataclass(frozen=True, slots=True)
class Understood:
    """A file of readings as it was understood; `digest` is the SHA-256 of its bytes.

    `assumptions` says what was taken without being told. What is in `to_confirm` is likely, and a
    person has to look at it; what is in `problems` keeps the readings from being taken. `left_out`
    holds what was seen and not taken, with its place.
    """

    file: str
    digest: str
    encoding: str
    separator: str
    decimal: str
    layout: str
    units: tuple[str, ...]
    about: Mapping[str, str]
    panels: tuple[PanelReadings, ...]
    checks: tuple[GaugeCheck, ...]
    refused: tuple[Refused, ...]
    left_out: tuple[tuple[Place, str], ...]
    assumptions: tuple[str, ...]
    to_confirm: tuple[Problem, ...]
    problems: tuple[Problem, ...]

    def told(self, spec: FactSpec, by: str | None = None) -> dict[str, Told]:
        """The film readings of each panel as a told fact, with gauge, time and who took them.

        `spec` is the fact they are told as, `by` who takes them over where the file names nobody.
        Raises ReadingsError while there are problems.
        """
        problems = list(self.problems)
        found: dict[str, Told] = {}
        for panel, parts in self._by_panel().items():
            spots = [spot for part in parts for spot in part.spots]
            places = [[reading.place for reading in spot] for spot in spots]
            raw = [
                written[0] if len(written) == 1 else written
                for written in ([reading.written for reading in spot] for spot in spots)
            ]
            if not raw or problems:
                continue
            try:
                told = read_value(spec, raw, parts[0].place, _where(places, parts[0].place))
            except InputError as error:
                problems += error.problems
                continue
            found[panel] = replace(
                told,
                by=_joined(each for part in parts for each in part.by) or by,
                at=_span([time for part in parts for time in part.times]),
                instrument=self._instrument(parts),
            )
        if problems:
            raise ReadingsError(problems)
        return found

    def notes(self) -> tuple[str, ...]:
        """What belongs beside the readings: the file, and what of it is told as no reading."""
        checks = (f"Gauge check: {check.text()}" for check in self.checks)
        return tuple(_fitting(note) for note in (self.origin(), *checks, *self.beyond()))

    def origin(self) -> str:
        """Which file the readings are from."""
        return _fitting(f"Film readings from {PurePath(self.file).name} ({self.digest})")

    def beyond(self) -> tuple[str, ...]:
        """The places where the film was past the gauge's range, in words."""
        file = PurePath(self.file).name
        return tuple(
            _fitting(
                f"Past the gauge's range ({file}, line {each.place.line}): {each.written}"
                + (f" on {each.name}" if each.name else "")
            )
            for each in self.refused
        )

    def _by_panel(self) -> dict[str, list[PanelReadings]]:
        found: dict[str, list[PanelReadings]] = {}
        for part in self.panels:
            if part.match.panel is not None:
                found.setdefault(part.match.panel, []).append(part)
        return found

    def _instrument(self, parts: list[PanelReadings]) -> str | None:
        whens = [check.when for check in self.checks]
        sides = [when.value for when in (When.BEFORE, When.AFTER) if when in whens]
        checked = f"checked {' and '.join(sides)}" if sides else ""
        gauge = _joined(part.instrument for part in parts if part.instrument)
        return _fitting(", ".join(filter(None, (gauge, checked)))) or None


def _where(places: list[list[Place]], whole: Place) -> Where:
    def where(*path: str | int) -> Place:
        found: object = places
        for step in path:
            if isinstance(found, list) and isinstance(step, int) and step < len(found):
                found = found[step]
        while isinstance(found, list) and found:
            found = found[0]
        return found if isinstance(found, Place) else whole

    return where


def _span(times: list[str]) -> str | None:
    """The first and the last time in the file's order: which day `03/04` is, nobody here knows."""
    if not times:
        return None
    first, last = times[0], times[-1]
    return _fitting(first if first == last else f"{first} to {last}")


def _joined(texts: Iterable[str]) -> str:
    return _fitting(", ".join(dict.fromkeys(texts)))


def _fitting(text: str) -> str:
    """`text` as a job file keeps it: on one line and no longer than it takes."""
    plain = "".join(" " if forbidden_character(char) else char for char in text)
    plain = " ".join(plain.split())
    return plain if len(plain) <= MAX_NAME else f"{plain[: MAX_NAME - 3]}..."
