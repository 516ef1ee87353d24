"""How far paint goes: spreading rate, wet and dry film, practical litres, cans to buy.

Film in um or mil as named, area in m2 or ft2, volume in L. Volume solids are a percentage of the
ready-mixed paint's volume, from the product data sheet; solids by weight are another number.

Sources: the spreading-rate and wet-film relations are printed in coatings handbooks (read in
excerpts) and follow from the units; transfer efficiency as South Coast AQMD defines it, mass of
solids on the part over mass of solids sprayed (read).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.factors import FT2_MIL_PER_US_GAL
from engine.reckoning.inputs import (
    Number,
    not_negative,
    percent,
    positive,
    positive_percent,
    show,
    whole,
)
from engine.reckoning.tables import TableLike, pick
from engine.records import dataclass

_SHEET = "take it from the product data sheet"
_RULES = "set it in the rule set's limits"
_AREA = "measure the panel"
_FILM = "take the dry film wanted from the product data sheet"
_WET = "read it with a wet-film comb"
_THINNER = "give the thinner as a percentage of the paint's volume, 0 where none is added"
_EFFICIENCY = "set the transfer efficiency of gun and work in the rule set's tables"
_LOSS = "give the share of mixed paint left in cup, gun and lines, 0 where none"


def spreading_rate_m2_per_L(*, volume_solids_percent: Number, dry_film_um: Number) -> Fraction:
    """Theoretical area in m2 that a litre covers at the dry film given."""
    solids = positive_percent("volume_solids_percent", volume_solids_percent, _SHEET)
    return 10 * solids / positive("dry_film_um", dry_film_um, _FILM)


def spreading_rate_ft2_per_gal(*, volume_solids_percent: Number, dry_film_mil: Number) -> Fraction:
    """Theoretical area in ft2 that a US gallon covers at the dry film given."""
    solids = positive_percent("volume_solids_percent", volume_solids_percent, _SHEET)
    return FT2_MIL_PER_US_GAL * solids / 100 / positive("dry_film_mil", dry_film_mil, _FILM)


def wet_spread_m2_per_L(*, wet_film_um: Number) -> Fraction:
    """Area in m2 that a litre covers at the wet film given."""
    return 1000 / positive("wet_film_um", wet_film_um, _WET)


def wet_spread_ft2_per_gal(*, wet_film_mil: Number) -> Fraction:
    """Area in ft2 that a US gallon covers at the wet film given."""
    return FT2_MIL_PER_US_GAL / positive("wet_film_mil", wet_film_mil, _WET)


def check_thinner(name: str, thinner_percent: Number, *, most: Number) -> None:
    """Raises ReckoningError for more thinner, as % of the paint's volume, than `most`."""
    share = not_negative(name, thinner_percent, _THINNER)
    top = positive("the most thinner", most, _RULES)
    if share > top:
        raise ReckoningError(
            f"{name} is {show(share)} % of the paint; over {show(top)} % no data sheet is expected "
            "to ask for; look there again, and for parts by volume write 2:1 as 50 %"
        )


def check_solids(name: str, volume_solids_percent: Number, *, least: Number) -> None:
    """Raises ReckoningError for solids by volume, in %, below `least` or above 100."""
    share = positive_percent(name, volume_solids_percent, _SHEET)
    low = positive("the least solids", least, _RULES)
    if share < low:
        raise ReckoningError(
            f"{name} is {show(share)} %; under {show(low)} % no paint is expected to be; {_SHEET}, "
            "solids by volume, unthinned"
        )


def wet_film(
    dry_film: Number, *, volume_solids_percent: Number, thinner_percent: Number
) -> Fraction:
    """Wet film that dries to `dry_film`, in the same unit.

    `thinner_percent` is thinner added as a percentage of the unthinned paint's volume and
    `volume_solids_percent` belongs to the unthinned paint.
    """
    return positive("dry_film", dry_film, _FILM) / _solid_share(
        volume_solids_percent, thinner_percent
    )


def dry_film(
    wet_film: Number, *, volume_solids_percent: Number, thinner_percent: Number
) -> Fraction:
    """Dry film left by `wet_film`, in the same unit; solids and thinner as for `wet_film`."""
    return positive("wet_film", wet_film, _WET) * _solid_share(
        volume_solids_percent, thinner_percent
    )


def theoretical_litres(
    area_m2: Number, dry_film_um: Number, *, volume_solids_percent: Number
) -> Fraction:
    """Litres of ready-mixed paint for the area if every drop landed."""
    return positive("area_m2", area_m2, _AREA) / spreading_rate_m2_per_L(
        volume_solids_percent=volume_solids_percent, dry_film_um=dry_film_um
    )


