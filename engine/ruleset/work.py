"""What a rule set says of work: times, amounts, products used, drying, the shop's hours.

Numbers are exact and in the base unit of their kind: hours, litres, grams, square metres, um,
degC. A number that is only roughly known is a `Span`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from fractions import Fraction

from engine.errors import Place
from engine.quantity import Kind
from engine.records import dataclass, field
from engine.ruleset.source import Source


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """From `low` to `high`, both ends included; the ends are equal where a number is known."""

    low: Fraction
    high: Fraction

    def __post_init__(self) -> None:
        if self.low is not self.high and self.low > self.high:
            raise ValueError(f"a span runs from low to high, not from {self.low} to {self.high}")

    @classmethod
    def exactly(cls, amount: Fraction | int) -> Span:
        exact = Fraction(amount)
        return cls(exact, exact)

    @property
    def exact(self) -> bool:
        return self.low == self.high

    def __add__(self, other: Span) -> Span:
        # A plan adds some thousand spans, most of them of one number or of nothing.
        low = self.low + other.low if other.low else self.low
        if self.low is self.high and other.low is other.high:
            return Span(low, low)
        return Span(low, self.high + other.high if other.high else self.high)

    def __mul__(self, other: Span) -> Span:
        """The product of two spans that hold no negative amounts."""
        return Span(self.low * other.low, self.high * other.high)

    def times(self, factor: Fraction | int) -> Span:
        """The span times a factor of 0 or more."""
        low = self.low * factor
        return Span(low, low if self.low is self.high else self.high * factor)

    def __bool__(self) -> bool:
        return self.high != 0


NOTHING = Span.exactly(0)


class Together(StrEnum):
    """Over how much of the car people do one kind of step in one go."""

    PANEL = "panel"
    SIDE = "side"
    CAR = "car"


class Booth(StrEnum):
    """How long a step needs the spray booth."""

    WHILE_WORKING = "while-working"
    UNTIL_DRY = "until-dry"


class Dryness(StrEnum):
    """What a wait ends with."""

    FLASH = "flash"
    HANDLE = "handle"
    SANDABLE = "sandable"
    CURED = "cured"
    BAKED = "baked"


@dataclass(frozen=True, slots=True)
class Rates:
    """How much something takes: once, for each panel, by area, and by counted things.

    `per_m2` is for each square metre, `per_fact` for each one counted by a fact of the panel.
    """

    fixed: Span = NOTHING
    per_panel: Span = NOTHING
    per_m2: Span = NOTHING
    per_fact: tuple[tuple[str, Span], ...] = ()

    @property
    def by_area(self) -> bool:
        return bool(self.per_m2)


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """A wait that a product sets: for whichever of `products` the plan puts on."""

    products: tuple[str, ...]
    until: Dryness


@dataclass(frozen=True, slots=True)
class Grits:
    """Sanding from one grade to another; `sheets` counts discs or sheets of each grade."""

    start: str
    finish: str
    sheets: Rates | None = None


@dataclass(frozen=True, slots=True)
class ProductUse:
    """A product a step puts on or uses up.

    Either `film` (dry, in um; None with `by_system` takes it from the paint system) in `coats`
    wet coats, or `use` in the product's measure. `share` is how much of the panel's area is
    covered, in percent; `share_by_treatment` says it by the panel's treatment, and `share_fact`
    names the fact of the panel that says it where it is known.
    """

    product: str
    place: Place
    film: Fraction | None = None
    by_system: bool = False
    coats: int | None = None
    use: Rates | None = None
    share: Span | None = None
    share_by_treatment: tuple[tuple[str, Span], ...] = ()
    share_fact: str | None = None

    def covers_all(self, treatment: str | None) -> bool:
        """Whether no share of the panel is said, so that all of it is covered."""
        shared = self.share is not None or self.share_fact is not None
        return not shared and treatment not in dict(self.share_by_treatment)

    @property
    def as_film(self) -> bool:
        return self.by_system or self.film is not None


@dataclass(frozen=True, slots=True)
class Recoat:
    """This step falls in the recoat window of what an earlier step put on the same panel."""

    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Within:
    """This step begins at most `time_h` after earlier ones on the same panel."""

    after: tuple[str, ...]
    time_h: Fraction
    otherwise: str | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """How a step is planned; the times people take stand with the shop's labour."""

    needs: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    together: Together = Together.PANEL
    holds: tuple[str, ...] = ()
    releases: tuple[str, ...] = ()
    waits: Span | None = None
    waits_for: WaitsFor | None = None
    grits: Grits | None = None
    products: tuple[ProductUse, ...] = ()
    gear: tuple[str, ...] = ()
    booth: Booth | None = None
    people: int = 1
    same_day: bool = False
    recoat: Recoat | None = None
    within: Within | None = None


