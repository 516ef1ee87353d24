"""Waits that products set, at the temperature of the shop.

Times of chemical cure are moved from the data sheet's temperature by the product's own rule,
inside its limits; flash and the start of a recoat window wait for solvent and are left as printed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from engine.errors import ReckoningError
from engine.plan.setting import AIR_TEMPERATURE, SURFACE_TEMPERATURE, THE_CAR, Setting
from engine.quantity import Kind
from engine.reckoning.cure import RateRule
from engine.records import dataclass
from engine.ruleset.model import Product
from engine.ruleset.work import Drying, Dryness, Span, WaitsFor
from engine.words import say

_MINUTES = 60
# Far below a second: only undoes what the float power function adds to an exact minute.
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Window:
    """When the next coat may go on, in h after application; None is a window without end."""

    opens_h: Fraction
    closes_h: Fraction | None
    once_closed: str | None


class Waits:
    """Reckons waits for one job."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._times: dict[tuple[str, Dryness], Fraction] = {}
        self._windows: dict[str, Window | None] = {}

    def wait(self, wanted: WaitsFor, used: Iterable[str]) -> Span:
        """The longest wait that the products in use set; nothing where none of them is.

        Raises ReckoningError where a product does not give the time or it cannot be moved to the
        shop's temperature.
        """
        on = set(used)
        times = [
            self.time(self._setting.ruleset.products[product], wanted.until)
            for product in wanted.products
            if product in on
        ]
        return Span.exactly(max(times, default=Fraction(0)))

    def time(self, product: Product, until: Dryness) -> Fraction:
        """How long a product takes, in h."""
        asked = product.id, until
        if asked not in self._times:
            self._times[asked] = self._time(product, until)
        return self._times[asked]

    def _time(self, product: Product, until: Dryness) -> Fraction:
        drying = _drying(product)
        if until is Dryness.BAKED:
            if drying.bake is None:
                raise ReckoningError(_lacks(product, "drying: bake"))
            return drying.bake.ramp_h + drying.bake.hold_h
        printed = {
            Dryness.FLASH: drying.flash_h,
            Dryness.HANDLE: drying.handle_h,
            Dryness.SANDABLE: drying.sandable_h,
            Dryness.CURED: drying.cured_h,
        }[until]
        if printed is None:
            raise ReckoningError(_lacks(product, f"drying: {until}"))
        if until is Dryness.FLASH:
            return self._as_printed(product, drying, printed, "flash")
        return self._moved(product, drying, printed, rounded_up=True)

    def window(self, product: Product) -> Window | None:
        """The recoat window of a product; None where it has none."""
        if product.id not in self._windows:
            self._windows[product.id] = self._window(product)
        return self._windows[product.id]

    def _window(self, product: Product) -> Window | None:
        drying = _drying(product)
        if drying.opens_h is None:
            return None
        closes = drying.closes_h
        return Window(
            self._as_printed(product, drying, drying.opens_h, say("start of the recoat window")),
            None if closes is None else self._moved(product, drying, closes, rounded_up=False),
            drying.once_closed,
        )

    def _as_printed(
        self, product: Product, drying: Drying, printed: Fraction, what: str
    ) -> Fraction:
        shop = self._temperature()
        if shop is not None and shop != drying.at_degC:
            self._setting.notes.assume(
                product.title,
                say(
                    "{what} as at {degrees}, though it is {degrees2}: no rule moves it",
                    what=what,
                    degrees=self._degrees(drying.at_degC),
                    degrees2=self._degrees(shop),
                ),
                say("look at the film before going on; see the data sheet"),
            )
        return printed

    def _moved(
        self, product: Product, drying: Drying, printed: Fraction, *, rounded_up: bool
    ) -> Fraction:
        shop = self._temperature()
        if shop is None:
            self._setting.notes.assume(
                THE_CAR,
                say(
                    "drying times of {title} as at {degrees}, because the shop's "
                    "temperature is not known",
                    title=product.title,
                    degrees=self._degrees(drying.at_degC),
                ),
                say("measure the temperature of the surface and tell it"),
            )
            return printed
        if shop == drying.at_degC or printed == 0:
            return printed
        warmer = drying.warmer
        if warmer is None:
            raise ReckoningError(
                say(
                    "{title} gives its times for {degrees} and no rule for {degrees2}; "
                    "take the time from the data sheet, or give `warmer`",
                    title=product.title,
                    degrees=self._degrees(drying.at_degC),
                    degrees2=self._degrees(shop),
                )
            )
        try:
            hours = RateRule(
                factor=warmer.factor,
                per_degC=warmer.per_degC,
                lowest_degC=warmer.lowest_degC,
                highest_degC=warmer.highest_degC,
                span_degC=warmer.span_degC,
            ).time(printed, from_degC=drying.at_degC, to_degC=shop)
        except ReckoningError as error:
            raise ReckoningError(f"{product.title}: {error.format_message()}") from None
        minutes = hours * _MINUTES
        whole = math.ceil(minutes - _SLACK) if rounded_up else math.floor(minutes + _SLACK)
        return Fraction(whole, _MINUTES)

    def _temperature(self) -> Fraction | None:
        surface = self._setting.number(SURFACE_TEMPERATURE)
        if surface is not None:
            return surface
        air = self._setting.number(AIR_TEMPERATURE)
        if air is not None:
            self._setting.notes.assume(
                THE_CAR,
                say(
                    "the surface is taken to be as warm as the air, {degrees}",
                    degrees=self._degrees(air),
                ),
                say("measure the temperature of the coldest panel and tell it"),
            )
        return air

    def _degrees(self, temperature: Fraction) -> str:
        return self._setting.amount(temperature, Kind.TEMPERATURE)


def _drying(product: Product) -> Drying:
    if product.handling.drying is None:
        raise ReckoningError(_lacks(product, "drying"))
    return product.handling.drying


def _lacks(product: Product, what: str) -> str:
    return say(
        "{title} has no `{what}` in products.yaml; put in what its data sheet says",
        title=product.title,
        what=what,
    )
