"""VOC of paint as applied, and the limits it is held against.

Masses in g, volumes in L, VOC in g/L. Formulas: 40 CFR 59.104(a) (terms read; the formula image
for several midcoats from memory) with EPA Method 24, 40 CFR 60 appendix A; the European definition
in Directive 2004/42/EC. Information for planning: what the law asks of a shop is for the local
authority to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import Enum
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, not_negative, positive, show
from engine.reckoning.tables import TableLike, pick
from engine.records import dataclass

_SHEET = "take it from the product's safety or technical data sheet"
_MIX = "mix as the product data sheet instructs and take it per litre of that mix"


class Basis(Enum):
    """What a VOC figure leaves out of mass and volume; figures on two bases do not compare."""

    LESS_WATER_AND_EXEMPT = "less-water-and-exempt"
    LESS_WATER = "less-water"
    AS_IS = "as-is"


@dataclass(frozen=True, slots=True)
class Contents:
    """What a volume of ready-mixed paint holds.

    `volatiles_g` is everything that leaves: solvents, water and exempt compounds together.
    Raises ReckoningError where the parts are more than the whole.
    """

    volume_L: Number
    volatiles_g: Number
    water_g: Number
    water_L: Number
    exempt_g: Number
    exempt_L: Number

    def __post_init__(self) -> None:
        volume = positive("volume_L", self.volume_L, _MIX)
        volatiles = not_negative("volatiles_g", self.volatiles_g, _SHEET)
        water_g = not_negative("water_g", self.water_g, _SHEET)
        water_L = not_negative("water_L", self.water_L, _SHEET)
        exempt_g = not_negative("exempt_g", self.exempt_g, _SHEET)
        exempt_L = not_negative("exempt_L", self.exempt_L, _SHEET)
        if water_g + exempt_g > volatiles:
            raise ReckoningError(
                f"water and exempt compounds weigh {show(water_g + exempt_g)} g, all the "
                f"volatiles only {show(volatiles)} g; {_SHEET}"
            )
        if water_L + exempt_L >= volume:
            raise ReckoningError(
                f"water and exempt compounds fill {show(water_L + exempt_L)} L of "
                f"{show(volume)} L of paint, leaving no coating; {_SHEET}"
            )
        for what, mass, litres in (("water", water_g, water_L), ("exempt", exempt_g, exempt_L)):
            if (mass == 0) != (litres == 0):
                raise ReckoningError(
                    f"{what}_g is {show(mass)} and {what}_L is {show(litres)}: give both; {_SHEET}"
                )


def voc_content(contents: Contents, *, basis: Basis) -> Fraction:
    """VOC in g/L on the basis asked for.

    `LESS_WATER_AND_EXEMPT` is the coating VOC of 40 CFR 59.104(a)(1). The other two count the
    compounds exempt in the United States as VOC, as the European definition does (from memory):
    `LESS_WATER` leaves water out of mass and volume, `AS_IS` out of the mass alone.
    """
    volume, volatiles, water_g, water_L, exempt_g, exempt_L = _exact(contents)
    if basis is Basis.LESS_WATER_AND_EXEMPT:
        return (volatiles - water_g - exempt_g) / (volume - water_L - exempt_L)
    if basis is Basis.LESS_WATER:
        return (volatiles - water_g) / (volume - water_L)
    return (volatiles - water_g) / volume


def voc_actual(contents: Contents) -> Fraction:
    """VOC let go per litre of paint used, g/L, water and exempt left in the volume.

    For solvent logs, never for comparing with a limit written less water and exempt.
    """
    volume, volatiles, water_g, _, exempt_g, _ = _exact(contents)
    return (volatiles - water_g - exempt_g) / volume


def multistage_average(
    *, base: Number, midcoats: Sequence[Number], clear: Number, clear_weight: Number
) -> Fraction:
    """VOC of a multistage topcoat from its coats' VOC, in the unit they are given in.

    (base + sum of midcoats + w * clear) / (1 + number of midcoats + w); the weight w of the clear
    is the regulation's.
    """
    weight = positive("clear_weight", clear_weight, "set it in the rule set's tables")
    coats = [not_negative("base", base, _SHEET)]
    coats += [not_negative("midcoat", mid, _SHEET) for mid in midcoats]
    total = sum(coats, Fraction(0)) + weight * not_negative("clear", clear, _SHEET)
    return total / (len(coats) + weight)


def mixed_voc(components: Iterable[tuple[Number, Number]]) -> Fraction:
    """VOC of a mix from (volume, VOC) of each component, in the unit the VOC is given in.

    Volumes are on the same basis as the VOC: less water and exempt where the figures are, so
    added water does not count.
    """
    volume = Fraction(0)
    mass = Fraction(0)
    for part, content in components:
        exact = not_negative("volume", part, _MIX)
        volume += exact
        mass += exact * not_negative("VOC", content, _SHEET)
    if volume == 0:
        raise ReckoningError(f"the mix has no volume; {_MIX}")
    return mass / volume


@dataclass(frozen=True, slots=True)
class VocLimit:
    """One row of a jurisdiction's table."""

    category: str
    limit_g_per_L: Fraction
    basis: Basis


