"""The kinds of quantity, the units each may be written in, and the exact factors between them.

Factors are exact by definition: the international inch (25.4 mm), the avoirdupois pound
(453.59237 g), the US gallon (231 in3), the imperial gallon (4.54609 L), standard gravity
(9.80665 m/s2). Source: NIST Special Publication 811 (2008), Guide for the Use of the
International System of Units, Appendix B; currency codes: ISO 4217.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

from engine.records import dataclass

Amount = Fraction


class Kind(StrEnum):
    """What a quantity is of. Thickness and depth are both lengths, read and shown differently."""

    THICKNESS = "thickness"
    DEPTH = "depth"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature-difference"
    PERCENT = "percent"
    AREA = "area"
    VOLUME = "volume"
    TIME = "time"
    MONEY = "money"
    COUNT = "count"
    NUMBER = "number"
    YEAR = "year"
    PRESSURE = "pressure"
    DENSITY = "density"
    MASS = "mass"


class Dimension(StrEnum):
    """What can be converted into what."""

    LENGTH = "length"
    TEMPERATURE = "temperature"
    DIFFERENCE = "temperature difference"
    PERCENT = "percentage"
    AREA = "area"
    VOLUME = "volume"
    TIME = "time"
    MONEY = "money"
    PLAIN = "plain number"
    PRESSURE = "pressure"
    DENSITY = "density"
    MASS = "mass"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of one dimension: `base = amount * factor + shift`.

    The base unit, in which amounts are kept, is the one of factor 1 and without a shift.
    `decimals` is how far a value is rounded for reading; a value that needs no more than `exact`
    decimals is shown as it is, so that a limit set at 304.8 um never reads 305 um.
    """

    name: str
    dimension: Dimension
    factor: Fraction
    words: tuple[str, ...]
    decimals: int
    exact: int
    shift: Fraction = Fraction(0)
    symbol: str | None = None


@dataclass(frozen=True, slots=True)
class KindOf:
    """How one kind is asked for, converted and bounded.

    `offer` lists units to ask back with. Below `turn` the first of them is the likelier meaning
    of a bare number, from `turn` on the second; it orders a question and never decides a value.
    """

    dimension: Dimension
    canonical: str
    noun: str
    example: str
    offer: tuple[str, ...] = ()
    turn: Fraction | None = None
    signed: bool = False
    whole: bool = False


def _f(text: str) -> Fraction:
    return Fraction(text)


_INCH = _f("25400")
_FOOT = 12 * _INCH
_US_GALLON = _f("3.785411784")
_IMPERIAL_GALLON = _f("4.54609")
_POUND = _f("453.59237")
_PSI_IN_BAR = _POUND / 1000 * _f("9.80665") / _f("0.0254") ** 2 / 100_000
_SQUARE_UM = Fraction(1, 10**12)

ABSOLUTE_ZERO = _f("-273.15")

# ISO 1 fixes 20 degC as the reference temperature for measured lengths: a bare number is likelier
# in the scale that puts it nearer to that.
REFERENCE_TEMPERATURE = Fraction(20)

_CELSIUS = (
    "degC", "C", "°C", "deg C", "degree C", "degrees C", "celsius", "deg celsius",
    "degree celsius", "degrees celsius", "centigrade", "degrees centigrade", "C°",
)  # fmt: skip
_FAHRENHEIT = (
    "degF", "F", "°F", "deg F", "degree F", "degrees F", "fahrenheit", "deg fahrenheit",
    "degree fahrenheit", "degrees fahrenheit", "F°",
)  # fmt: skip
_KELVIN = ("K", "kelvin", "kelvins", "degK", "°K", "deg K", "degrees K")


def _square(short: str, *names: str) -> tuple[str, ...]:
    words = [f"{short}2", f"{short}^2", f"{short} sq"]
    for name in (short, *names):
        words += [f"square {name}", f"sq {name}"]
    return tuple(words)


