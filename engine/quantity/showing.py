"""Converts amounts between units and writes them so that a person can read them."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from engine.errors import Problem, QuantityError, did_you_mean
from engine.quantity.units import (
    CURRENCY_SIGNS,
    KINDS,
    Dimension,
    Kind,
    Unit,
    find_currency,
    find_unit,
    unit_words,
)
from engine.words import numeral

_MONEY_DECIMALS = 2


def canonical_unit(kind: Kind) -> str:
    """The unit values of `kind` are reported in; "" for money, counts, numbers and years."""
    return KINDS[kind].canonical


def to_canonical(amount: Fraction, kind: Kind) -> Fraction:
    """An amount in the base unit of `kind`, turned into its canonical unit."""
    return to_unit(amount, kind, canonical_unit(kind))


def to_unit(amount: Fraction, kind: Kind, unit: str) -> Fraction:
    """An amount in the base unit of `kind`, turned into `unit`, exactly.

    Money is never converted: any currency leaves the amount as it is. Raises QuantityError where
    `unit` is no unit of `kind`.
    """
    return _in_unit(amount, unit_of(kind, unit))


def from_unit(amount: Fraction, kind: Kind, unit: str) -> Fraction:
    """An amount in `unit`, turned into the base unit of `kind`, exactly.

    Raises QuantityError where `unit` is no unit of `kind`.
    """
    found = unit_of(kind, unit)
    return Fraction(amount) * found.factor + found.shift


def show(amount: Fraction, kind: Kind, unit: str | None = None, digits: int | None = None) -> str:
    """An amount in the base unit of `kind`, written in `unit` for reading: `5.05 mil`, `$12.50`.

    Without `unit` the canonical one is used (a time under one hour is given in minutes). A value
    with few decimals is shown as it is, any other rounded as suits the unit; `digits` sets the
    number of decimals instead. Trailing zeros are left out. Two unequal amounts can read alike:
    beside a limit use `show_against`. Raises QuantityError where `unit` is no unit of `kind`.
    """
    shown = _shown_unit(amount, kind, unit)
    value = _in_unit(amount, shown)
    decimals = _sensible_decimals(value, shown) if digits is None else digits
    return _dress(_steps(value, decimals), decimals, shown)


def show_against(
    amount: Fraction, limit: Fraction, kind: Kind, unit: str | None = None
) -> tuple[str, str]:
    """The texts of an amount and of a limit, both in the base unit of `kind`, written in `unit`.

    Both are rounded to the same decimals: as many as it takes for unequal values to differ in the
    texts too, in the same direction; equal values give equal texts. Raises QuantityError where
    `unit` is no unit of `kind`.
    """
    shown = _shown_unit(limit, kind, unit)
    value, bound = _in_unit(amount, shown), _in_unit(limit, shown)
    # Both get the same decimals: 304.8001 rounded by itself reads 305, as if well over 304.8.
    decimals = max(_sensible_decimals(value, shown), _sensible_decimals(bound, shown))
    order = _order(value, bound)
    while _order(_steps(value, decimals), _steps(bound, decimals)) != order:
        decimals += 1
    return (
        _dress(_steps(value, decimals), decimals, shown),
        _dress(_steps(bound, decimals), decimals, shown),
    )


def show_exact(amount: Fraction, kind: Kind, unit: str | None = None) -> str:
    """An amount written without any rounding, as a fraction where no decimal is exact.

    `parse_quantity` reads the text back to the same amount, within the length it accepts. Raises
    QuantityError where `unit` is no unit of `kind`.
    """
    found = unit_of(kind, canonical_unit(kind) if unit is None else unit)
    return f"{exact_numeral(_in_unit(amount, found))} {found.symbol or found.name}".rstrip()


def exact_numeral(value: Fraction) -> str:
    """`value` as a decimal where one is exact, else as `n/d`."""
    rest = value.denominator
    twos = (rest & -rest).bit_length() - 1
    rest >>= twos
    fives = 0
    while rest % 5 == 0:
        rest //= 5
        fives += 1
    if rest != 1:
        return f"{value.numerator}/{value.denominator}"
    return _decimal_text(value, max(twos, fives))


@lru_cache(maxsize=1024)
def unit_of(kind: Kind, unit: str) -> Unit:
    """The unit of `kind` that `unit` spells; raises QuantityError where it spells none."""
    dimension = KINDS[kind].dimension
    if dimension is Dimension.MONEY:
        code = find_currency(unit) if unit else ""
        if code is not None:
            return Unit(code, dimension, Fraction(1), (), _MONEY_DECIMALS, _MONEY_DECIMALS)
    elif (found := find_unit(unit, dimension)) is not None:
        return found
    words = unit_words(kind)
    fix = did_you_mean(unit, words) or f"Units here: {', '.join(words[:12]) or 'none'}."
    raise QuantityError(
        Problem("unknown-unit", f"{unit!r} is no unit of {KINDS[kind].noun}", fix=fix)
    )


def _shown_unit(amount: Fraction, kind: Kind, unit: str | None) -> Unit:
    if unit is None and kind is Kind.TIME and 0 < abs(amount) < 1:
        return unit_of(kind, "min")
    return unit_of(kind, canonical_unit(kind) if unit is None else unit)


def _in_unit(amount: Fraction, unit: Unit) -> Fraction:
    if unit.shift:
        amount = Fraction(amount) - unit.shift
    factor = unit.factor
    return Fraction(amount.numerator * factor.denominator, amount.denominator * factor.numerator)


def _sensible_decimals(value: Fraction, unit: Unit) -> int:
    if unit.dimension is Dimension.MONEY and value.denominator == 1:
        return 0
    size, parts = abs(value.numerator), value.denominator
    for decimals in range(unit.exact + 1):
        if 10**decimals % parts == 0:
            return max(decimals, unit.decimals if unit.dimension is Dimension.MONEY else 0)
    # Rounding 0.004 mil to `0 mil` would hide that there is anything: keep two figures.
    decimals = unit.decimals
    while size * 10**decimals < 10 * parts:
        decimals += 1
    return decimals


def _steps(value: Fraction, decimals: int) -> int:
    """`value` rounded half away from zero, as people round, in steps of the last decimal."""
    scale: int = 10**decimals
    parts = value.denominator
    steps = (abs(value.numerator) * 2 * scale + parts) // (2 * parts)
    return steps if value.numerator >= 0 else -steps


def _decimal_text(value: Fraction, decimals: int) -> str:
    steps = abs(value.numerator) * 10**decimals // value.denominator
    return _with_point(steps if value >= 0 else -steps, decimals)


def _with_point(steps: int, decimals: int) -> str:
    figures = str(abs(steps)).zfill(decimals + 1)
    whole, part = (figures[:-decimals], figures[-decimals:]) if decimals else (figures, "")
    return ("-" if steps < 0 else "") + whole + (f".{part}" if part else "")


def _dress(steps: int, decimals: int, unit: Unit) -> str:
    text = _with_point(steps, decimals)
    if unit.dimension is Dimension.MONEY:
        sign = CURRENCY_SIGNS.get(unit.name)
        if sign:
            return f"-{sign}{numeral(text[1:])}" if steps < 0 else f"{sign}{numeral(text)}"
    elif "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{numeral(text)} {unit.symbol or unit.name}".rstrip()


def _order(left: Fraction | int, right: Fraction | int) -> int:
    return (left > right) - (left < right)
