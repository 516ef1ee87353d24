"""Reads the numbers of a file: each with the file's decimal mark, its unit, and an exact amount."""

from __future__ import annotations

from fractions import Fraction

from engine.errors import Place, QuantityError
from engine.plaintext import quoted
from engine.quantity import Kind, parse_quantity
from engine.readings.cells import Decimal, plain_number, unit_name
from engine.readings.findings import Findings
from engine.readings.laid import Observation
from engine.readings.understood import Reading
from engine.ruleset.model import FactSpec

_UNITS = "Write `mil`, `um` or `mm`."


class NumberReader:
    """Reads the observations of one file.

    `units` are the units met, in order; `numbers` the plain numbers of each observation, by its id.
    """

    def __init__(
        self, spec: FactSpec, decimal: Decimal, told_unit: str | None, findings: Findings
    ) -> None:
        self._kind = spec.quantity or Kind.NUMBER
        self._plausible = spec.plausible
        self._decimal = decimal
        self._told_unit = told_unit
        self._findings = findings
        self._unit_asked = False
        self.units: dict[str, None] = {}
        self.numbers: dict[int, list[Fraction]] = {}

    def read(self, each: Observation) -> tuple[Reading, ...]:
        """The readings in one cell; what is wrong with them goes to the findings."""
        unit = self._unit(each)
        place = each.cell.place
        readings: list[Reading] = []
        for number in each.content.numbers:
            plain = plain_number(number, self._decimal.mark)
            if self._decimal.problem is not None:
                readings.append(Reading(number, place))
            elif plain is None:
                message = f"{quoted(number)} is not written as a number with one decimal mark"
                fix = "Write it as the other readings are written."
                self._findings.refuse("bad-number", message, place, fix)
                readings.append(Reading(number, place))
            else:
                self.numbers.setdefault(id(each), []).append(Fraction(plain))
                written = f"{plain} {unit or ''}".strip()
                readings.append(Reading(written, place, self._amount(written, unit, each)))
        return tuple(readings)

    def _amount(self, written: str, unit: str | None, each: Observation) -> Fraction | None:
        if unit is None:
            return None
        # A check on bare metal may read a little below zero, and a thick shim beyond any film.
        check = each.check is not None
        minus = check and written.startswith("-")
        try:
            quantity = parse_quantity(
                written.removeprefix("-") if minus else written,
                self._kind,
                place=each.cell.place,
                plausible=None if check else self._plausible,
            )
        except QuantityError as error:
            self._findings.problems += error.problems
            return None
        return -quantity.amount if minus else quantity.amount

    def _unit(self, each: Observation) -> str | None:
        """The unit of a reading: its own, that of its column, of the lines above, or told."""
        place = each.cell.place
        said = [
            (each.content.unit, place),
            each.unit or ("", place),
            (self._told_unit or "", place),
        ]
        names: dict[str, None] = {}
        for text, where in said:
            name = unit_name(text) if text else None
            if text and name is None:
                self._refuse("unknown-unit", f"{quoted(text)} is no unit of a film", where, _UNITS)
                return None
            if name:
                names[name] = None
        if len(names) > 1:
            message = f"{quoted(each.cell.text)} is said to be in {' and in '.join(names)}"
            self._refuse("two-units", message, place, "Leave one of the units out.")
            return None
        if names:
            self.units |= names
            return next(iter(names))
        if not self._unit_asked and each.check is None:
            self._unit_asked = True
            message = "nothing says in which unit the readings are"
            fix = "Say it with `--unit mil` or `--unit um`, or write it into the heading."
            self._refuse("no-unit", message, place, fix)
        return None

    def _refuse(self, code: str, message: str, place: Place, fix: str) -> None:
        self._findings.refuse(code, message, place, fix)