def _table() -> tuple[Unit, ...]:
    length, area, volume = Dimension.LENGTH, Dimension.AREA, Dimension.VOLUME
    time, mass, density = Dimension.TIME, Dimension.MASS, Dimension.DENSITY
    pressure = Dimension.PRESSURE
    degrees, difference = Dimension.TEMPERATURE, Dimension.DIFFERENCE
    one, fahrenheit = Fraction(1), Fraction(5, 9)
    return (
        Unit("mil", length, _INCH / 1000, (
            "mil", "mils", "thou", "thous", "thousandth", "thousandths",
            "thousandth of an inch", "thousandths of an inch", "thousandths inch",
        ), 2, 3),
        Unit("um", length, one, (
            "um", "µm", "u", "µ", "micron", "microns", "micrometre", "micrometres",
            "micrometer", "micrometers",
        ), 0, 1),
        Unit("mm", length, _f("1000"), (
            "mm", "millimetre", "millimetres", "millimeter", "millimeters",
        ), 2, 3),
        Unit("cm", length, _f("10000"), (
            "cm", "centimetre", "centimetres", "centimeter", "centimeters",
        ), 2, 4),
        Unit("in", length, _INCH, ("in", "inch", "inches", "ins", '"'), 3, 6),
        Unit("degC", degrees, one, _CELSIUS, 1, 2),
        Unit("degF", degrees, fahrenheit, _FAHRENHEIT, 1, 2, shift=-32 * fahrenheit),
        Unit("K", degrees, one, _KELVIN, 1, 2, shift=ABSOLUTE_ZERO),
        Unit("degC", difference, one, _CELSIUS, 1, 2),
        Unit("degF", difference, fahrenheit, _FAHRENHEIT, 1, 2),
        Unit("K", difference, one, _KELVIN, 1, 2),
        Unit("percent", Dimension.PERCENT, one, (
            "%", "percent", "per cent", "pct", "% RH", "percent RH", "% relative humidity",
            "percent relative humidity", "% humidity", "percent humidity",
        ), 1, 2, symbol="%"),
        Unit("m2", area, one, _square("m", "metre", "metres", "meter", "meters"), 2, 3),
        Unit("dm2", area, _f("0.01"), _square("dm", "decimetres", "decimeters"), 1, 3),
        Unit("cm2", area, _f("0.0001"), _square(
            "cm", "centimetre", "centimetres", "centimeter", "centimeters",
        ), 0, 2),
        Unit("mm2", area, _f("0.000001"), _square(
            "mm", "millimetre", "millimetres", "millimeter", "millimeters",
        ), 0, 2),
        Unit("ft2", area, _FOOT**2 * _SQUARE_UM, (*_square("ft", "foot", "feet"), "sqft"), 1, 3),
        Unit("in2", area, _INCH**2 * _SQUARE_UM, _square("in", "inch", "inches"), 1, 3),
        Unit("L", volume, one, (
            "L", "litre", "litres", "liter", "liters", "ltr", "ltrs", "dm3",
        ), 2, 3),
        Unit("ml", volume, _f("0.001"), (
            "ml", "mls", "millilitre", "millilitres", "milliliter", "milliliters", "cc", "cm3",
        ), 0, 1),
        Unit("cl", volume, _f("0.01"), ("cl", "centilitres", "centiliters"), 1, 2),
        Unit("gal", volume, _US_GALLON, (
            "gal", "gals", "gallon", "gallons", "US gal", "US gallon", "US gallons",
        ), 2, 3),
        Unit("imp gal", volume, _IMPERIAL_GALLON, (
            "imp gal", "imperial gal", "imperial gallon", "imperial gallons", "UK gal",
            "UK gallon", "UK gallons",
        ), 2, 3),
        Unit("qt", volume, _US_GALLON / 4, (
            "qt", "qts", "quart", "quarts", "US qt", "US quart", "US quarts",
        ), 2, 3),
        Unit("pt", volume, _US_GALLON / 8, (
            "pt", "pts", "pint", "pints", "US pt", "US pint", "US pints",
        ), 2, 3),
        Unit("fl oz", volume, _US_GALLON / 128, (
            "fl oz", "US fl oz", "fluid ounce", "fluid ounces",
        ), 1, 3),
        Unit("h", time, one, ("h", "hr", "hrs", "hour", "hours"), 2, 3),
        Unit("min", time, Fraction(1, 60), ("min", "mins", "minute", "minutes", "m"), 0, 2),
        Unit("s", time, Fraction(1, 3600), ("s", "sec", "secs", "second", "seconds"), 0, 2),
        Unit("d", time, Fraction(24), ("d", "day", "days"), 1, 2),
        Unit("week", time, Fraction(168), ("week", "weeks", "wk", "wks"), 1, 2),
        Unit("bar", pressure, one, ("bar", "bars"), 2, 3),
        Unit("mbar", pressure, _f("0.001"), ("mbar", "millibar", "millibars"), 0, 2),
        Unit("psi", pressure, _PSI_IN_BAR, ("psi", "psig", "lb/in2", "lbf/in2"), 0, 2),
        Unit("Pa", pressure, _f("0.00001"), ("Pa", "pascal", "pascals"), 0, 2),
        Unit("hPa", pressure, _f("0.001"), ("hPa", "hectopascal", "hectopascals"), 0, 2),
        Unit("kPa", pressure, _f("0.01"), ("kPa", "kilopascal", "kilopascals"), 0, 2),
        Unit("MPa", pressure, _f("10"), ("MPa", "megapascal", "megapascals"), 3, 4),
        Unit("g/L", density, one, ("g/L", "g per L", "grams per litre", "grams per liter"), 0, 1),
        Unit("kg/L", density, _f("1000"), ("kg/L", "g/ml", "g/cm3", "g/cc"), 3, 4),
        Unit("kg/m3", density, one, ("kg/m3", "kg/m^3"), 0, 1),
        Unit("lb/gal", density, _POUND / _US_GALLON, (
            "lb/gal", "lbs/gal", "lb/US gal", "lbs/US gal", "pounds per gallon", "lb per gal",
            "ppg",
        ), 2, 3),
        Unit("g", mass, one, ("g", "gram", "grams", "gramme", "grammes", "gm", "gms"), 1, 2),
        Unit("mg", mass, _f("0.001"), ("mg", "milligram", "milligrams"), 0, 2),
        Unit("kg", mass, _f("1000"), ("kg", "kgs", "kilogram", "kilograms", "kilo", "kilos"), 2, 3),
        Unit("lb", mass, _POUND, ("lb", "lbs", "pound", "pounds"), 2, 3),
        Unit("oz", mass, _POUND / 16, ("oz", "ounce", "ounces"), 1, 3),
        Unit("", Dimension.PLAIN, one, (), 3, 6),
    )  # fmt: skip