@dataclass(frozen=True, slots=True)
class Thinner:
    """What is added for spraying; `of_whole_mix` or else of the first part alone."""

    name: str
    percent: Fraction
    of_whole_mix: bool


@dataclass(frozen=True, slots=True)
class Warmer:
    """How drying quickens: `factor` times for every `per_degC`, inside the limits given."""

    factor: Fraction
    per_degC: Fraction
    lowest_degC: Fraction
    highest_degC: Fraction
    span_degC: Fraction


@dataclass(frozen=True, slots=True)
class Bake:
    """Heat drying: time to warm up, then the hold counted at metal temperature."""

    hold_h: Fraction
    at_degC: Fraction
    ramp_h: Fraction


@dataclass(frozen=True, slots=True)
class Drying:
    """Times of a product at `at_degC`, in h; a window without `closes_h` does not close."""

    at_degC: Fraction
    flash_h: Fraction | None = None
    handle_h: Fraction | None = None
    sandable_h: Fraction | None = None
    cured_h: Fraction | None = None
    opens_h: Fraction | None = None
    closes_h: Fraction | None = None
    once_closed: str | None = None
    warmer: Warmer | None = None
    bake: Bake | None = None


@dataclass(frozen=True, slots=True)
class Price:
    """What `per` of the ready-mixed product costs; `per` in the product's measure."""

    amount: Fraction
    currency: str
    per: Fraction


@dataclass(frozen=True, slots=True)
class Handling:
    """How a product is mixed, applied, dried, bought and paid.

    `measured_by` is the kind its amounts are in. `cans` are the sizes sold, by component; the
    empty name stands for a product bought ready. `size_texts` are the sizes as written.
    """

    measured_by: Kind = Kind.VOLUME
    volume_solids: Fraction | None = None
    parts: Mapping[str, Fraction] = field(default_factory=dict)
    thinner: Thinner | None = None
    density: Fraction | None = None
    voc: Fraction | None = None
    pot_life_h: Fraction | None = None
    drying: Drying | None = None
    cans: Mapping[str, tuple[Fraction, ...]] = field(default_factory=dict)
    size_texts: Mapping[Fraction, str] = field(default_factory=dict)
    price: Price | None = None
    gear: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Gear:
    """Protective gear."""

    id: str
    title: str
    text: str
    source: Source
    place: Place


@dataclass(frozen=True, slots=True)
class OpenTime:
    """One stretch of working time on a day, in minutes after midnight."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Labour:
    """The shop's own people, hours, rate and times for each step.

    `week` holds the stretches of each weekday, Monday first. `example`: the figures are examples
    that the shop has not replaced yet. `otherwise` is the time of a step that has none of its
    own. `rate` is for one person and hour. `prices` are by product and stand over its own price.
    """

    people: int
    booths: int
    week: tuple[tuple[OpenTime, ...], ...]
    closed: frozenset[date]
    times: Mapping[str, Rates]
    example: bool
    source: Source
    place: Place
    otherwise: Rates | None = None
    rate: Fraction | None = None
    currency: str | None = None
    prices: Mapping[str, Price] = field(default_factory=dict)
