"""A small rule set with a fact of every kind, for tests of answers and job files."""

from __future__ import annotations

from fractions import Fraction

from engine.errors import Place
from engine.quantity import Kind
from engine.ruleset.model import (
    About,
    Choice,
    FactKind,
    FactSpec,
    Gathered,
    Leaf,
    Rule,
    Test,
    Then,
)
from engine.ruleset.source import Source, SourceKind
from tests.unit.rules_by_hand import rule_set

HERE = Place("sample.yaml", 1, 1)
COMMON_PRACTICE = Source(SourceKind.COMMON_PRACTICE)


def fact(
    id_: str,
    about: About,
    kind: FactKind,
    quantity: Kind | None = None,
    *,
    choices: tuple[Choice, ...] = (),
    alone: str | None = None,
    plausible: tuple[int, int] | None = None,
    words: tuple[str, ...] = (),
    reckoned: str | None = None,
    otherwise: str | None = None,
    gathered: Gathered | None = None,
) -> FactSpec:
    return FactSpec(
        id_,
        about,
        kind,
        HERE,
        id_.replace(".", " ").capitalize(),
        quantity=quantity,
        choices=choices,
        alone=alone,
        plausible=(Fraction(plausible[0]), Fraction(plausible[1])) if plausible else None,
        words=words,
        reckoned=reckoned,
        otherwise=otherwise,
        gathered=gathered,
    )


SUBSTRATES = (
    Choice("steel", "Steel", ("mild steel",)),
    Choice("galvanised-steel", "Zinc-coated steel", ("galvanized", "zinc")),
    Choice("aluminium", "Aluminium", ("aluminum", "alloy")),
    Choice("plastic", "Plastic"),
)
DEFECTS = (
    Choice("none", "Nothing wrong", ("sound", "ok")),
    Choice("chips", "Stone chips", ("nicks",)),
    Choice("chalking", "Powdery"),
    Choice("fading", "Faded or dull"),
    Choice("peeling", "A layer lets go", ("flaking", "wear and tear")),
    Choice("rust-bubbles", "Rust under the paint"),
)
REGIONS = tuple(Choice(each, each.upper()) for each in ("us", "eu", "uk", "other"))
GAUGES = (Choice("magnetic", "Magnetic"), Choice("eddy-current", "Eddy current"))
LEAD = (Choice("not-done", "Not done"), Choice("negative", "No lead"), Choice("positive", "Lead"))

_SHOP, _CAR, _PANEL = About.SHOP, About.CAR, About.PANEL
_YES_NO, _CHOICE, _LIST = FactKind.YES_NO, FactKind.CHOICE, FactKind.LIST
_QUANTITY = FactKind.QUANTITY


def _leaf(name: str, value: str) -> Leaf:
    return Leaf(name, Test.IS, frozenset((value,)), HERE)


FACTS = (
    fact("shop.air-temperature", _SHOP, _QUANTITY, Kind.TEMPERATURE, plausible=(-40, 60)),
    fact("shop.relative-humidity", _SHOP, _QUANTITY, Kind.PERCENT, plausible=(0, 100)),
    fact("shop.region", _SHOP, _CHOICE, choices=REGIONS),
    fact("shop.spray-booth", _SHOP, _YES_NO),
    fact("shop.name", _SHOP, FactKind.TEXT),
    fact("car.year", _CAR, _QUANTITY, Kind.YEAR, plausible=(1886, 2100)),
    fact("car.washed", _CAR, _YES_NO, words=("cleaned",)),
    fact("car.lead-test", _CAR, _CHOICE, choices=LEAD),
    fact("car.old.colour", _CAR, FactKind.TEXT),
    fact(
        "car.any-galvanised",
        _CAR,
        _YES_NO,
        gathered=Gathered("any", _leaf("substrate", "galvanised-steel")),
    ),
    fact("part", _PANEL, _CHOICE, choices=(Choice("original", "O"), Choice("used", "U"))),
    fact("substrate", _PANEL, _CHOICE, choices=SUBSTRATES, words=("material", "metal")),
    fact("defects", _PANEL, FactKind.SET, choices=DEFECTS, alone="none", words=("damage",)),
    fact("defect-area", _PANEL, _QUANTITY, Kind.PERCENT, plausible=(0, 100)),
    fact("film.gauge", _PANEL, _CHOICE, choices=GAUGES),
    fact("film.readings", _PANEL, _LIST, Kind.THICKNESS, plausible=(0, 2500)),
    fact("filler.readings", _PANEL, _LIST, Kind.DEPTH, plausible=(0, 50_000)),
    fact("dents.small", _PANEL, _QUANTITY, Kind.COUNT, plausible=(0, 1000)),
    fact("area", _PANEL, _QUANTITY, Kind.AREA),
    fact("remarks", _PANEL, FactKind.TEXT),
    fact("film.typical", _PANEL, _QUANTITY, Kind.THICKNESS, reckoned="film.typical"),
    fact("panel.bares-metal", _PANEL, _YES_NO, otherwise="no"),
)

RULE = Rule(
    "bubbles-bare-metal",
    _PANEL,
    "metal",
    _leaf("defects", "rust-bubbles"),
    Then(conclude=(("panel.bares-metal", "yes"),), treatment="strip"),
    "Rust under the paint comes down to metal.",
    COMMON_PRACTICE,
    HERE,
)

RULESET = rule_set(FACTS, (RULE,))


def spec(id_: str) -> FactSpec:
    """The fact named `id_`."""
    return RULESET.facts[id_]
