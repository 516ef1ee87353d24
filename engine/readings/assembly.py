"""Reads a file of gauge readings, and says what it made of it before anything is taken."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from engine.errors import Problem, ReadingsError
from engine.plaintext import folded, quoted
from engine.readings.cells import COMMA, CellReader, Decimal, Holds, find_decimal
from engine.readings.findings import Findings
from engine.readings.laid import Laid, Observation, no_readings
from engine.readings.layout import lay_out
from engine.readings.names import NameFinder
from engine.readings.numbers import NumberReader
from engine.readings.panels import PanelMatcher
from engine.readings.source import read_source
from engine.readings.statistics import differing_claims
from engine.readings.table import find_separator, split_rows
from engine.readings.understood import GaugeCheck, PanelReadings, Reading, Refused, Understood
from engine.readings.words import When, WordFinder
from engine.ruleset.model import FactSpec
from engine.ruleset.vocabulary import Vocabulary

MAX_READINGS = 50_000


@dataclass(frozen=True, slots=True)
class Given:
    """What a person says of a file, where it does not say it itself.

    `panel` is whose readings these are, `unit` their unit, `per_spot` how many of them were taken
    at each spot. `names` maps names in the file to panels; to "" what is not to be taken.
    `separator` is a name from `SEPARATORS`, `decimal` is `point` or `comma`.
    """

    panel: str | None = None
    unit: str | None = None
    per_spot: int | None = None
    names: Mapping[str, str] = field(default_factory=dict)
    separator: str | None = None
    decimal: str | None = None


def understand(
    raw: bytes | Path,
    panels: Sequence[str],
    vocabulary: Vocabulary,
    spec: FactSpec,
    given: Given | None = None,
    name: str | None = None,
) -> Understood:
    """What a file of gauge readings says, for a job with these panels.

    `spec` is the fact the readings are to be told as; `name` is what the file is called in
    messages. Nothing is guessed in silence: what was assumed, has to be confirmed or cannot be
    taken stands in the result. Raises ReadingsError for a file that cannot be read, or in which
    no readings can be told from the rest.
    """
    said = given or Given()
    findings = Findings()
    source = read_source(raw, name)
    if source.guessed:
        findings.assume(f"the text is {source.encoding}, because {source.guessed}")
    separator = find_separator(
        source.text, source.name, said.separator, decimal_comma=said.decimal == COMMA
    )
    findings.assume(f"separator: {separator.name}, because {separator.why}")
    rows = split_rows(source.text, source.name, separator.mark)
    matcher = PanelMatcher(panels, vocabulary)
    laid = lay_out(rows, matcher, WordFinder(vocabulary), CellReader(vocabulary))
    if not laid.observations and not laid.problems:
        raise no_readings(laid, source.name)
    if len(laid.observations) > MAX_READINGS:
        message = f"the file has more than {MAX_READINGS:,} readings"
        place = laid.observations[MAX_READINGS].cell.place
        raise ReadingsError(Problem("too-many-readings", message, place, "Split it by panel."))
    findings.assumed += laid.assumed
    findings.to_confirm += laid.doubtful
    findings.problems += laid.problems
    decimal = _decimal(laid, said.decimal, findings)
    numbers = NumberReader(spec, decimal, said.unit, findings)
    names = NameFinder(matcher, panels, said.names, said.panel, findings)
    whole = _Assembly(laid, names, numbers, said.per_spot, findings)
    parts, checks, refused = whole.panels(), whole.checks(), whole.refused
    whole.say(parts, checks)
    findings.to_confirm += differing_claims(laid, numbers.numbers, decimal.mark)
    return Understood(
        file=source.name,
        digest=source.digest,
        encoding=source.encoding,
        separator=separator.name,
        decimal=decimal.mark,
        layout="; ".join(layout.value for layout in laid.layouts),
        units=tuple(numbers.units),
        about=dict(laid.about),
        panels=parts,
        checks=checks,
        refused=tuple(refused),
        left_out=tuple(laid.left_out),
        assumptions=tuple(dict.fromkeys(findings.assumed)),
        to_confirm=tuple(dict.fromkeys(findings.to_confirm)),
        problems=tuple(sorted(dict.fromkeys(findings.problems), key=_file_order)),
    )


def _decimal(laid: Laid, told: str | None, findings: Findings) -> Decimal:
    measured = ((each.cell, each.content.numbers) for each in laid.observations)
    decimal = find_decimal(measured, told)
    if decimal.problem is not None:
        findings.problems.append(decimal.problem)
    elif decimal.seen:
        mark = "point" if decimal.mark == "." else "comma"
        findings.assume(f"decimal mark: {mark}, {decimal.why}")
    return decimal


class _Assembly:
    """Puts the readings of a file together by panel and spot."""

    def __init__(
        self,
        laid: Laid,
        names: NameFinder,
        numbers: NumberReader,
        per_spot: int | None,
        findings: Findings,
    ) -> None:
        self._laid = laid
        self._names = names
        self._numbers = numbers
        self._per_spot = per_spot
        self._findings = findings
        self._film = [each for each in laid.observations if each.check is None]
        self.refused: list[Refused] = []

    def panels(self) -> tuple[PanelReadings, ...]:
        """The readings of each name in the file, in its order."""
        named = self._names.named(self._laid, self._film)
        return tuple(self._panel(name, found, len(named) == 1) for name, found in named.items())

    def _panel(self, name: str, found: list[Observation], alone: bool) -> PanelReadings:
        first = found[0]
        place = first.panel.place if first.panel else first.cell.place
        match = self._names.match(name, place, alone=alone)
        spots: dict[object, list[Reading]] = {}
        told_by_file = False
        for number, each in enumerate(found):
            if each.content.holds is Holds.OUT_OF_RANGE:
                self.refused.append(Refused(each.cell.text, each.cell.place, name))
                continue
            readings = self._numbers.read(each)
            told_by_file = told_by_file or each.spot is not None or len(readings) > 1
            key = number if each.spot is None else (each.block, folded(each.spot))
            spots.setdefault(key, []).extend(readings)
        if self._per_spot is not None:
            spots = self._told_spots(self._per_spot, found, spots, told_by_file)
        read = [each for each in found if each.content.holds is Holds.READINGS]
        return PanelReadings(
            name=name,
            match=match,
            spots=tuple(map(tuple, spots.values())),
            times=_details(read, "time"),
            by=_details(read, "by"),
            instrument="; ".join(dict.fromkeys(filter(None, map(_gauge, read)))) or None,
            place=first.cell.place,
        )

    def _told_spots(
        self,
        size: int,
        found: list[Observation],
        spots: dict[object, list[Reading]],
        told_by_file: bool,
    ) -> dict[object, list[Reading]]:
        """The readings in spots of as many as a person said were taken at each."""
        place = found[0].cell.place
        if told_by_file:
            message = "the file says itself which readings belong to one spot"
            self._findings.refuse("spots-told-twice", message, place, "Leave `--spots` out.")
            return spots
        readings = [reading for spot in spots.values() for reading in spot]
        # Where a reading is missing in the middle nobody can say which spot lacks it.
        if len(readings) % size or len(readings) < len(found):
            message = f"{len(readings)} readings do not make spots of {size}"
            fix = "Give the spots in a column, or another number with `--spots`."
            self._findings.refuse("uneven-spots", message, place, fix)
            return spots
        return {at: readings[at : at + size] for at in range(0, len(readings), size)}

    def checks(self) -> tuple[GaugeCheck, ...]:
        """The checks of the gauge; readings under one label that belong together make one."""
        film = [at for at, each in enumerate(self._laid.observations) if each.check is None]
        found: dict[tuple[str, When, int], list[Observation]] = {}
        for at, each in enumerate(self._laid.observations):
            if each.check is not None:
                key = (each.check.text, each.check.when or _when(at, film), each.block)
                found.setdefault(key, []).append(each)
        return tuple(self._check(when, several) for (_, when, _), several in found.items())

    def _check(self, when: When, found: list[Observation]) -> GaugeCheck:
        label = found[0].check
        assert label is not None
        return GaugeCheck(
            label=label.text,
            kind=label.kind,
            when=when,
            nominal=label.nominal,
            readings=tuple(reading for each in found for reading in self._read_check(each)),
            time=found[0].details.get("time"),
            place=found[0].cell.place,
        )

    def _read_check(self, each: Observation) -> tuple[Reading, ...]:
        if each.content.holds is Holds.READINGS:
            return self._numbers.read(each)
        return (Reading(each.cell.text, each.cell.place),)

    def say(self, parts: Sequence[PanelReadings], checks: Sequence[GaugeCheck]) -> None:
        """Says what a person has to know of the whole."""
        if self.refused:
            what = "a cell past the gauge's range is"
            if len(self.refused) > 1:
                what = f"{len(self.refused)} cells past the gauge's range are"
            fix = "Read those spots again with a gauge that reaches as far."
            place = self.refused[0].place
            self._findings.ask("out-of-range", f"{what} left out", place, fix)
        if not any(len(spot) > 1 for part in parts for spot in part.spots):
            self._findings.assume("each reading is a spot of its own")
        for panel, together in _by_panel(parts):
            if len(together) > 1:
                names = " and ".join(quoted(part.name) for part in together)
                message = f"{names} are put together as the panel {quoted(panel)}"
                fix = "If they are not one panel, say which is which with `--map`."
                self._findings.ask("names-together", message, together[1].place, fix)
        units = list(self._numbers.units)
        if len(units) > 1:
            message = f"the readings are in several units: {', '.join(units)}"
            fix = "Look whether that is so."
            self._findings.ask("several-units", message, parts[0].place if parts else None, fix)
        for when in (When.BEFORE, When.AFTER):
            if checks and not any(check.when is when for check in checks):
                self._findings.assume(f"no gauge check stands {when.value} the readings")


def _by_panel(parts: Sequence[PanelReadings]) -> Iterator[tuple[str, list[PanelReadings]]]:
    found: dict[str, list[PanelReadings]] = {}
    for part in parts:
        if part.match.panel is not None:
            found.setdefault(part.match.panel, []).append(part)
    yield from found.items()


def _when(at: int, film: list[int]) -> When:
    if not film or at < film[0]:
        return When.BEFORE
    return When.AFTER if at > film[-1] else When.BETWEEN


def _gauge(each: Observation) -> str:
    """The gauge, its probe and serial number in words."""
    details = each.details
    probe, serial = details.get("probe"), details.get("serial")
    parts = [details.get("instrument"), probe and f"probe {probe}", serial and f"serial {serial}"]
    return ", ".join(filter(None, parts))


def _details(found: list[Observation], role: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, (each.details.get(role) for each in found))))


def _file_order(problem: Problem) -> tuple[int, int]:
    return (problem.place.line, problem.place.column) if problem.place else (0, 0)