@dataclass(frozen=True, slots=True)
class VocVerdict:
    """A VOC figure held against the limit that governs it."""

    within: bool
    governing: VocLimit
    voc_g_per_L: Fraction
    over_by_g_per_L: Fraction


def limits_from_table(table: TableLike) -> tuple[VocLimit, ...]:
    """Limits from a table with the columns category, limit-g-per-L and basis.

    Raises ReckoningError naming a column or a row that is wrong.
    """
    limits: dict[str, VocLimit] = {}
    for category, limit, basis in pick(table, "VOC limits", "category", "limit-g-per-L", "basis"):
        if basis not in {known.value for known in Basis}:
            raise ReckoningError(
                f"the VOC limit of {category} has the basis {basis!r}; right are "
                + ", ".join(known.value for known in Basis)
            )
        if category in limits:
            raise ReckoningError(f"the table gives {category} two VOC limits; keep one row")
        exact = positive(f"VOC limit of {category}", limit, "set it in the rule set's tables")
        limits[category] = VocLimit(category, exact, Basis(basis))
    return tuple(limits.values())


def governing_limit(limits: Sequence[VocLimit], categories: Sequence[str]) -> VocLimit:
    """The lowest limit of the categories a mix is used for.

    Source: 40 CFR 59.102(b) (read). Raises ReckoningError for no category, one the table does not
    know, or categories on two bases, which no single VOC figure can be compared with.
    """
    known = {limit.category: limit for limit in limits}
    if not categories:
        raise ReckoningError("no VOC category is given; say what the mix is used for")
    unknown = [category for category in categories if category not in known]
    if unknown:
        raise ReckoningError(
            f"no VOC limit for {', '.join(unknown)} in this jurisdiction's table; it has "
            + ", ".join(sorted(known))
        )
    chosen = [known[category] for category in categories]
    if len({limit.basis for limit in chosen}) > 1:
        raise ReckoningError(
            "the categories " + ", ".join(categories) + " are limited on different bases; judge "
            "each with a VOC figure on its own basis"
        )
    return min(chosen, key=lambda limit: limit.limit_g_per_L)


def judge_voc(
    contents: Contents, *, limits: Sequence[VocLimit], categories: Sequence[str]
) -> VocVerdict:
    """Hold a mix against the limit that governs it, in g/L and on that limit's own basis.

    A figure exactly on the limit is within it.
    """
    governing = governing_limit(limits, categories)
    return judge_voc_figure(
        voc_content(contents, basis=governing.basis), governing.basis, governing=governing
    )


def judge_voc_figure(voc_g_per_L: Number, basis: Basis, *, governing: VocLimit) -> VocVerdict:
    """Hold a VOC figure from a data sheet against a limit.

    Raises ReckoningError where figure and limit are on different bases.
    """
    figure = not_negative("voc_g_per_L", voc_g_per_L, _SHEET)
    if basis is not governing.basis:
        raise ReckoningError(
            f"the limit for {governing.category} is {governing.basis.value}, the figure is "
            f"{basis.value}; take the figure on the limit's basis from the data sheet"
        )
    over = max(Fraction(0), figure - governing.limit_g_per_L)
    return VocVerdict(over == 0, governing, figure, over)


def _exact(
    contents: Contents,
) -> tuple[Fraction, Fraction, Fraction, Fraction, Fraction, Fraction]:
    return (
        positive("volume_L", contents.volume_L, _MIX),
        not_negative("volatiles_g", contents.volatiles_g, _SHEET),
        not_negative("water_g", contents.water_g, _SHEET),
        not_negative("water_L", contents.water_L, _SHEET),
        not_negative("exempt_g", contents.exempt_g, _SHEET),
        not_negative("exempt_L", contents.exempt_L, _SHEET),
    )
