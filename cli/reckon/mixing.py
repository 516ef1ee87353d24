"""A mix by parts: what goes in, what the scale shows, what to buy, how long it lasts."""

from __future__ import annotations

from fractions import Fraction

import click

from cli.reckon.answer import Answer
from cli.reckon.reckoning import RuleBook, choice_option, named_option, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning.cans import cans_for
from engine.reckoning.coverage import check_thinner
from engine.reckoning.mixing import (
    PercentOf,
    add_percent,
    mix_by_parts,
    mixed_solids_percent,
    pot_life_batches,
    scale_readings,
)

_G_PER_L = 1000
_RATE = "litres sprayed in an hour, a plain number; time a test pass"


@reckoning(
    "mix",
    option("--volume", Kind.VOLUME, "ready mix wanted; reckon it with `coverage`", required=True),
    named_option("--part", Kind.NUMBER, "one part of the ratio by volume, as in clear=2",
                 required=True),
    named_option("--add", Kind.PERCENT, "what is added in percent, as in thinner=10%"),
    choice_option("--of", tuple(each.value for each in PercentOf),
                  "what the percentage is of; data sheets mean either"),
    named_option("--solids", Kind.PERCENT, "solids by volume of a part, as in clear=50%"),
    named_option("--density", Kind.DENSITY, "density of a part, as in clear='1.0 kg/L'"),
    option("--pot-life", Kind.TIME, "pot life of the mix; see the data sheet"),
    option("--rate", Kind.NUMBER, _RATE),
    option("--can", Kind.VOLUME, "a size the first part is sold in; once a size", multiple=True),
)  # fmt: skip
def mix(
    book: RuleBook,
    volume: Quantity,
    part: tuple[tuple[str, Quantity], ...],
    add: tuple[tuple[str, Quantity], ...],
    of: str | None,
    solids: tuple[tuple[str, Quantity], ...],
    density: tuple[tuple[str, Quantity], ...],
    pot_life: Quantity | None,
    rate: Quantity | None,
    can: tuple[Quantity, ...],
) -> Answer:
    """Litres of each part; with densities the scale, with solids those of the mix, and so on."""
    answer = Answer(
        "Mix",
        "part litres = volume * part / sum of parts; +p % adds p/100 of the whole mix or of the "
        "first part",
        "arithmetic from the ratio on the product data sheet; volumes taken as additive",
    )
    ratio = _amounts("--part", part)
    for name, share in _amounts("--add", add).items():
        check_thinner(f"--add {name}", share, most=book.bound("coverage.thinner-most"))
        if of is None:
            # The reckoning's own refusal tells both amounts.
            add_percent(ratio, name=name, percent=share, of=None)
        ratio = add_percent(ratio, name=name, percent=share, of=PercentOf(of))
    for name, litres in mix_by_parts(volume.amount, ratio).items():
        answer.measure(name, litres, Kind.VOLUME, volume.unit)
    if add:
        answer.note(f"The percentage is taken of the {str(of).replace('-', ' ')}.")
    if density:
        weights = {name: each / _G_PER_L for name, each in _of("--density", density, ratio).items()}
        for pour in scale_readings(volume.amount, ratio, density_g_per_mL=weights):
            shown, own = (show(mass, Kind.MASS, "g") for mass in (pour.shown_g, pour.mass_g))
            answer.word(
                f"Pour {pour.component} until the scale shows",
                shown if pour.shown_g == pour.mass_g else f"{shown}, {own} more",
            )
    if solids:
        given = _of("--solids", solids, ratio)
        missing = [name for name in ratio if name not in given]
        if missing:
            raise ReckoningError(
                f"--solids of {', '.join(missing)} is missing; see the data sheet (a thinner has "
                "0 %)"
            )
        mixed = mixed_solids_percent((ratio[name], given[name]) for name in ratio)
        answer.measure("Solids by volume of the mix", mixed, Kind.PERCENT)
    _batches(book, answer, volume, pot_life, rate)
    if can:
        _cans(answer, volume, ratio, can)
    return answer


def _batches(
    book: RuleBook, answer: Answer, volume: Quantity, pot_life: Quantity | None,
    rate: Quantity | None,
) -> None:  # fmt: skip
    if pot_life is None and rate is None:
        return
    if pot_life is None or rate is None:
        lacking = (
            f"--rate is missing: {_RATE}"
            if rate is None
            else "--pot-life is missing: see the data sheet"
        )
        raise ReckoningError(f"batches need both; {lacking}")
    found = pot_life_batches(
        volume.amount,
        pot_life_h=pot_life.amount,
        usable_percent=book.limit("mixing.usable-pot-life"),
        application_rate_L_per_h=rate.amount,
    )
    answer.number("Batches", found.count)
    answer.measure("Each", found.volume_each_L, Kind.VOLUME, volume.unit)
    answer.measure("Most in a batch", found.most_per_batch_L, Kind.VOLUME, volume.unit)
    answer.measure("Sprayed out in", found.hours_each, Kind.TIME)
    answer.note("Pot life is printed for one temperature; warm paint goes off sooner.")


def _cans(
    answer: Answer, volume: Quantity, ratio: dict[str, Fraction], can: tuple[Quantity, ...]
) -> None:
    first, litres = next(iter(mix_by_parts(volume.amount, ratio).items()))
    found = cans_for(litres, can_sizes_L=[size.amount for size in can])
    written = {size.amount: size.written for size in can}
    answer.word(
        f"Cans of {first}",
        " + ".join(f"{count} x {written[size]}" for size, count in found.counts.items()),
    )
    answer.measure("In them", found.bought_L, Kind.VOLUME, volume.unit)
    answer.measure("Left over", found.left_over_L, Kind.VOLUME, volume.unit)


def _amounts(flag: str, named: tuple[tuple[str, Quantity], ...]) -> dict[str, Fraction]:
    found: dict[str, Fraction] = {}
    for name, quantity in named:
        if name in found:
            raise click.UsageError(f"{flag} gives {name} twice; give it once")
        found[name] = quantity.amount
    return found


def _of(
    flag: str, named: tuple[tuple[str, Quantity], ...], ratio: dict[str, Fraction]
) -> dict[str, Fraction]:
    found = _amounts(flag, named)
    strange = [name for name in found if name not in ratio]
    if strange:
        raise ReckoningError(
            f"{flag} names {', '.join(strange)}, which is no part of the mix; its parts are "
            + ", ".join(ratio)
        )
    return found
