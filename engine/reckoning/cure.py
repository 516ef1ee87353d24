"""Time and temperature: how much longer in the cold, how long in the heat, when to recoat.

Times in h, temperatures in degC; for cure and baking the temperature is the metal's, not the
air's. The rate rules hold for chemical cure within the span they are given: not for solvent loss
of thick films, moisture cure or UV cure, and never below the product's lowest temperature.

Sources: the rule of a factor per step of temperature, common practice; the Arrhenius form,
physical chemistry (gas constant SI 2019, exact); first-order heating, Newton's law.
"""

from __future__ import annotations

import math
from enum import Enum
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.factors import KELVIN_AT_0_DEGC
from engine.reckoning.inputs import Number, not_negative, number, positive, show
from engine.records import dataclass

# J/(mol K): Avogadro's times Boltzmann's constant, both exact in the SI of 2019.
GAS_CONSTANT = 6.02214076e23 * 1.380649e-23

_TIME = "take the time from the product data sheet"
_FROM = "take the temperature the data sheet's time belongs to, in degC"
_TO = "read the temperature of the panel, in degC"
_RULE = "set it in the rule set's limits"
_CLOCK = "give the hours since the coat was applied"
_METAL = "read the metal with a contact thermometer, in degC"
_OVEN = "read the air of the oven or booth beside the panel, in degC"


@dataclass(frozen=True, slots=True)
class RateRule:
    """A process that goes `factor` times faster for every `per_degC` warmer.

    Only from `lowest_degC` to `highest_degC`, and over no more than `span_degC` at once: the
    simple rule drifts from the truth as the span grows. Cure, flash-off and pot life each need a
    rule of their own.
    """

    factor: Number
    per_degC: Number
    lowest_degC: Number
    highest_degC: Number
    span_degC: Number

    def __post_init__(self) -> None:
        if positive("factor", self.factor, _RULE) < 1:
            raise ReckoningError(f"factor must be 1 or more, not {show(self.factor)}; {_RULE}")
        positive("per_degC", self.per_degC, _RULE)
        positive("span_degC", self.span_degC, _RULE)
        lowest = number("lowest_degC", self.lowest_degC, _RULE)
        if lowest >= number("highest_degC", self.highest_degC, _RULE):
            raise ReckoningError(
                f"the rule's temperatures run backwards: lowest {show(self.lowest_degC)} degC, "
                f"highest {show(self.highest_degC)} degC; {_RULE}"
            )

    def time(self, time_h: Number, *, from_degC: Number, to_degC: Number) -> float:
        """The hours that `time_h` at `from_degC` become at `to_degC`.

        t * factor ^ ((from - to) / per). Raises ReckoningError outside the range or the span of
        the rule: it is not stretched.
        """
        hours = positive("time_h", time_h, _TIME)
        start = number("from_degC", from_degC, _FROM)
        end = number("to_degC", to_degC, _TO)
        lowest, highest = number("", self.lowest_degC, ""), number("", self.highest_degC, "")
        for whose, value in (("the data sheet's", start), ("the panel's", end)):
            if not lowest <= value <= highest:
                raise ReckoningError(
                    f"{whose} {show(value)} degC is outside {show(lowest)} to {show(highest)} "
                    f"degC, where the rate rule holds; {_TIME} for that temperature"
                )
        if abs(end - start) > number("", self.span_degC, ""):
            raise ReckoningError(
                f"from {show(start)} to {show(end)} degC is more than the {show(self.span_degC)} "
                f"degC the rate rule may span; {_TIME} for a nearer temperature"
            )
        exponent = (start - end) / number("", self.per_degC, "")
        try:
            return float(hours) * math.pow(float(self.factor), float(exponent))
        except OverflowError:
            raise ReckoningError(
                f"the rate rule gives no finite time at {show(end)} degC; {_RULE}"
            ) from None


def arrhenius_time(
    time_h: Number,
    *,
    from_degC: Number,
    to_degC: Number,
    activation_kJ_per_mol: Number,
    lowest_degC: Number,
    highest_degC: Number,
) -> float:
    """The hours that `time_h` at `from_degC` become at `to_degC`, by the Arrhenius equation.

    Raises ReckoningError for a temperature outside the range the activation energy was found in.
    """
    hours = positive("time_h", time_h, _TIME)
    energy = positive(
        "activation_kJ_per_mol", activation_kJ_per_mol, "take it from the resin's cure study"
    )
    lowest = number("lowest_degC", lowest_degC, _RULE)
    highest = number("highest_degC", highest_degC, _RULE)
    for name, value in (("from_degC", from_degC), ("to_degC", to_degC)):
        exact = number(name, value, _TO)
        if not lowest <= exact <= highest:
            raise ReckoningError(
                f"{name} of {show(exact)} degC is outside {show(lowest)} to {show(highest)} degC, "
                f"where the activation energy holds; {_TIME} for that temperature"
            )
    difference = 1 / _kelvin(to_degC, _TO) - 1 / _kelvin(from_degC, _FROM)
    try:
        return float(hours) * math.exp(float(energy) * 1000 / GAS_CONSTANT * difference)
    except OverflowError:
        raise ReckoningError(
            f"an activation energy of {show(energy)} kJ/mol gives no finite time; check it"
        ) from None


