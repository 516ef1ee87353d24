"""Time and temperature of drying paint."""

from __future__ import annotations

from fractions import Fraction

import click

from cli.reckon.answer import Answer
from cli.reckon.kinds import amount
from cli.reckon.reckoning import Decorator, RuleBook, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning import cure as curing
from engine.reckoning.inputs import positive
from engine.ruleset.work import Drying, Warmer

_METAL = "metal of the panel; read a contact thermometer"
_MIN_PER_H = 60
_RATE = "a factor per step of temperature, common practice"


def _product(required: bool) -> Decorator:
    return click.option(
        "--product", metavar="NAME", required=required,
        help="A product of the rule set, such as clearcoat, for its printed times.",
    )  # fmt: skip


@reckoning(
    "cure",
    option("--metal", Kind.TEMPERATURE, _METAL, required=True),
    _product(required=False),
    option("--time", Kind.TIME, "printed time; see the data sheet", like="coat.waited"),
    option("--at", Kind.TEMPERATURE, "temperature the printed time belongs to; see the data sheet"),
    option("--faster", Kind.NUMBER, "how many times faster for each --per; 2 is the doubling rule"),
    option("--per", Kind.TEMPERATURE_DIFFERENCE, "step of temperature the factor belongs to"),
    option("--lowest", Kind.TEMPERATURE, "coldest the product cures at; see the data sheet"),
    option("--highest", Kind.TEMPERATURE, "warmest the rule holds at; see the data sheet"),
    option("--span", Kind.TEMPERATURE_DIFFERENCE, "furthest the rule is stretched from --at"),
    option(
        "--activation", Kind.NUMBER, "activation energy in kJ/mol instead of --faster and --per"
    ),
)
def cure(
    book: RuleBook,
    metal: Quantity,
    product: str | None,
    time: Quantity | None,
    at: Quantity | None,
    faster: Quantity | None,
    per: Quantity | None,
    lowest: Quantity | None,
    highest: Quantity | None,
    span: Quantity | None,
    activation: Quantity | None,
) -> Answer:
    """A printed time of chemical cure at the temperature of the metal.

    Name a --product of the rule set, or give the printed time and every part of the rule.
    """
    answer = Answer("Cure at another temperature", "t2 = t1 * factor ^ ((T1 - T2) / step)", _RATE)
    drying = _drying(book, product) if product else None
    warmer = drying.warmer if drying else None
    printed_at = amount(at) if at is not None else drying.at_degC if drying else None
    if printed_at is None:
        raise ReckoningError(
            "--at is missing: the temperature the printed time belongs to; see the data sheet, "
            "or name a --product"
        )
    if activation is None:
        rule = _rule(warmer, faster, per, lowest, highest, span)
    else:
        answer.formula = "t2 = t1 * exp(E/R * (1/T2 - 1/T1)), T in K"
        answer.source = "Arrhenius equation; gas constant of the SI 2019"
    for what, hours in _printed(drying, time):
        if activation is None:
            found = rule.time(hours, from_degC=printed_at, to_degC=metal.amount)
        else:
            found = curing.arrhenius_time(
                hours,
                from_degC=printed_at,
                to_degC=metal.amount,
                activation_kJ_per_mol=activation.amount,
                lowest_degC=_bound("--lowest", lowest),
                highest_degC=_bound("--highest", highest),
            )
        answer.measure(what, Fraction(found), Kind.TIME)
        printed = show(hours, Kind.TIME), show(printed_at, Kind.TEMPERATURE, metal.unit)
        answer.note(f"{what}: {printed[0]} as printed for {printed[1]}.")
    if activation is None:
        answer.note(_as_energy(rule, printed_at, metal.unit))
    answer.note(
        "For chemical cure only: not for flash, solvent leaving thick films, moisture or UV cure, "
        "and never below the product's lowest temperature."
    )
    return answer


def _as_energy(rule: curing.RateRule, from_degC: Fraction, unit: str) -> str | None:
    """What the rule says of the resin; a factor of 1 says that warmth makes no difference."""
    if rule.factor == 1:
        return None
    to_degC = from_degC + Fraction(rule.per_degC)
    energy = curing.activation_energy_kJ_per_mol(rule.factor, from_degC=from_degC, to_degC=to_degC)
    factor = show(Fraction(rule.factor), Kind.NUMBER)
    low, high = (show(each, Kind.TEMPERATURE, unit) for each in (from_degC, to_degC))
    return (
        f"{factor} times faster at {high} than at {low} is an activation energy of {energy:.0f} "
        "kJ/mol; where a cure study of the resin gives one, put that in its place (--activation)."
    )


