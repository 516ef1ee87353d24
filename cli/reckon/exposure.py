"""Exposure as arithmetic. Information, never clearance."""

from __future__ import annotations

from fractions import Fraction

import click

from cli.reckon.answer import Answer
from cli.reckon.kinds import Measure, Words, amount
from cli.reckon.reckoning import Decorator, RuleBook, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning import exposure
from engine.reckoning.factors import M3_PER_FT3
from engine.reckoning.tables import pick

_PA_PER_BAR = 100_000
_UM_PER_M = 1_000_000
_WHOLE_PPM = 1_000_000
_S_PER_H, _S_PER_MIN = 3600, 60
_SAMPLED = "see the hygienist's sampling report"
_NEVER = (
    "Information, never clearance: nothing here says that a space is safe, that a mask may come "
    "off or that a law is met. Exposure is measured by someone qualified."
)


class _Pair(click.Tuple):
    """Two values that belong together; says how to get them where they are missing."""

    def get_missing_message(self, param: click.Parameter, ctx: click.Context | None) -> str:
        return self.types[0].get_missing_message(param, ctx) or ""


def _pairs(flag: str, kinds: tuple[Kind, Kind], metavar: str, how: str) -> Decorator:
    types = _Pair([Measure(kind, how) for kind in kinds])
    return click.option(flag, type=types, multiple=True, required=True, metavar=metavar, help=how)


def _in(how: str) -> Decorator:
    return click.option(
        "--in", "unit", type=Words(["ppm", "mg/m3", "ug/m3"], how), required=True, help=how
    )


def _constant(book: RuleBook, name: str) -> Fraction:
    rows = dict(pick(book.table("exposure.constants"), "exposure", "quantity", "value"))
    if name not in rows:
        raise ReckoningError(f"the table exposure.constants lacks `{name}`; add it")
    return Fraction(rows[name])


@reckoning(
    "twa",
    _pairs("--sample", (Kind.NUMBER, Kind.TIME), "CONCENTRATION TIME",
           f"One sample and how long it stands for, as in 150 '2 h'; {_SAMPLED}."),
    _in("Unit of the concentrations."),
)  # fmt: skip
def twa(book: RuleBook, sample: tuple[tuple[Quantity, Quantity], ...], unit: str) -> Answer:
    """The average over the reference shift; time without a sample counts as none breathed."""
    reference = _constant(book, "reference-shift-h")
    found = exposure.time_weighted_average(
        [(level.amount, hours.amount) for level, hours in sample], reference_h=reference
    )
    answer = Answer(
        "Time-weighted average", "E = sum(C * t) / reference shift", "29 CFR 1910.1000(d)(1)(i)"
    )
    answer.number("Average", found, unit)
    hours = sum((each.amount for _, each in sample), Fraction(0))
    answer.measure("Time sampled", hours, Kind.TIME)
    if hours < reference:
        answer.note("Part of the shift has no sample and counts as no exposure: leave none out.")
    answer.note(_NEVER)
    return answer


@reckoning(
    "mixture",
    _pairs("--part", (Kind.NUMBER, Kind.NUMBER), "CONCENTRATION LIMIT",
           f"One substance and its limit in the same unit, as in 500 1000; {_SAMPLED}."),
    _in("Unit of concentrations and limits."),
)  # fmt: skip
def mixture(book: RuleBook, part: tuple[tuple[Quantity, Quantity], ...], unit: str) -> Answer:
    """Substances that act alike, added up by their limits; above 1 is over."""
    found = exposure.mixture_sum([(level.amount, limit.amount) for level, limit in part])
    answer = Answer("Mixture", "E = C1/L1 + C2/L2 + ...", "29 CFR 1910.1000(d)(2)")
    answer.number("Sum", found)
    answer.word("Beside 1", "over" if found > 1 else "not over, which does not mean safe")
    answer.note(f"Concentrations and limits in {unit}.", _NEVER)
    return answer


@reckoning(
    "long-shift",
    option("--hours", Kind.TIME, "hours worked in the day; see the roster", required=True),
)
def long_shift(book: RuleBook, hours: Quantity) -> Answer:
    """What the United States lead standard leaves for a shift longer than the reference one."""
    found = exposure.extended_shift_limit(
        hours.amount,
        allowed_dose=_constant(book, "lead-dose-ug-m3-h"),
        reference_h=_constant(book, "reference-shift-h"),
    )
    answer = Answer(
        "Long shift, lead",
        "limit = allowed dose / hours, above the reference shift",
        "29 CFR 1910.1025(c)(2)",
    )
    answer.number("Average over the shift of at most", found, "ug/m3")
    answer.note("For lead alone; other substances have rules of their own.", _NEVER)
    return answer


_MOLAR = "molar mass in g/mol; see the safety data sheet"


