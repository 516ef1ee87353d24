"""A product of the rule set: its figures, its price, and what of the work uses it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from engine.decision import source_json
from engine.plan.cost import price_of
from engine.quantity import Kind, show
from engine.ruleset import relations
from engine.ruleset.model import Product, RuleSet
from engine.ruleset.shop_model import ShopChange
from engine.ruleset.work import Price


def figures(product: Product) -> Iterator[str]:
    """What is said of how a product is mixed, dries and is bought, a line each."""
    handling = product.handling
    if handling.volume_solids is not None:
        yield f"volume solids: {show(handling.volume_solids, Kind.PERCENT)}"
    if handling.parts:
        yield "mixed of " + ", ".join(
            f"{show(share, Kind.NUMBER)} {part}" for part, share in handling.parts.items()
        )
    if handling.thinner is not None:
        of = "the whole mix" if handling.thinner.of_whole_mix else "the first part"
        percent = show(handling.thinner.percent, Kind.PERCENT)
        yield f"thinned: {percent} {handling.thinner.name} of {of}"
    if handling.voc is not None:
        yield f"VOC: {show(handling.voc, Kind.DENSITY)}"
    if handling.pot_life_h is not None:
        yield f"pot life: {show(handling.pot_life_h, Kind.TIME)}"
    for part, sizes in handling.cans.items():
        sold = ", ".join(handling.size_texts[size] for size in sizes)
        yield f"sold in {sold}" + (f" ({part})" if part else "")


def price_text(ruleset: RuleSet, product: Product) -> str | None:
    """What the shop pays, as `48 USD for 1 L`; None where no price is given."""
    price = price_of(product, ruleset.labour)
    return None if price is None else _written(price, product)


def product_json(ruleset: RuleSet, product: Product) -> dict[str, Any]:
    return {
        "kind": "product",
        "name": product.id,
        "title": product.title,
        "serves_as": product.kind,
        "figures": list(figures(product)),
        "price": price_text(ruleset, product),
        "steps": list(relations.steps_using(ruleset, product.id)),
        "systems": list(relations.systems_with(ruleset, product.id)),
        "source": source_json(product.source),
        "shop": shop_json(relations.shop_change(ruleset, "product", product.id)),
        "place": str(product.place),
    }


def shop_json(change: ShopChange | None) -> dict[str, Any] | None:
    if change is None:
        return None
    return {
        "by": change.by,
        "on": change.on,
        "why": change.why,
        "replaces": change.replaces,
        "supplied": change.supplied,
    }


def _written(price: Price, product: Product) -> str:
    money = show(price.amount, Kind.MONEY, price.currency)
    return f"{money} for {show(price.per, product.handling.measured_by)}"