def _bound(flag: str, bound: Quantity | None) -> Fraction:
    if bound is None:
        raise ReckoningError(
            f"{flag} is missing: an activation energy holds only where it was found; see the "
            "resin's cure study"
        )
    return bound.amount


def _printed(drying: Drying | None, time: Quantity | None) -> list[tuple[str, Fraction]]:
    if time is not None:
        return [("Time", time.amount)]
    if drying is None:
        raise ReckoningError(
            "--time is missing: the printed time; see the data sheet, or name a --product"
        )
    named = {
        "Handle": drying.handle_h,
        "Sandable": drying.sandable_h,
        "Cured": drying.cured_h,
        "Recoat window closes": drying.closes_h,
    }
    found = [(what, hours) for what, hours in named.items() if hours]
    if not found:
        raise ReckoningError("the product has no times of cure; give --time from its data sheet")
    return found


def _rule(
    warmer: Warmer | None,
    faster: Quantity | None,
    per: Quantity | None,
    lowest: Quantity | None,
    highest: Quantity | None,
    span: Quantity | None,
) -> curing.RateRule:
    parts: dict[str, tuple[Quantity | None, Fraction | None]] = {
        "--faster": (faster, warmer.factor if warmer else None),
        "--per": (per, warmer.per_degC if warmer else None),
        "--lowest": (lowest, warmer.lowest_degC if warmer else None),
        "--highest": (highest, warmer.highest_degC if warmer else None),
        "--span": (span, warmer.span_degC if warmer else None),
    }
    given = [own.amount if own is not None else rule for own, rule in parts.values()]
    missing = [flag for flag, value in zip(parts, given, strict=True) if value is None]
    if missing:
        raise ReckoningError(
            f"{', '.join(missing)}: missing; the data sheet says how its times move with "
            "temperature and within what limits, or name a --product of the rule set"
        )
    factor, step, low, high, reach = (value for value in given if value is not None)
    return curing.RateRule(
        factor=factor, per_degC=step, lowest_degC=low, highest_degC=high, span_degC=reach
    )


def _drying(book: RuleBook, product: str) -> Drying:
    found = book.product(product).handling.drying
    if found is None:
        raise ReckoningError(f"`{product}` has no drying data in products.yaml; see its data sheet")
    return found


@reckoning(
    "bake",
    option("--hold", Kind.TIME, "time at metal temperature; see the data sheet", required=True,
           like="coat.waited"),
    option("--target", Kind.TEMPERATURE, "metal temperature of the bake; see the data sheet",
           required=True),
    option("--metal", Kind.TEMPERATURE, f"{_METAL}, before the heat is on", required=True),
    option("--oven", Kind.TEMPERATURE, "air beside the panel once the oven is up; left out for "
           "lamps, after a trial that reached the target", like="car.bake-temperature"),
    option("--trial-time", Kind.TIME, "how long a trial heating took", required=True,
           like="coat.waited"),
    option("--trial-reached", Kind.TEMPERATURE, "metal temperature it reached in that time, from "
           "--metal by the same heat", required=True),
    option("--after", Kind.TIME, "tell the metal temperature after this time, to hold against a "
           "thermometer", like="coat.waited"),
)  # fmt: skip
def bake(
    book: RuleBook,
    hold: Quantity,
    target: Quantity,
    metal: Quantity,
    oven: Quantity | None,
    trial_time: Quantity,
    trial_reached: Quantity,
    after: Quantity | None,
) -> Answer:
    """Oven time with the hold counted from when the metal is hot, from one trial heating.

    In air of one temperature (--oven) metal warms ever more slowly. By lamps no air is known: it
    is taken to warm evenly, and only as far as the trial went.
    """
    if oven is None:
        answer, ramp = _by_lamps(target, metal, trial_time, trial_reached, after)
    else:
        answer, ramp = _in_oven(target, metal, oven, trial_time, trial_reached, after)
    found = curing.bake(hold.amount, ramp_h=ramp)
    answer.measure("Until the metal is at temperature", found.ramp_h, Kind.TIME)
    answer.measure("Hold", found.hold_h, Kind.TIME)
    answer.measure("In all", found.total_h, Kind.TIME)
    limit = book.limit("heat.restraints-watched")
    what, hottest = ("Metal", target) if oven is None else ("Air", oven)
    if hottest.amount > limit:
        answer.note(
            f"{what} above {show(limit, Kind.TEMPERATURE, hottest.unit)}: look up the vehicle "
            "maker's limits for restraints, control units and batteries first."
        )
    answer.note("Thick parts lag behind the skin: measure the coldest, heaviest metal.")
    return answer


