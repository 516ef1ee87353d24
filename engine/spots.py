"""Reads gauge readings: from one text (`4.9, 5.1, 5.0/5.2/5.1 mil`) or reading by reading.

In a text, commas, semicolons, spaces or `and` stand between spots and a slash between the readings
of one spot. A unit at the end serves every reading that has none. Where a comma or a slash can
mean two things the text is refused, never guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from engine.errors import InputError, Place, Problem, QuantityError
from engine.facts import Spots
from engine.plaintext import quoted
from engine.quantity import Dimension, Kind, parse_quantity
from engine.quantity.numerals import tidy
from engine.quantity.units import KINDS, find_unit, unit_key
from engine.records import dataclass
from engine.words import say

_NUMBER = r"[+-]?(?:[0-9]+-[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
_UNIT = r"(?:\s*[^\s0-9,/.+-][^\s,/]*(?:/[^\s0-9,/]+)*)*\.?"
_RUN = re.compile(rf"({_NUMBER}(?:\s*/\s*{_NUMBER})*)({_UNIT})")
_MIXED_AND = re.compile(r"(?<![0-9./,])([0-9]+) and ([0-9]+/[0-9]+)", re.IGNORECASE)
_AND = re.compile(r"\s*,?\s(?:and|&|\+)\s+(?=[+-]?[.0-9])", re.IGNORECASE)
_SEPARATOR = re.compile(r";|(?<![0-9]),|,(?![0-9])")
_ONE_NUMBER = re.compile(
    r"[0-9]*,[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"
)
_WHOLE = re.compile(r"[0-9]+")
_FRACTION = re.compile(r"([0-9]+)\s*/\s*([0-9]+)")
_MIXED = re.compile(r"[0-9]+[ -][0-9]+\s*/\s*[0-9]+")
# Rules and scales are divided by halving, so these are the fractions people measure in.
_HALVINGS = frozenset(2**power for power in range(1, 7))


_ABOUT_UNITS = frozenset({"no-unit", "unknown-unit", "wrong-unit"})


class SpotReader:
    """Takes readings spot by spot, and names everything wrong with them together."""

    def __init__(
        self,
        kind: Kind,
        plausible: tuple[Fraction, Fraction] | None,
        *,
        signed: bool = False,
    ) -> None:
        self._kind = kind
        self._plausible = plausible
        self._signed = signed
        self._spots: list[tuple[Fraction, ...]] = []
        self._units: dict[str, None] = {}
        self._refused: list[Problem] = []
        self._likely: tuple[str, ...] = ()

    def spot(self, texts: Sequence[str], places: Sequence[Place | None]) -> None:
        """One spot: each text is one reading with its unit."""
        readings: list[Fraction] = []
        for text, place in zip(texts, places, strict=True):
            try:
                quantity = parse_quantity(
                    text,
                    self._kind,
                    place=place,
                    plausible=self._plausible,
                    signed=self._signed,
                )
            except QuantityError as error:
                self.refuse(error)
            else:
                readings.append(quantity.amount)
                self._units[quantity.unit] = None
        self._spots.append(tuple(readings))

    def refuse(self, error: InputError) -> None:
        """Keeps an error for the end, so that the other readings are looked at too."""
        self._refused += error.problems
        if isinstance(error, QuantityError) and not self._likely:
            self._likely = error.likely

    def result(self) -> tuple[Spots, str | None]:
        """The spots, and the unit all were written in (None where it varies).

        Raises QuantityError for one problem, InputError for several; readings that lack a unit, or
        have one that is not known, make one problem together.
        """
        problems = _grouped(self._refused)
        if len(problems) == 1:
            raise QuantityError(problems[0], self._likely)
        if problems:
            raise InputError(problems)
        unit = next(iter(self._units)) if len(self._units) == 1 else None
        return tuple(self._spots), unit


def _grouped(problems: list[Problem]) -> list[Problem]:
    """`problems` with those about units counted under the first of their sort."""
    kept: list[Problem] = []
    for code, same in groupby(sorted(problems, key=_code), key=_code):
        first, *others = same
        if code in _ABOUT_UNITS and others:
            more = say(" (and {others} more like it)", others=len(others))
            kept.append(replace(first, message=f"{first.message}{more}"))
        else:
            kept += [first, *others]
    return kept


def _code(problem: Problem) -> str:
    return problem.code


def spot_texts(text: str, kind: Kind, place: Place | None) -> list[list[str]]:
    """The readings in `text`, one inner list a spot, each reading with a unit of its own.

    Raises QuantityError where the text can be taken apart in more than one way, or lacks a unit.
    """
    return _Splitter(text, kind, place).spots()


@dataclass(frozen=True, slots=True)
class _Run:
    """Numbers joined by slashes, the unit after them, and any words before them.

    `link` is what stands between this run and the one before: a slash, a space, or "" for a
    separator.
    """

    digits: str
    unit: str
    lead: str = ""
    link: str = ""


class _Splitter:
    def __init__(self, text: str, kind: Kind, place: Place | None) -> None:
        self._text = text
        self._kind = kind
        self._place = place

    def spots(self) -> list[list[str]]:
        runs = self._with_units(self._mixed(self._unglued(self._runs())))
        spots: list[list[str]] = []
        for run in runs:
            readings = self._readings(run)
            if run.link == "/" and spots:
                spots[-1] += readings
            else:
                spots.append(readings)
        return spots

    def _runs(self) -> list[_Run]:
        lines = (line.strip(" \t,;") for line in self._text.splitlines())
        plain = tidy("; ".join(filter(None, lines)))
        plain = _AND.sub("; ", _MIXED_AND.sub(r"\1-\2", plain)).strip(",; ")
        if not plain:
            raise self._refuse(
                "empty", say("holds no reading"), say("Write the readings with their unit.")
            )
        runs: list[_Run] = []
        for part in _SEPARATOR.split(plain):
            if not part.strip():
                raise self._refuse(
                    "empty", say("has nothing between two separators"), say("Take one of them out.")
                )
            runs += self._runs_of_part(part.strip())
        return runs

    def _runs_of_part(self, part: str) -> list[_Run]:
        runs: list[_Run] = []
        end = 0
        for found in _RUN.finditer(part):
            between = part[end : found.start()]
            if runs and not between and found[1][0] in "+-":
                raise self._refuse(
                    "several-values",
                    say("can hold a range"),
                    say("Write each reading, with a space between readings."),
                )
            link = "/" if between.strip() == "/" else " " if runs else ""
            lead = "" if link == "/" else between.strip()
            runs.append(_Run(found[1], found[2].strip(), lead, link))
            end = found.end()
        if not runs:
            return [_Run("", "", lead=part)]
        runs[-1] = replace(runs[-1], unit=f"{runs[-1].unit}{part[end:]}".strip())
        return runs

    def _unglued(self, runs: list[_Run]) -> list[_Run]:
        """`4.9,5.1,5.0` taken apart. `4,9` alone is refused: it may be one reading or two."""
        out: list[_Run] = []
        for run in runs:
            commas = run.digits.count(",")
            if not commas or "/" in run.digits:
                out.append(run)
            elif not _ONE_NUMBER.fullmatch(run.digits.lstrip("+-")):
                first, *others, last = run.digits.split(",")
                out.append(replace(run, digits=first, unit=""))
                out += [_Run(digits, "") for digits in others]
                out.append(_Run(last, run.unit))
            elif len(runs) == 1:
                raise self._refuse(
                    "ambiguous-comma",
                    say(
                        "can be one reading with a comma in it, or {commas} readings",
                        commas=commas + 1,
                    ),
                    say(
                        "Write decimals with a full stop, and a space after a comma "
                        "between readings."
                    ),
                )
            else:
                out.append(run)
        return out

    def _mixed(self, runs: list[_Run]) -> list[_Run]:
        """`1` and `1/4 in` put together where only a space stands between them."""
        out: list[_Run] = []
        for run in runs:
            fraction = _FRACTION.fullmatch(run.digits)
            if (
                out
                and run.link == " "
                and not run.lead
                and not out[-1].unit
                and _WHOLE.fullmatch(out[-1].digits)
                and fraction
                and int(fraction[1]) < int(fraction[2])
                and self._in_inches(run.unit or runs[-1].unit)
            ):
                out[-1] = replace(out[-1], digits=f"{out[-1].digits} {run.digits}", unit=run.unit)
            else:
                out.append(run)
        return out

    def _with_units(self, runs: list[_Run]) -> list[_Run]:
        bare = [run for run in runs if run.digits and not run.unit]
        if not bare or KINDS[self._kind].dimension is Dimension.PLAIN:
            return runs
        named = {unit_key(run.unit) for run in runs if run.unit}
        last = runs[-1].unit
        if not named:
            raise self._no_unit(bare[0])
        if not last or len(named) > 1:
            raise self._refuse(
                "no-unit",
                say("has a unit at some readings and none at others"),
                say("Write one unit after the last reading, or one after each."),
            )
        return [replace(run, unit=run.unit or last) if run.digits else run for run in runs]

    def _readings(self, run: _Run) -> list[str]:
        parts = [part.strip() for part in run.digits.split("/")]
        fraction = _FRACTION.fullmatch(run.digits)
        whole = len(parts) > 1 and all(_WHOLE.fullmatch(part) for part in parts)
        inches = self._in_inches(run.unit)
        if len(parts) == 1 or _MIXED.fullmatch(run.digits) or (fraction and inches):
            return [" ".join(filter(None, (run.lead, run.digits, run.unit)))]
        if whole and inches:
            raise self._refuse(
                "ambiguous-slash",
                say("can hold fractions or the readings of one spot"),
                say("Write the readings as decimals, as in `0.25/0.19 in`."),
            )
        if fraction and int(parts[0]) < int(parts[1]) and int(parts[1]) in _HALVINGS:
            raise self._refuse(
                "ambiguous-slash",
                say(
                    "can be a fraction or two readings of one spot at `{digits}`", digits=run.digits
                ),
                say(
                    "Write `{parts}.0/{parts2}.0 {unit}` for two readings, or the "
                    "fraction as a decimal.",
                    parts=parts[0],
                    parts2=parts[1],
                    unit=run.unit,
                ),
            )
        first, *others = (f"{part} {run.unit}".strip() for part in parts)
        return [f"{run.lead} {first}".strip(), *others]

    def _in_inches(self, unit: str) -> bool:
        found = find_unit(unit, KINDS[self._kind].dimension) if unit else None
        return found is not None and found.name == "in"

    def _no_unit(self, run: _Run) -> QuantityError:
        first = run.digits.split("/")[0].strip()
        likely: list[str] = []
        try:
            parse_quantity(first, self._kind, signed=True)
        except QuantityError as error:
            units = (offer.removeprefix(first).strip() for offer in error.likely)
            likely = [f"{self._text.strip()} {unit}" for unit in units if unit.isalpha()]
        fix = say(
            "Write the unit after the last reading: {map}.", map=" or ".join(map(quoted, likely))
        )
        return self._refuse(
            "no-unit",
            say("has no unit"),
            fix if likely else say("Write the unit after the last reading."),
            likely,
        )

    def _refuse(
        self, code: str, message: str, fix: str, likely: Sequence[str] = ()
    ) -> QuantityError:
        problem = Problem(code, f"{quoted(self._text.strip())} {message}", self._place, fix)
        return QuantityError(problem, likely)
