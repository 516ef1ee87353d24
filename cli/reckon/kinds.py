"""What an option of a reckoning takes: quantities as people write them, named or in a row.

Each type knows how its value is got, and says so where it is missing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from engine.errors import InputError, Problem, QuantityError
from engine.facts import Spots
from engine.plaintext import quoted
from engine.quantity import Kind, Quantity, parse_quantity, show
from engine.spots import SpotReader, spot_texts

if TYPE_CHECKING:
    _ParamType = click.ParamType[Any]
else:
    # Not every version of click lets the class be subscripted when it runs.
    _ParamType = click.ParamType

_NAMED = re.compile(r"\s*([^=]*?)\s*=\s*(.*?)\s*", re.DOTALL)


class Measure(_ParamType):
    """One quantity of a kind; `how` says how to get it.

    `like` names a fact of the rule set whose plausible range holds for it too.
    """

    def __init__(self, kind: Kind, how: str, like: str | None = None) -> None:
        self.kind = kind
        self.how = how
        self.like = like
        self.name = str(kind)

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Quantity:
        return value if isinstance(value, Quantity) else _read(str(value), self.kind, param)

    def get_missing_message(self, param: click.Parameter, ctx: click.Context | None) -> str:
        return f"To get it: {self.how}"


class Words(click.Choice[str] if TYPE_CHECKING else click.Choice):  # type: ignore[misc]
    """One of some words; says in one line which there are and how to tell where it is missing."""

    def __init__(self, choices: Sequence[str], how: str) -> None:
        super().__init__(list(choices))
        self.how = how

    def get_missing_message(self, param: click.Parameter, ctx: click.Context | None) -> str:
        return f"One of {', '.join(self.choices)}: {self.how}"


class Named(Measure):
    """NAME=QUANTITY, as in `clear=2` or `hardener=0.95 kg/L`."""

    def convert(  # type: ignore[override]
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Quantity]:
        if isinstance(value, tuple):
            return value
        found = _NAMED.fullmatch(str(value))
        if found is None or not found[1]:
            message = f"{_called(param)}: {quoted(str(value))} names no part"
            raise InputError(Problem("no-name", message, fix="Write it as in `hardener=1`."))
        return found[1], _read(found[2], self.kind, param)


class Taken(NamedTuple):
    """Readings in um, spot by spot, and the unit all of them were written in."""

    spots: Spots
    unit: str | None


class Readings(_ParamType):
    """Film readings: spots between commas, the readings of one spot between slashes.

    `signed`: they may be below zero, as those of a gauge on bare metal.
    """

    name = "readings"

    def __init__(self, how: str, like: str | None, *, signed: bool = False) -> None:
        self.how = how
        self.like = like
        self.signed = signed

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Taken:
        if isinstance(value, Taken):
            return value
        reader = SpotReader(Kind.THICKNESS, None, signed=self.signed)
        try:
            for texts in spot_texts(str(value), Kind.THICKNESS, None):
                reader.spot(texts, [None] * len(texts))
            return Taken(*reader.result())
        except InputError as error:
            raise _named(error, param) from error

    def get_missing_message(self, param: click.Parameter, ctx: click.Context | None) -> str:
        return f"To get it: {self.how}"


def refuse_implausible(
    value: object, range_: tuple[Fraction, Fraction], param: click.Parameter
) -> None:
    """Refuse what lies outside the plausible range of a fact, worded as for the fact."""
    if isinstance(value, Quantity):
        try:
            parse_quantity(value.written, value.kind, plausible=range_)
        except QuantityError as error:
            raise _named(error, param) from error
    elif isinstance(value, Taken):
        low, high = range_
        for spot in value.spots:
            for reading in spot:
                if not low <= reading <= high:
                    shown = (show(each, Kind.THICKNESS, value.unit) for each in (reading, *range_))
                    raise InputError(Problem("implausible", _implausible(param, *shown)))
    elif isinstance(value, tuple):
        for each in value:
            refuse_implausible(each, range_, param)


def _implausible(param: click.Parameter, reading: str, low: str, high: str) -> str:
    return (
        f"{_called(param)}: {reading} is no plausible reading; check the value and its unit, "
        f"{low} to {high} is expected"
    )


def _read(text: str, kind: Kind, param: click.Parameter | None) -> Quantity:
    try:
        return parse_quantity(text, kind)
    except QuantityError as error:
        raise _named(error, param) from error


def _named(error: InputError, param: click.Parameter | None) -> InputError:
    return InputError(
        Problem(each.code, f"{_called(param)}: {each.message}", each.place, each.fix)
        for each in error.problems
    )


def _called(param: click.Parameter | None) -> str:
    return param.opts[0] if param and param.opts else "the value"


def amount(quantity: Quantity | None) -> Fraction | None:
    """The exact amount in the base unit, for a reckoning that refuses what is missing."""
    return None if quantity is None else quantity.amount