def _in_oven(
    target: Quantity,
    metal: Quantity,
    oven: Quantity,
    trial_time: Quantity,
    trial_reached: Quantity,
    after: Quantity | None,
) -> tuple[Answer, float | Fraction]:
    """The answer so far, and the hours until the metal is at temperature."""
    air = {"start_degC": metal.amount, "oven_degC": oven.amount}
    constant = curing.heating_time_constant(
        trial_time.amount, reached_degC=trial_reached.amount, **air
    )
    ramp = curing.heating_time(target_degC=target.amount, time_constant_h=constant, **air)
    answer = Answer(
        "Bake from metal temperature",
        "T(t) = oven + (start - oven) * exp(-t / tau); total = ramp + hold",
        "Newton's law of heating, first order; tau from the trial",
    )
    answer.measure("Time constant of the panel", constant, Kind.TIME)
    if after is not None:
        then = curing.metal_temperature(after.amount, time_constant_h=constant, **air)
        answer.measure(
            f"Metal after {show(after.amount, Kind.TIME, after.unit)}",
            then,
            Kind.TEMPERATURE,
            metal.unit,
        )
        answer.note(
            "Where the thermometer shows less than that, the trial does not fit: time another."
        )
    return answer, ramp


def _by_lamps(
    target: Quantity,
    metal: Quantity,
    trial_time: Quantity,
    trial_reached: Quantity,
    after: Quantity | None,
) -> tuple[Answer, float | Fraction]:
    """As `_in_oven`, where nobody can say what the metal would come to in the end."""
    if after is not None:
        raise ReckoningError(
            "--after needs --oven: how metal warms by lamps is known where the trial read it, not "
            "in between; read the panel, or give the air beside it"
        )
    if trial_reached.amount <= metal.amount:
        raise ReckoningError(
            f"--trial-reached, {trial_reached.written}, is not above --metal, {metal.written}; "
            "read the same place before and after the trial"
        )
    if target.amount > trial_reached.amount:
        raise ReckoningError(
            f"the trial reached {trial_reached.written}, not the {target.written} of --target, and "
            "the further metal warms, the slower it does; heat it until it is there, or give the "
            "air beside the panel with --oven"
        )
    rate = (trial_reached.amount - metal.amount) / positive(
        "--trial-time", trial_time.amount, "time the heating"
    )
    ramp = curing.steady_heating_time(
        start_degC=metal.amount, target_degC=target.amount, rate_degC_per_h=rate
    )
    answer = Answer(
        "Bake from metal temperature",
        "ramp = (target - start) / rate, rate = (reached - start) / time of the trial; "
        "total = ramp + hold",
        "a straight line through the trial",
    )
    answer.measure(
        "Warming in a minute", rate / _MIN_PER_H, Kind.TEMPERATURE_DIFFERENCE, metal.unit
    )
    answer.note(
        "Taken as warming evenly through the trial: the nearer the target is to what it reached, "
        "the less that matters. The hold begins when the thermometer says so."
    )
    return answer, ramp


@reckoning(
    "recoat",
    option("--elapsed", Kind.TIME, "time since the coat went on; see the job's record",
           like="coat.waited",
           required=True),
    option("--opens", Kind.TIME, "start of the window at this temperature; see the data sheet",
           required=True),
    option("--closes", Kind.TIME, "end of the window; leave out where the sheet gives none"),
)  # fmt: skip
def recoat(book: RuleBook, elapsed: Quantity, opens: Quantity, closes: Quantity | None) -> Answer:
    """Whether the next coat may go on unscuffed. Both ends belong to the window."""
    window = curing.RecoatWindow(opens.amount, amount(closes))
    answer = Answer(
        "Recoat window", "open from `opens` to `closes` after the coat", "the product data sheet"
    )
    state = window.state(elapsed.amount)
    words = {
        curing.RecoatState.TOO_EARLY: "too early",
        curing.RecoatState.OPEN: "open",
        curing.RecoatState.CLOSED_SCUFF: "closed: do what the data sheet says, mostly scuff first",
    }
    answer.word("State", words[state])
    if state is curing.RecoatState.TOO_EARLY:
        answer.measure("Still to wait", window.wait_h(elapsed.amount), Kind.TIME)
    if closes is not None and state is not curing.RecoatState.CLOSED_SCUFF:
        answer.measure("Closes in", closes.amount - elapsed.amount, Kind.TIME)
    if closes is None:
        answer.note("No end was given: taken as a window that does not close.")
    return answer
