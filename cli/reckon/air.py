"""Dew point, margin and humidity."""

from __future__ import annotations

from fractions import Fraction

from cli.reckon.answer import Answer
from cli.reckon.kinds import amount
from cli.reckon.reckoning import RuleBook, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning.air import AirLimits, judge_air, relative_humidity
from engine.reckoning.air import dew_point as dew_point_of
from engine.reckoning.psychrometer import (
    humidity_from_wet_bulb,
    hygrometers_agree,
    wet_bulb_from_humidity,
)

_PA_PER_BAR = 100_000
_MAGNUS = "Magnus formula with the constants of WMO-No. 8, annex 4.B (from memory)"
_BALANCE = (
    "energy balance of the wet bulb, ASHRAE Handbook Fundamentals 2017, chapter 1 (from memory)"
)
_PRESSURE = "pressure of the air at the shop, not reduced to sea level; read the barometer"
_FAILURES = {
    "dew-margin": "too near the dew point: warm the surface by {short} or dry the air",
    "relative-humidity": "humidity over {limit}: dry the air by {short}",
    "air-temperature": "the air is {short} outside {limit}",
    "surface-temperature": "the surface is {short} outside {limit}",
}


@reckoning(
    "dew-point",
    option(
        "--air",
        Kind.TEMPERATURE,
        "air beside the panel; read a thermometer",
        required=True,
        like="shop.air-temperature",
    ),
    option("--humidity", Kind.PERCENT, "relative humidity; read a hygrometer", required=True),
    option(
        "--surface",
        Kind.TEMPERATURE,
        "the panel; read a contact thermometer",
        like="shop.surface-temperature",
    ),
    option("--margin", Kind.TEMPERATURE_DIFFERENCE, "margin wanted instead of the rule set's"),
)
def dew_point(
    book: RuleBook,
    air: Quantity,
    humidity: Quantity,
    surface: Quantity | None,
    margin: Quantity | None,
) -> Answer:
    """Dew point; with --surface the margin, what to wait for, and how long bare steel may wait."""
    answer = Answer(
        "Dew point",
        "dew = b*g/(a - g), g = ln(RH/100) + a*T/(b + T), a = 17.62, b = 243.12 degC",
        f"{_MAGNUS}; margin above the dew point: ISO 8502-4:1993",
    )
    answer.measure(
        "Dew point", dew_point_of(air.amount, humidity.amount), Kind.TEMPERATURE, air.unit
    )
    if surface is None:
        answer.note("Give --surface to see whether anything may be coated.")
        return answer
    limits = AirLimits(
        margin_degC=book.limit("air.dew-margin-least") if margin is None else margin.amount,
        rh_most_percent=book.limit("air.humidity-limit"),
        lowest_degC=book.limit("air.coldest"),
        highest_degC=book.limit("air.warmest"),
    )
    found = judge_air(surface.amount, air.amount, humidity.amount, limits=limits)
    needs = found.needs
    answer.measure("Margin", needs.margin_degC, Kind.TEMPERATURE_DIFFERENCE, _difference(air))
    answer.measure("Humidity at the surface", found.surface_rh_percent, Kind.PERCENT)
    answer.measure("Surface needed", needs.surface_needed_degC, Kind.TEMPERATURE, surface.unit)
    answer.measure("Or humidity of at most", needs.rh_needed_percent, Kind.PERCENT)
    for failure in found.failures:
        kind = Kind.PERCENT if failure.unit == "percent" else Kind.TEMPERATURE_DIFFERENCE
        whole = Kind.PERCENT if failure.unit == "percent" else Kind.TEMPERATURE
        unit = None if kind is Kind.PERCENT else _difference(air)
        answer.word(
            "Wait",
            _FAILURES[failure.what].format(
                short=show(Fraction(failure.short_by), kind, unit),
                limit=show(Fraction(failure.limit), whole, None if unit is None else air.unit),
            ),
        )
    if found.ok:
        answer.word("Air", "within the limits; the product's data sheet may ask for more")
    answer.word("Bared steel", _bare_steel(book, Fraction(found.surface_rh_percent)))
    answer.note("Warming the air without drying it leaves the dew point where it was.")
    return answer


