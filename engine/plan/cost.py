"""What a plan costs by the shop's own rate and prices; what has no price is named, never free."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from engine.plan.hours import HoursInAll
from engine.plan.materials import Material
from engine.plan.notes import Notes
from engine.quantity import Kind, show
from engine.records import dataclass
from engine.ruleset.model import Product
from engine.ruleset.work import NOTHING, Labour, Price, Span
from engine.words import counted, say, sentence

LABOUR = "labour"


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line: `amount` in `currency`, or None and why there is no amount."""

    what: str
    title: str
    amount: Span | None
    currency: str | None
    why: str | None = None


@dataclass(frozen=True, slots=True)
class Cost:
    """All lines; `total` is over those that have an amount, None where currencies differ."""

    lines: tuple[CostLine, ...]
    total: Span | None
    currency: str | None

    @property
    def not_priced(self) -> tuple[CostLine, ...]:
        """Lines whose cost is not, or not wholly, in the total."""
        return tuple(line for line in self.lines if line.why is not None)


def cost(
    hours: HoursInAll, labour: Labour | None, materials: Iterable[Material], notes: Notes
) -> Cost:
    """The cost of hours and materials."""
    lines = (
        _labour(hours, labour),
        *(_material(material, price_of(material.product, labour)) for material in materials),
    )
    currencies = sorted({line.currency for line in lines if line.currency is not None})
    if len(currencies) > 1:
        notes.lack(
            sentence("cost"),
            sentence("total"),
            say(
                "rate and prices are in {currencies}; give all of them in one currency",
                currencies=say(" and ").join(currencies),
            ),
        )
        return Cost(lines, None, None)
    total = NOTHING
    for line in lines:
        total += line.amount or NOTHING
    return Cost(lines, total if currencies else None, currencies[0] if currencies else None)


def money_text(amount: Span, currency: str) -> str:
    """Money in words, in whole cents: `$12.50 to $14`."""
    low, high = (show(_cents(each), Kind.MONEY, currency) for each in (amount.low, amount.high))
    return low if low == high else say("{low} to {high}", low=low, high=high)


def _cents(amount: Fraction) -> Fraction:
    """Rounded to whole cents, half up, for reading."""
    return Fraction((amount * 200 + 1) // 2, 100)


def _labour(hours: HoursInAll, labour: Labour | None) -> CostLine:
    if labour is None or labour.rate is None:
        return CostLine(LABOUR, say("Labour"), None, None, say("labour.yaml gives no rate"))
    left_out = len(hours.left_out)
    tasks = counted(left_out, "task")
    untimed = say("without {tasks} whose time is open", tasks=tasks) if left_out else None
    amount = hours.person_hours.times(labour.rate)
    return CostLine(LABOUR, say("Labour"), amount, labour.currency, untimed)


def price_of(product: Product, labour: Labour | None) -> Price | None:
    """What a product costs: as the shop's labour.yaml says, else as the product itself does."""
    in_labour = labour.prices.get(product.id) if labour else None
    return in_labour or product.handling.price


def _material(material: Material, price: Price | None) -> CostLine:
    product = material.product
    if price is None:
        why = say("no price in labour.yaml")
        return CostLine(product.id, product.title, None, None, why)
    if material.not_reckoned and not material.amount:
        return CostLine(product.id, product.title, None, None, say("its amount is open"))
    open_part = say("without the tasks whose amount is open") if material.not_reckoned else None
    amount = material.amount.times(price.amount / price.per)
    return CostLine(product.id, product.title, amount, price.currency, open_part)