@reckoning(
    "vapour",
    option("--molar-mass", Kind.NUMBER, _MOLAR, required=True),
    option(
        "--air",
        Kind.TEMPERATURE,
        "temperature of the air; read it",
        required=True,
        like="shop.air-temperature",
    ),
    option(
        "--pressure",
        Kind.PRESSURE,
        "pressure of the air; read the barometer",
        required=True,
        like="shop.air-pressure",
    ),
    option("--ppm", Kind.NUMBER, f"concentration in ppm; {_SAMPLED}"),
    option("--mg-per-m3", Kind.NUMBER, f"concentration in mg/m3; {_SAMPLED}"),
)
def vapour(
    book: RuleBook,
    molar_mass: Quantity,
    air: Quantity,
    pressure: Quantity,
    ppm: Quantity | None,
    mg_per_m3: Quantity | None,
) -> Answer:
    """mg/m3 from ppm of a vapour, or the other way round."""
    if (ppm is None) == (mg_per_m3 is None):
        raise ReckoningError("give either --ppm or --mg-per-m3; see the sampling report")
    litres = exposure.molar_volume_L(
        temperature_degC=air.amount, pressure_Pa=pressure.amount * _PA_PER_BAR
    )
    answer = Answer(
        "Vapour in air", "mg/m3 = ppm * M / Vm, Vm = R * T / p",
        "ideal gas; gas constant of the SI 2019 (24.45 L at 25 degC and 1013.25 hPa)",
    )  # fmt: skip
    answer.number("Molar volume", litres, "L")
    mass = molar_mass.amount
    if ppm is not None:
        if ppm.amount > _WHOLE_PPM:
            raise ReckoningError(
                f"--ppm is over {_WHOLE_PPM}, more vapour than air holds; see the sampling report"
            )
        found = exposure.mg_m3_from_ppm(ppm.amount, molar_mass_g=mass, molar_volume_L=litres)
        answer.number("Concentration", found, "mg/m3")
    else:
        found = exposure.ppm_from_mg_m3(
            amount(mg_per_m3) or 0, molar_mass_g=mass, molar_volume_L=litres
        )
        answer.number("Concentration", found, "ppm")
    answer.note(_NEVER)
    return answer


@reckoning(
    "dilution",
    option("--density", Kind.DENSITY, "density of the solvent; see the safety data sheet",
           required=True),
    option("--molar-mass", Kind.NUMBER, _MOLAR, required=True),
    option("--lel", Kind.PERCENT, "lower explosive limit by volume; see the safety data sheet",
           required=True),
    option("--air", Kind.TEMPERATURE, "temperature of the air; read it", required=True,
           like="shop.air-temperature"),
    option("--pressure", Kind.PRESSURE, "pressure of the air; read the barometer", required=True,
           like="shop.air-pressure"),
    option("--evaporates", Kind.VOLUME, "solvent evaporating in an hour; time the spraying"),
)  # fmt: skip
def dilution(
    book: RuleBook,
    density: Quantity,
    molar_mass: Quantity,
    lel: Quantity,
    air: Quantity,
    pressure: Quantity,
    evaporates: Quantity | None,
) -> Answer:
    """Air that keeps solvent vapour at a fraction of its lower explosive limit. Fire only."""
    densest = book.bound("voc.exempt-densest")
    if density.amount > densest:
        raise ReckoningError(
            f"--density is {show(density.amount, Kind.DENSITY, density.unit)}, over the densest "
            f"solvent there is, {show(densest, Kind.DENSITY, density.unit)}; see the safety data "
            "sheet, and look at its unit"
        )
    litres = exposure.molar_volume_L(
        temperature_degC=air.amount, pressure_Pa=pressure.amount * _PA_PER_BAR
    )
    vapour_per_litre = exposure.vapour_volume(
        liquid_g_per_mL=density.amount / 1000,
        molar_mass_g=molar_mass.amount,
        molar_volume_L=litres,
    )
    per_litre = exposure.dilution_air(
        vapour_per_litre / 1000,
        lel_percent=lel.amount,
        safety_factor=_constant(book, "dilution-factor"),
    )
    answer = Answer(
        "Dilution air against fire",
        "air = factor * (100 - LEL) * vapour / LEL, per litre of solvent",
        "29 CFR 1910.94(c)(6)(ii) (from memory)",
    )
    answer.number("Vapour of a litre", vapour_per_litre / 1000, "m3")
    answer.number("Air for a litre", per_litre, "m3")
    if evaporates is not None:
        flow = exposure.dilution_flow(per_litre, liquid_per_h=evaporates.amount)
        answer.number("Air flow", flow, "m3/h")
    answer.note("Against fire only: what people may breathe asks for far more air.", _NEVER)
    return answer


@reckoning(
    "booth-flow",
    option(
        "--face-width",
        Kind.DEPTH,
        "open face of the booth, as in '300 cm'; measure it",
        required=True,
    ),
    option(
        "--face-height",
        Kind.DEPTH,
        "open face of the booth, as in '300 cm'; measure it",
        required=True,
    ),
    option("--velocity", Kind.NUMBER, "air speed in m/s at the face; measure it", required=True),
)
def booth_flow(
    book: RuleBook, face_width: Quantity, face_height: Quantity, velocity: Quantity
) -> Answer:
    """Air that passes an open booth face at a measured speed."""
    found = exposure.face_flow(
        face_width.amount / _UM_PER_M, face_height.amount / _UM_PER_M, velocity=velocity.amount
    )
    answer = Answer(
        "Air through a booth face", "flow = width * height * velocity",
        "geometry; what velocity is asked for: 29 CFR 1910.94(c)",
    )  # fmt: skip
    answer.number("Air flow", found * _S_PER_H, "m3/h")
    answer.number("The same", found * _S_PER_MIN / M3_PER_FT3, "ft3/min")
    answer.note("Measure the speed over the whole face, with filters as they are.", _NEVER)
    return answer