UNITS: tuple[Unit, ...] = _table()

KINDS: dict[Kind, KindOf] = {
    Kind.THICKNESS: KindOf(
        Dimension.LENGTH, "um", "a film thickness", "`4.5 mil` or `115 um`",
        ("mil", "um", "mm", "in"), turn=_INCH / 1000,
    ),
    Kind.DEPTH: KindOf(
        Dimension.LENGTH, "mm", "a depth", "`3 mm` or `1/8 in`",
        ("in", "mm", "cm", "mil", "um"), turn=Fraction(1),
    ),
    Kind.TEMPERATURE: KindOf(
        Dimension.TEMPERATURE, "degC", "a temperature", "`21 degC` or `70 degF`",
        ("degC", "degF", "K"), signed=True,
    ),
    Kind.TEMPERATURE_DIFFERENCE: KindOf(
        Dimension.DIFFERENCE, "degC", "a temperature difference", "`3 degC` or `5 degF`",
        ("degC", "degF"), signed=True,
    ),
    Kind.PERCENT: KindOf(
        Dimension.PERCENT, "percent", "a percentage", "`55 %`", ("percent",),
    ),
    Kind.AREA: KindOf(
        Dimension.AREA, "m2", "an area", "`1.2 m2` or `13 ft2`",
        ("m2", "ft2", "cm2", "in2"), turn=1 / (_FOOT**2 * _SQUARE_UM),
    ),
    Kind.VOLUME: KindOf(
        Dimension.VOLUME, "L", "a volume", "`1.5 L` or `1 qt`",
        ("L", "ml", "gal", "qt"), turn=Fraction(10),
    ),
    Kind.TIME: KindOf(
        Dimension.TIME, "h", "a time", "`2 h`, `1 h 30 min` or `20 min`",
        ("h", "min", "d", "s"), turn=Fraction(10),
    ),
    Kind.MONEY: KindOf(
        Dimension.MONEY, "", "an amount of money", "`12.50 USD` or `9 EUR`", ("USD", "EUR"),
    ),
    Kind.COUNT: KindOf(Dimension.PLAIN, "", "a count", "`2`", whole=True),
    Kind.NUMBER: KindOf(Dimension.PLAIN, "", "a plain number", "`1.5`", signed=True),
    Kind.YEAR: KindOf(Dimension.PLAIN, "", "a year", "`1996`", whole=True),
    Kind.PRESSURE: KindOf(
        Dimension.PRESSURE, "bar", "a pressure", "`2 bar` or `29 psi`",
        ("bar", "psi", "kPa"), turn=1 / _PSI_IN_BAR,
    ),
    Kind.DENSITY: KindOf(
        Dimension.DENSITY, "g/L", "a density", "`420 g/L` or `3.5 lb/gal`",
        ("lb/gal", "g/L", "kg/L"), turn=_POUND / _US_GALLON,
    ),
    Kind.MASS: KindOf(
        Dimension.MASS, "g", "a mass", "`250 g` or `1.5 kg`",
        ("kg", "g", "lb", "oz"), turn=Fraction(10),
    ),
}  # fmt: skip

