"""Whether VOC figures can be right: a litre of liquid weighs no more than the densest in it.

Masses in g, volumes in L, densities in g/L. Conservation of volume (arithmetic): what leaves fills
a part of the mix, so its mass over that volume lies between the lightest and the densest solvent.
Which densities those are is for the rule set to say; that of water is a physical constant.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, not_negative, percent, positive, show
from engine.reckoning.voc import Basis, Contents, voc_content

_SHEET = "take it from the product's safety or technical data sheet, and look at its unit"
_RULES = "set it in the rule set's limits"

# Water at 4 degC, where it is densest.
_WATER_G_PER_L = Fraction(1000)


@dataclass(frozen=True, slots=True)
class Densities:
    """The lightest and densest solvent there is in paint, the densest exempt one, g/L.

    `water_apart_percent`: how far mass and volume of the water may be apart, rounding in mind.
    """

    lightest: Number
    densest: Number
    exempt_densest: Number
    water_apart_percent: Number


def check_figure(name: str, voc_g_per_L: Number, *, densest: Number) -> None:
    """Raises ReckoningError for a VOC figure above the density of any solvent."""
    figure = not_negative(name, voc_g_per_L, _SHEET)
    top = positive("the densest solvent", densest, _RULES)
    if figure > top:
        raise ReckoningError(
            f"{name} is {show(figure)} g/L; a litre of the densest solvent in paint weighs "
            f"{show(top)} g, so no litre of paint lets more go; {_SHEET}"
        )


def check_contents(contents: Contents, *, known: Densities) -> None:
    """Raises ReckoningError where masses and volumes of a mix cannot belong together."""
    _check_water(contents, known)
    _check_exempt(contents, known)
    densest = positive("the densest solvent", known.densest, _RULES)
    found = voc_content(contents, basis=Basis.LESS_WATER_AND_EXEMPT)
    if found > densest:
        volatiles, volume = (show(each) for each in (contents.volatiles_g, contents.volume_L))
        raise ReckoningError(
            f"{volatiles} g of volatiles in {volume} L make {show(found)} g/L once water and "
            f"exempt solvents are out; a litre of the densest solvent in paint weighs "
            f"{show(densest)} g; {_SHEET}"
        )


def _check_water(contents: Contents, known: Densities) -> None:
    mass = not_negative("water_g", contents.water_g, _SHEET)
    litres = not_negative("water_L", contents.water_L, _SHEET)
    apart = percent("how far water may be apart", known.water_apart_percent, _RULES)
    weighs = litres * _WATER_G_PER_L
    if abs(mass - weighs) * 100 > apart * weighs:
        raise ReckoningError(
            f"{show(mass)} g of water do not fill {show(litres)} L, which weighs "
            f"{show(weighs)} g; {_SHEET}"
        )


def _check_exempt(contents: Contents, known: Densities) -> None:
    mass = not_negative("exempt_g", contents.exempt_g, _SHEET)
    litres = not_negative("exempt_L", contents.exempt_L, _SHEET)
    low = positive("the lightest solvent", known.lightest, _RULES)
    high = positive("the densest exempt solvent", known.exempt_densest, _RULES)
    if not low * litres <= mass <= high * litres:
        raise ReckoningError(
            f"{show(mass)} g of exempt solvents do not fill {show(litres)} L; a litre of them "
            f"weighs from {show(low)} to {show(high)} g; {_SHEET}"
        )