def _bare_steel(book: RuleBook, humidity: Fraction) -> str:
    bloom, fast = book.limit("air.bloom-from"), book.limit("air.bare-metal-humidity")
    if humidity > fast:
        return "prime at once: rust blooms fast at this humidity"
    if humidity > bloom:
        return "watch it: rust begins to bloom at about this humidity"
    return "prime in the same shift"


def _difference(quantity: Quantity) -> str | None:
    return quantity.unit or None


@reckoning(
    "humidity",
    option(
        "--air",
        Kind.TEMPERATURE,
        "dry bulb; read it beside the wet one",
        required=True,
        like="shop.air-temperature",
    ),
    option(
        "--wet-bulb",
        Kind.TEMPERATURE,
        "wet bulb, briskly whirled or aspirated",
        like="shop.wet-bulb",
    ),
    option("--pressure", Kind.PRESSURE, _PRESSURE, like="shop.air-pressure"),
    option("--dew-point", Kind.TEMPERATURE, "dew point; read a dew-point meter"),
    option("--hygrometer", Kind.PERCENT, "what another instrument shows, to compare"),
)
def humidity(
    book: RuleBook,
    air: Quantity,
    wet_bulb: Quantity | None,
    pressure: Quantity | None,
    dew_point: Quantity | None,
    hygrometer: Quantity | None,
) -> Answer:
    """Relative humidity from --wet-bulb with --pressure, or from --dew-point."""
    if wet_bulb is None and dew_point is None:
        raise ReckoningError(
            "give either --wet-bulb with --pressure, or --dew-point; read one of them"
        )
    at = amount(pressure)
    pascals = None if at is None else at * _PA_PER_BAR
    if wet_bulb is not None:
        if pascals is None:
            raise ReckoningError(f"--pressure is missing: {_PRESSURE}")
        answer = Answer(
            "Humidity from wet and dry bulb",
            "W = ((2501 - 2.326 Tw)*Ws(Tw) - "
            "1.006 (T - Tw)) / (2501 + 1.86 T - 4.186 Tw); RH from W",
            _BALANCE,
        )
        found = humidity_from_wet_bulb(air.amount, wet_bulb.amount, pressure_Pa=pascals)
    else:
        assert dew_point is not None
        answer = Answer("Humidity from the dew point", "RH = 100 * e(dew) / e(air)", _MAGNUS)
        found = relative_humidity(air.amount, dew_point.amount)
    answer.measure("Relative humidity", found, Kind.PERCENT)
    if wet_bulb is not None:
        dew = dew_point_of(air.amount, found)
        answer.measure("Dew point", dew, Kind.TEMPERATURE, air.unit)
    elif pascals is not None:
        wet = wet_bulb_from_humidity(air.amount, found, pressure_Pa=pascals)
        answer.measure("Wet bulb", wet, Kind.TEMPERATURE, air.unit)
    if wet_bulb is not None and dew_point is not None and pascals is not None:
        same = hygrometers_agree(
            air.amount,
            dew_point.amount,
            wet_bulb.amount,
            pressure_Pa=pascals,
            tolerance_percent=book.limit("air.hygrometer-tolerance"),
        )
        answer.word(
            "Wet bulb and dew-point meter",
            "agree" if same else "disagree: check both before coating",
        )
    if hygrometer is not None:
        apart = abs(Fraction(found) - hygrometer.amount)
        agrees = apart <= book.limit("air.hygrometer-tolerance")
        answer.measure("The hygrometer differs by", apart, Kind.PERCENT)
        answer.word("Instruments", "agree" if agrees else "disagree: check both before coating")
    return answer
