"""What a rule set is once it is read: facts, limits, rules, outcomes, steps, products, cases.

Everything here is frozen and knows its place in the files. Numbers are `Fraction`s in the base
unit of their dimension (see `engine.quantity`).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction

from engine.errors import Place
from engine.quantity import Kind
from engine.records import dataclass, field
from engine.ruleset.coats import PaintSystem
from engine.ruleset.shop_model import Reviewed, Shop, ShopChange
from engine.ruleset.source import Source
from engine.ruleset.vocabulary import Vocabulary
from engine.ruleset.work import Gear, Handling, Labour, Work
from engine.words import Tongue


class About(StrEnum):
    """Whom a fact or a rule is about."""

    SHOP = "shop"
    CAR = "car"
    PANEL = "panel"


class FactKind(StrEnum):
    """How the value of a fact is written; quantities take their `Kind` beside it."""

    YES_NO = "yes-no"
    CHOICE = "choice"
    SET = "set"
    QUANTITY = "quantity"
    LIST = "list"
    TEXT = "text"


class Effort(StrEnum):
    """What it takes to learn a fact, least first."""

    LOOK = "look"
    GAUGE = "gauge"
    TEST = "test"
    DESTRUCTIVE = "destructive"


@dataclass(frozen=True, slots=True)
class Limit:
    """A named number that rules and reckonings compare with."""

    id: str
    kind: Kind
    amount: Fraction
    written: str
    unit: str
    source: Source
    place: Place
    note: str | None = None
    shop: ShopChange | None = None


# --- conditions -------------------------------------------------------------------------------


class Test(StrEnum):
    """The tests a condition can make on one fact."""

    IS = "is"
    ABOVE = "above"
    AT_LEAST = "at-least"
    BELOW = "below"
    AT_MOST = "at-most"
    INCLUDES = "includes"
    KNOWN = "known"


@dataclass(frozen=True, slots=True)
class Leaf:
    """One test on one fact.

    `operand` is a frozenset of choices for IS and INCLUDES (any one of them is enough), a number
    in the base unit for the comparisons, "yes" or "no" for KNOWN. IS on a number holds a frozenset
    of numbers. `limit` names the limit the operand came from.
    """

    fact: str
    test: Test
    operand: frozenset[str] | frozenset[Fraction] | Fraction | str
    place: Place
    limit: str | None = None


@dataclass(frozen=True, slots=True)
class All:
    parts: tuple[Condition, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Any:
    parts: tuple[Condition, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Not:
    part: Condition
    place: Place


Condition = Leaf | All | Any | Not


# --- facts ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Choice:
    """One value a choice or a set can take; `also` are words people use for it."""

    id: str
    text: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Gathered:
    """A yes-no fact of the car: whether any, or every, panel meets a condition."""

    quantifier: str
    condition: Condition


@dataclass(frozen=True, slots=True)
class Refusal:
    """When a given value cannot be taken at all, and the reason shown."""

    when: Condition
    because: str


@dataclass(frozen=True, slots=True)
class FactSpec:
    """What can be known of a shop, a car or a panel.

    Exactly one of three ways leads to a value: it is told (the default), `reckoned` by the named
    reckoner, or `concluded` by rules with `otherwise` where none fires; `gathered` is the fourth
    for facts of the car.

    `ask_when`: the fact applies only where this holds; elsewhere an untold fact is "not
    applicable" and every test on it is false. `assume`: the value taken where nothing is told.
    `not_yet`: choices that mean "not known yet". `asked`: False for facts that are taken when
    told but never asked for. `alongside`: facts worth asking in the same breath.
    """

    id: str
    about: About
    kind: FactKind
    place: Place
    title: str
    quantity: Kind | None = None
    choices: tuple[Choice, ...] = ()
    alone: str | None = None
    effort: Effort = Effort.LOOK
    ask: str | None = None
    how: tuple[str, ...] = ()
    plausible: tuple[Fraction, Fraction] | None = None
    ask_when: Condition | None = None
    assume: str | None = None
    not_yet: frozenset[str] = frozenset()
    asked: bool = True
    hazard: bool = False
    alongside: tuple[str, ...] = ()
    refusal: Refusal | None = None
    words: tuple[str, ...] = ()
    reckoned: str | None = None
    otherwise: str | None = None
    gathered: Gathered | None = None

    @property
    def told(self) -> bool:
        """Whether the value comes from a person or an instrument."""
        return self.reckoned is None and self.otherwise is None and self.gathered is None

    @property
    def choice_ids(self) -> tuple[str, ...]:
        """What the fact can be; for a yes-no fact `no` comes first, so that `yes` outweighs it."""
        if self.kind is FactKind.YES_NO:
            return ("no", "yes")
        return tuple(choice.id for choice in self.choices)


# --- rules and outcomes -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Then:
    """What a rule does when it fires."""

    conclude: tuple[tuple[str, str], ...] = ()
    treatment: str | None = None
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule; with `applies_while_open` its holds and cautions stand until ruled out."""

    id: str
    about: About
    topic: str
    when: Condition
    then: Then
    because: str
    source: Source
    place: Place
    beats: tuple[str, ...] = ()
    beats_all: bool = False
    applies_while_open: bool = False
    note: str | None = None
    shop: ShopChange | None = None