CURRENCIES: frozenset[str] = frozenset(
    {
        "AED", "ARS", "AUD", "BGN", "BHD", "BRL", "CAD", "CHF", "CLP", "CNY", "COP",
        "CZK", "DKK", "EGP", "EUR", "GBP", "GEL", "HKD", "HUF", "IDR", "ILS", "INR",
        "ISK", "JOD", "JPY", "KES", "KRW", "KWD", "KZT", "MAD", "MXN", "MYR", "NGN",
        "NOK", "NZD", "OMR", "PEN", "PHP", "PKR", "PLN", "QAR", "RON", "RSD", "SAR",
        "SEK", "SGD", "THB", "TND", "TRY", "TWD", "UAH", "USD", "UYU", "VND", "ZAR",
    }
)  # fmt: skip

# The yen and krona signs stand for several currencies, so only codes name those.
CURRENCY_WORDS: dict[str, str] = {
    "$": "USD",
    "us$": "USD",
    "dollar": "USD",
    "dollars": "USD",
    "€": "EUR",
    "euro": "EUR",
    "euros": "EUR",
    "£": "GBP",
    "pound": "GBP",
    "pounds": "GBP",
}
CURRENCY_SIGNS: dict[str, str] = {"USD": "$", "EUR": "€", "GBP": "£"}


def unit_key(word: str) -> str:
    """The spelling of a unit with case, spaces, full stops and hyphens out of the way."""
    return "".join(word.replace(".", "").replace("-", "").split()).casefold()


_BY_KEY: dict[tuple[Dimension, str], Unit] = {
    (unit.dimension, unit_key(word)): unit for unit in UNITS for word in (unit.name, *unit.words)
}
_DIMENSIONS_BY_KEY: dict[str, tuple[Dimension, ...]] = {}
for _dimension, _key in _BY_KEY:
    _DIMENSIONS_BY_KEY[_key] = (*_DIMENSIONS_BY_KEY.get(_key, ()), _dimension)


def find_unit(word: str, dimension: Dimension) -> Unit | None:
    """The unit of `dimension` that `word` spells, or None."""
    key = unit_key(word)
    # mPa and MPa are a thousand million apart: only the capital letter tells them apart.
    if key == "mpa" and not word.strip().startswith("M"):
        return None
    return _BY_KEY.get((dimension, key))


def find_currency(word: str) -> str | None:
    """The ISO 4217 code that `word` (a code, a sign or a name) stands for, or None.

    A lone dollar sign is read as USD, a lone pound sign as GBP.
    """
    key = unit_key(word)
    code = key.upper()
    return code if code in CURRENCIES else CURRENCY_WORDS.get(key)


def dimensions_of(word: str) -> tuple[Dimension, ...]:
    """Every dimension in which `word` spells a unit."""
    key = unit_key(word)
    # A lone `m` is minutes after hours; anywhere else it is likelier a slip for `mm` or `um`.
    found = _DIMENSIONS_BY_KEY.get(key, ()) if key != "m" else ()
    return (*found, Dimension.MONEY) if find_currency(word) else found


def unit_words(kind: Kind) -> tuple[str, ...]:
    """Every accepted spelling of a unit of `kind`, for help and completion; () where none is due.

    Case and spaces do not matter when reading.
    """
    dimension = KINDS[kind].dimension
    if dimension is Dimension.MONEY:
        return (*sorted(CURRENCIES), *CURRENCY_WORDS)
    words = (word for unit in UNITS if unit.dimension is dimension for word in unit.words)
    return tuple(dict.fromkeys(words))
