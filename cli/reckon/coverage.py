"""How far paint goes."""

from __future__ import annotations

from fractions import Fraction

from cli.reckon.answer import Answer
from cli.reckon.kinds import amount
from cli.reckon.reckoning import RuleBook, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, to_unit
from engine.reckoning import coverage as reach

_MIL = "mil"


@reckoning(
    "coverage",
    option("--dry-film", Kind.THICKNESS, "dry film wanted; see the data sheet",
           like="film.readings"),
    option("--wet-film", Kind.THICKNESS, "what a wet-film comb reads, instead of --dry-film",
           like="film.readings"),
    option("--solids", Kind.PERCENT, "solids by volume, unthinned; see the data sheet",
           required=True),
    option("--thinner", Kind.PERCENT, "thinner added, of the paint's volume; 0% where none",
           required=True),
    option("--area", Kind.AREA, "surface to coat; measure it"),
    option("--coats", Kind.COUNT, "coats that make the dry film together; see the data sheet"),
    option("--efficiency", Kind.PERCENT, "transfer efficiency instead of the rule set's"),
    option("--loss", Kind.PERCENT, "left in cup and gun instead of the rule set's share"),
)  # fmt: skip
def coverage(
    book: RuleBook,
    dry_film: Quantity | None,
    wet_film: Quantity | None,
    solids: Quantity,
    thinner: Quantity,
    area: Quantity | None,
    coats: Quantity | None,
    efficiency: Quantity | None,
    loss: Quantity | None,
) -> Answer:
    """Spreading rate, wet film for the comb, and with --area the litres to have."""
    reach.check_solids("--solids", solids.amount, least=book.bound("coverage.solids-least"))
    reach.check_thinner("--thinner", thinner.amount, most=book.bound("coverage.thinner-most"))
    answer = Answer(
        "Coverage",
        "m2/L = 10 * VS% / DFT(um) (ft2/gal = 1604 * VS / DFT(mil)); "
        "WFT = DFT * (1 + thinner) / VS; thinned: m2/L = 1000 / WFT(um) "
        "(ft2/gal = 1604 / WFT(mil)); litres = area / rate / efficiency / (1 - loss)",
        "relations of coatings handbooks, following from the units; transfer efficiency as South "
        "Coast AQMD defines it (read)",
    )
    film, unit = _dry_film(dry_film, wet_film, solids, thinner)
    answer.measure("Dry film", film, Kind.THICKNESS, unit)
    rate = reach.spreading_rate_m2_per_L(volume_solids_percent=solids.amount, dry_film_um=film)
    gallons = reach.spreading_rate_ft2_per_gal(
        volume_solids_percent=solids.amount, dry_film_mil=to_unit(film, Kind.THICKNESS, _MIL)
    )
    answer.number("Spreading rate, unthinned", rate, "m2/L")
    answer.number("The same, unthinned", gallons, "ft2/gal")
    wet = reach.wet_film(film, volume_solids_percent=solids.amount, thinner_percent=thinner.amount)
    answer.measure("Wet film in all", wet, Kind.THICKNESS, unit)
    wet_rate = reach.wet_spread_m2_per_L(wet_film_um=wet)
    answer.number("Spreading rate, thinned", wet_rate, "m2/L")
    wet_gallons = reach.wet_spread_ft2_per_gal(wet_film_mil=to_unit(wet, Kind.THICKNESS, _MIL))
    answer.number("The same, thinned", wet_gallons, "ft2/gal")
    if coats is not None:
        each = reach.in_coats(
            film,
            coats=int(coats.amount),
            volume_solids_percent=solids.amount,
            thinner_percent=thinner.amount,
        )
        answer.measure("Wet film of each coat", each.wet_film_each, Kind.THICKNESS, unit)
        answer.measure("Dry film of each coat", each.dry_film_each, Kind.THICKNESS, unit)
    if area is None:
        answer.note("Give --area for the litres.")
        return answer
    share = amount(efficiency)
    if share is None:
        bands = reach.efficiency_bands_from_table(book.table("coverage.transfer-efficiency"))
        share = reach.efficiency_for_area(area.amount, table=bands)
    lost = book.limit("coverage.other-loss") if loss is None else loss.amount
    ideal = reach.theoretical_litres(area.amount, film, volume_solids_percent=solids.amount)
    litres = reach.practical_litres(
        area.amount,
        film,
        volume_solids_percent=solids.amount,
        transfer_efficiency_percent=share,
        other_loss_percent=lost,
    )
    thinned = litres * (1 + thinner.amount / 100)
    answer.measure("Transfer efficiency", share, Kind.PERCENT)
    answer.measure("If every drop landed, unthinned", ideal, Kind.VOLUME)
    answer.measure("To have, unthinned", litres, Kind.VOLUME)
    answer.measure("To have, thinned", thinned, Kind.VOLUME)
    sprayed = thinned * (1 - lost / 100)
    over = reach.overspray_litres(sprayed, transfer_efficiency_percent=share)
    answer.measure("Of which overspray", over, Kind.VOLUME)
    answer.note("Solids by weight are another number and give too little paint for the film.")
    return answer


def _dry_film(
    dry: Quantity | None, wet: Quantity | None, solids: Quantity, thinner: Quantity
) -> tuple[Fraction, str]:
    if dry is not None and wet is None:
        return dry.amount, dry.unit
    if wet is not None and dry is None:
        left = reach.dry_film(
            wet.amount, volume_solids_percent=solids.amount, thinner_percent=thinner.amount
        )
        return left, wet.unit
    raise ReckoningError(
        "give either --dry-film, from the data sheet, or --wet-film, read with a wet-film comb"
    )