@dataclass(frozen=True, slots=True)
class Treatment:
    """How far down a panel is taken; `depth` counts from the lightest.

    `coats` names which coats of the paint system follow, where any do.
    """

    id: str
    title: str
    text: str
    depth: int
    coats: str | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class HoldTopic:
    """A point that is not passed without a recorded measurement or a signature.

    `blocks` are steps that wait for it, `from_phase` the phase from which all do; with neither,
    everything waits that does not release it.
    """

    id: str
    title: str
    release: str
    source: Source
    place: Place
    blocks: tuple[str, ...] = ()
    from_phase: int | None = None


@dataclass(frozen=True, slots=True)
class Caution:
    id: str
    title: str
    text: str
    source: Source
    place: Place


@dataclass(frozen=True, slots=True)
class Step:
    """One piece of work. A lower phase comes first; within one, `work` says what does."""

    id: str
    about: About
    title: str
    text: str
    phase: int
    source: Source
    place: Place
    work: Work = field(default_factory=Work)


@dataclass(frozen=True, slots=True)
class Product:
    id: str
    title: str
    kind: str
    source: Source
    place: Place
    handling: Handling = field(default_factory=Handling)


@dataclass(frozen=True, slots=True)
class Table:
    """A table of numbers a reckoning reads; rows in file order."""

    id: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    source: Source
    place: Place
    note: str | None = None


@dataclass(frozen=True, slots=True)
class CaseSpec:
    """A worked case: facts in, expected outcomes out. Facts stay as written until it is run.

    `beside` holds the facts of the other panels of the vehicle, one mapping a panel.
    """

    id: str
    place: Place
    file: str
    shop: Mapping[str, object]
    car: Mapping[str, object]
    panel: Mapping[str, object]
    fires: tuple[str, ...]
    quiet: tuple[str, ...]
    open: tuple[str, ...]
    expect: Mapping[str, object]
    beside: tuple[Mapping[str, object], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class RuleSet:
    """A whole rule set, linked: every name in it points at something that is there.

    Two rule sets are the same when their digests are; the objects compare by identity. One whose
    texts are in another language speaks a `tongue` and knows its English `original`.
    """

    name: str
    version: str
    title: str
    digest: str
    facts: Mapping[str, FactSpec]
    limits: Mapping[str, Limit]
    rules: Mapping[str, Rule]
    treatments: Mapping[str, Treatment]
    holds: Mapping[str, HoldTopic]
    cautions: Mapping[str, Caution]
    standing_caution: str
    steps: Mapping[str, Step]
    products: Mapping[str, Product]
    systems: Mapping[str, PaintSystem]
    tables: Mapping[str, Table]
    shown_units: Mapping[str, Mapping[Kind, str]]
    shown_by_default: str
    cases: tuple[CaseSpec, ...] = ()
    gear: Mapping[str, Gear] = field(default_factory=dict)
    labour: Labour | None = None
    reviewed: tuple[Reviewed, ...] = ()
    shop: Shop | None = None
    vocabulary: Vocabulary = field(default_factory=Vocabulary)
    tongue: Tongue | None = None
    original: RuleSet | None = None