def practical_litres(
    area_m2: Number,
    dry_film_um: Number,
    *,
    volume_solids_percent: Number,
    transfer_efficiency_percent: Number,
    other_loss_percent: Number,
) -> Fraction:
    """Litres of ready-mixed paint to have, losses included; losses multiply, they do not add.

    Raises ReckoningError when nothing would arrive on the panel.
    """
    efficiency = positive_percent(
        "transfer_efficiency_percent", transfer_efficiency_percent, _EFFICIENCY
    )
    loss = percent("other_loss_percent", other_loss_percent, _LOSS)
    if loss == 100:
        raise ReckoningError(f"other_loss_percent is 100: nothing is left to spray; {_LOSS}")
    ideal = theoretical_litres(area_m2, dry_film_um, volume_solids_percent=volume_solids_percent)
    return ideal / (efficiency / 100) / (1 - loss / 100)


@dataclass(frozen=True, slots=True)
class Coats:
    """A dry film split into equal coats, films in the unit the total was given in."""

    count: int
    dry_film_each: Fraction
    wet_film_each: Fraction


def in_coats(
    total_dry_film: Number,
    *,
    coats: int,
    volume_solids_percent: Number,
    thinner_percent: Number,
) -> Coats:
    """What each of several equal coats must be, wet and dry; the litres follow from the total."""
    count = whole("coats", coats, _SHEET)
    total = positive("total_dry_film", total_dry_film, _FILM)
    each = total / count
    wet_each = wet_film(
        each, volume_solids_percent=volume_solids_percent, thinner_percent=thinner_percent
    )
    return Coats(count, each, wet_each)


@dataclass(frozen=True, slots=True)
class EfficiencyBand:
    """Transfer efficiency for panels up to an area (inclusive); None is "any larger"."""

    up_to_m2: Number | None
    percent: Number


def efficiency_bands_from_table(table: TableLike) -> tuple[EfficiencyBand, ...]:
    """Bands from a table with the columns up-to-m2 (`any` for the last) and percent."""
    rows = pick(table, "transfer efficiency", "up-to-m2", "percent")
    return tuple(EfficiencyBand(None if upto == "any" else upto, value) for upto, value in rows)


def efficiency_for_area(area_m2: Number, *, table: Sequence[EfficiencyBand]) -> Fraction:
    """The transfer efficiency, percent, that the table gives for a panel of this area.

    Raises ReckoningError for an empty or unordered table, or an area beyond its last band.
    """
    area = positive("area_m2", area_m2, _AREA)
    bands = list(table)
    if not bands:
        raise ReckoningError(f"the transfer-efficiency table is empty; {_EFFICIENCY}")
    found: Fraction | None = None
    previous = Fraction(0)
    for place, band in enumerate(bands):
        value = positive_percent("transfer efficiency", band.percent, _EFFICIENCY)
        if band.up_to_m2 is None:
            if place != len(bands) - 1:
                raise ReckoningError(
                    "only the last band of the transfer-efficiency table may be without a limit; "
                    "order the bands from small to large"
                )
            upper = max(area, previous)
        else:
            upper = positive("up_to_m2", band.up_to_m2, _EFFICIENCY)
            if upper <= previous:
                raise ReckoningError(
                    f"the transfer-efficiency table goes from {show(previous)} m2 to "
                    f"{show(upper)} m2; order the bands from small to large"
                )
        if found is None and area <= upper:
            found = value
        previous = upper
    if found is None:
        raise ReckoningError(
            f"the transfer-efficiency table ends at {show(previous)} m2 and the panel has "
            f"{show(area)} m2; add a band for larger panels"
        )
    return found


def overspray_litres(litres_sprayed: Number, *, transfer_efficiency_percent: Number) -> Fraction:
    """The part of the sprayed litres that goes to filters and air, for filters and waste."""
    sprayed = not_negative("litres_sprayed", litres_sprayed, "take it from the practical litres")
    efficiency = percent("transfer_efficiency_percent", transfer_efficiency_percent, _EFFICIENCY)
    return sprayed * (1 - efficiency / 100)


def _solid_share(volume_solids_percent: Number, thinner_percent: Number) -> Fraction:
    solids = positive_percent("volume_solids_percent", volume_solids_percent, _SHEET) / 100
    return solids / (1 + not_negative("thinner_percent", thinner_percent, _THINNER) / 100)