def activation_energy_kJ_per_mol(factor: Number, *, from_degC: Number, to_degC: Number) -> float:
    """The activation energy at which cure is `factor` times faster at `to_degC`.

    Raises ReckoningError where the temperatures are equal or the factor and they disagree in sign.
    """
    faster = positive("factor", factor, "time the same cure at two temperatures")
    difference = 1 / _kelvin(from_degC, _FROM) - 1 / _kelvin(to_degC, _TO)
    if difference == 0:
        raise ReckoningError("from_degC and to_degC are equal; time the cure at two temperatures")
    energy = GAS_CONSTANT * math.log(faster) / difference / 1000
    if energy <= 0:
        raise ReckoningError(
            "cure that is no faster in the warmth has no activation energy; check which time "
            "belongs to which temperature"
        )
    return energy


def metal_temperature(
    elapsed_h: Number, *, start_degC: Number, oven_degC: Number, time_constant_h: Number
) -> float:
    """Metal temperature in degC after `elapsed_h` in steady air, heating to first order."""
    hours = float(not_negative("elapsed_h", elapsed_h, _CLOCK))
    constant = float(positive("time_constant_h", time_constant_h, _RULE))
    start = float(number("start_degC", start_degC, _METAL))
    oven = float(number("oven_degC", oven_degC, _OVEN))
    return oven + (start - oven) * math.exp(-hours / constant)


def heating_time(
    *, start_degC: Number, oven_degC: Number, target_degC: Number, time_constant_h: Number
) -> float:
    """Hours until the metal reaches the target, heating to first order; 0 where it is there.

    Raises ReckoningError where the air is not above the target: the metal never gets there.
    """
    constant = float(positive("time_constant_h", time_constant_h, _RULE))
    start = number("start_degC", start_degC, _METAL)
    oven = number("oven_degC", oven_degC, _OVEN)
    target = number("target_degC", target_degC, "take the bake temperature from the data sheet")
    if start >= target:
        return 0.0
    if oven <= target:
        raise ReckoningError(
            f"metal in air at {show(oven)} degC never reaches {show(target)} degC; raise oven_degC "
            f"above it within what the car stands"
        )
    return constant * math.log((oven - start) / (oven - target))


def heating_time_constant(
    elapsed_h: Number, *, start_degC: Number, oven_degC: Number, reached_degC: Number
) -> float:
    """The panel's time constant in h from one measured heating.

    Raises ReckoningError where the metal did not move from start towards the air.
    """
    hours = positive("elapsed_h", elapsed_h, "time the heating")
    start = number("start_degC", start_degC, _METAL)
    oven = number("oven_degC", oven_degC, _OVEN)
    reached = number("reached_degC", reached_degC, _METAL)
    if oven == start or not 0 < (reached - start) / (oven - start) < 1:
        raise ReckoningError(
            f"reached_degC of {show(reached)} is not between the start at {show(start)} and the "
            f"air at {show(oven)} degC; {_METAL}"
        )
    return float(hours) / math.log((oven - start) / (oven - reached))


def steady_heating_time(
    *, start_degC: Number, target_degC: Number, rate_degC_per_h: Number
) -> Fraction:
    """Hours until the metal reaches the target at a steady rate; 0 where it is there."""
    rate = positive("rate_degC_per_h", rate_degC_per_h, "time the metal on a trial heating")
    start = number("start_degC", start_degC, _METAL)
    target = number("target_degC", target_degC, "take the bake temperature from the data sheet")
    return max(Fraction(0), target - start) / rate


@dataclass(frozen=True, slots=True)
class Bake:
    """A bake counted from the metal: the ramp comes before the hold, never out of it."""

    ramp_h: float
    hold_h: float
    total_h: float


def bake(hold_h: Number, *, ramp_h: Number) -> Bake:
    """The oven time for a hold at metal temperature after the ramp."""
    hold = positive("hold_h", hold_h, _TIME)
    ramp = not_negative("ramp_h", ramp_h, "reckon it from a trial heating")
    return Bake(float(ramp), float(hold), float(ramp + hold))


class RecoatState(Enum):
    """Where a coat stands in its recoat window."""

    TOO_EARLY = "too-early"
    OPEN = "open"
    CLOSED_SCUFF = "closed-scuff"


@dataclass(frozen=True, slots=True)
class RecoatWindow:
    """From when to when, in hours after application, the next coat may follow unscuffed.

    `closes_h` None is a product whose data sheet gives no end. Both ends belong to the window.
    """

    opens_h: Number
    closes_h: Number | None

    def __post_init__(self) -> None:
        opens = not_negative("opens_h", self.opens_h, _TIME)
        if self.closes_h is not None and positive("closes_h", self.closes_h, _TIME) < opens:
            raise ReckoningError(
                f"the recoat window closes at {show(self.closes_h)} h, before it opens at "
                f"{show(opens)} h; {_TIME}"
            )

    def state(self, elapsed_h: Number) -> RecoatState:
        """Where a coat stands `elapsed_h` after application."""
        elapsed = not_negative("elapsed_h", elapsed_h, _CLOCK)
        if elapsed < number("opens_h", self.opens_h, _TIME):
            return RecoatState.TOO_EARLY
        if self.closes_h is not None and elapsed > number("closes_h", self.closes_h, _TIME):
            return RecoatState.CLOSED_SCUFF
        return RecoatState.OPEN

    def wait_h(self, elapsed_h: Number) -> Fraction:
        """Hours still to wait until the window opens; 0 where it has."""
        elapsed = not_negative("elapsed_h", elapsed_h, _CLOCK)
        return max(Fraction(0), number("opens_h", self.opens_h, _TIME) - elapsed)


def _kelvin(temperature_degC: Number, how: str) -> float:
    kelvin = number("temperature", temperature_degC, how) + KELVIN_AT_0_DEGC
    if kelvin <= 0:
        raise ReckoningError(f"{show(temperature_degC)} degC is below absolute zero; {how}")
    return float(kelvin)
