"""What goes onto the car and what is used up: by step, mixed, in cans.

A film becomes litres by volume solids, thinner, transfer efficiency and what stays in the cup;
litres become parts by the mixing ratio, and parts whole cans by the sizes sold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache

from engine.errors import ReckoningError
from engine.plan.amounts import over_panels
from engine.plan.merge import Task
from engine.plan.setting import Setting, limit_of
from engine.quantity import Kind
from engine.reckoning.abrasives import (
    Grades,
    RatioRule,
    StepRule,
    grades_from_tables,
    number_rule_from_table,
    parse_grade,
    planned_by_numbers,
    sequence,
)
from engine.reckoning.cans import Cans, cans_for
from engine.reckoning.coverage import (
    EfficiencyBand,
    efficiency_bands_from_table,
    efficiency_for_area,
    practical_litres,
)
from engine.reckoning.mixing import Batches, PercentOf, add_percent, mix_by_parts, pot_life_batches
from engine.records import dataclass
from engine.ruleset.model import Product, RuleSet
from engine.ruleset.work import NOTHING, Grits, Handling, ProductUse, Span
from engine.words import say, sentence, within

EFFICIENCY = "coverage.transfer-efficiency"
OTHER_LOSS = "coverage.other-loss"
USABLE_POT_LIFE = "mixing.usable-pot-life"
STEP_RATIO = "abrasives.step-ratio"
NUMBER_RULE = "abrasives.number-rule"
P_GRADES = "abrasives.p-grades"
CAMI_GRADES = "abrasives.cami-grades"


@dataclass(frozen=True, slots=True)
class Used:
    """One product in one task; `amount` in the product's measure, None where not reckoned."""

    product: Product
    task: Task
    use: ProductUse
    amount: Span | None


@dataclass(frozen=True, slots=True)
class Part:
    """One component of a mix: how much of it, and the cans that cover the most of it."""

    name: str
    amount: Span
    cans: Cans | None


@dataclass(frozen=True, slots=True)
class Material:
    """One product over the whole plan, in its measure.

    `not_reckoned` names the tasks whose amount is not in the sum.
    """

    product: Product
    amount: Span
    parts: tuple[Part, ...]
    tasks: tuple[str, ...]
    not_reckoned: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Abrasive:
    """One grade over the whole plan; `sheets` None where no step says how many it takes."""

    grade: str
    sheets: Span | None
    tasks: tuple[str, ...]


class Materials:
    """Reckons materials for one job."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._bands: tuple[EfficiencyBand, ...] | None = None
        self._sequences: dict[Grits, tuple[str, ...]] = {}

    # --- one task -----------------------------------------------------------------------------

    def used(self, task: Task) -> tuple[Used, ...]:
        """The products of a task; an amount that cannot be reckoned is noted and left open."""
        return tuple(self._used(task, use) for use in task.step.work.products)

    def _used(self, task: Task, use: ProductUse) -> Used:
        product = self._setting.ruleset.products[use.product]
        try:
            amount = self._amount(task, use, product)
        except ReckoningError as error:
            self._lack(task, product.title, error.format_message())
            amount = None
        return Used(product, task, use, amount)

    def _amount(self, task: Task, use: ProductUse, product: Product) -> Span:
        if not use.as_film:
            assert use.use is not None
            return over_panels(use.use, self._setting.counted(task.panels), self._setting)
        if not task.panels:
            raise ReckoningError(say("a film goes onto panels, and this step is about the car"))
        total = NOTHING
        for panel in task.panels:
            total += self._litres(panel, use, product)
        return total

    def _litres(self, panel: str, use: ProductUse, product: Product) -> Span:
        film = use.film if use.film is not None else self._setting.system_film(product.id, panel)
        solids = _solids_as_sprayed(product)
        loss = self._setting.limit(OTHER_LOSS)
        covered = self._covered(panel, use)
        litres = [
            practical_litres(
                area,
                film,
                volume_solids_percent=solids,
                transfer_efficiency_percent=efficiency,
                other_loss_percent=loss,
            )
            for area, efficiency in self._efficiencies(covered)
        ]
        least = min(litres, default=Fraction(0)) if covered.low else Fraction(0)
        return Span(least, max(litres, default=Fraction(0)))

    def _covered(self, panel: str, use: ProductUse) -> Span:
        area = self._setting.area(panel)
        if area is None:
            raise ReckoningError(
                say("the area of {panel} is not known; measure and tell it", panel=panel)
            )
        return area * self._share(panel, use).times(Fraction(1, 100))

    def _share(self, panel: str, use: ProductUse) -> Span:
        """How much of the panel is covered, in percent."""
        told = self._setting.number(use.share_fact, panel) if use.share_fact else None
        if told is not None:
            return Span.exactly(told)
        treatment = self._setting.decision.panels[panel].treatment
        counted = (coat.product for coat in self._setting.coats_on(panel))
        if use.share_by_treatment and use.product in counted:
            return Span.exactly(100)
        share = dict(use.share_by_treatment).get(treatment or "", use.share)
        if share is None and use.share_fact:
            title = within(self._setting.ruleset.facts[use.share_fact].title)
            raise ReckoningError(
                say("{title} on {panel}: not known; estimate and tell it", title=title, panel=panel)
            )
        if share is None:
            return Span.exactly(100)
        product = self._setting.ruleset.products[use.product]
        self._setting.notes.assume(
            panel,
            say(
                "{title} on {text} of the panel",
                title=product.title,
                text=self._setting.text(share, Kind.PERCENT),
            ),
            say("see how much is bare once it is prepared"),
        )
        return share

    def _efficiencies(self, covered: Span) -> Iterator[tuple[Fraction, Fraction]]:
        """The ends of the area in every band of transfer efficiency it reaches into.

        Efficiency jumps up from band to band, so the most paint can go on at the top of a lower
        band and the least just above it.
        """
        if not covered:
            return
        bands = self._bands_of_efficiency()
        efficiency_for_area(covered.high, table=bands)  # refuses a table that is out of order
        start = Fraction(0)
        for band in bands:
            end = covered.high if band.up_to_m2 is None else Fraction(band.up_to_m2)
            low, high = max(covered.low, start), min(covered.high, end)
            if start < high and low <= high:
                yield from ((area, Fraction(band.percent)) for area in (low, high) if area)
            start = end

    def _bands_of_efficiency(self) -> tuple[EfficiencyBand, ...]:
        if self._bands is None:
            self._bands = _efficiency_bands(self._setting.ruleset)
        return self._bands

    # --- the whole plan -----------------------------------------------------------------------

    def together(self, used: Sequence[Used]) -> tuple[Material, ...]:
        """Each product once, in the order in which it is first needed."""
        by_product: dict[str, list[Used]] = {}
        for each in used:
            by_product.setdefault(each.product.id, []).append(each)
        return tuple(self._material(uses) for uses in by_product.values())

    def _material(self, uses: list[Used]) -> Material:
        product = uses[0].product
        amount = NOTHING
        for each in uses:
            amount += each.amount or NOTHING
        return Material(
            product=product,
            amount=amount,
            parts=self._parts(product, amount),
            tasks=tuple(dict.fromkeys(each.task.key for each in uses)),
            not_reckoned=tuple(
                dict.fromkeys(each.task.key for each in uses if each.amount is None)
            ),
        )

    def _parts(self, product: Product, amount: Span) -> tuple[Part, ...]:
        if not amount:
            return ()
        ratio = ratio_of(product.handling)
        low = (
            mix_by_parts(amount.low, ratio) if amount.low else {name: Fraction(0) for name in ratio}
        )
        high = mix_by_parts(amount.high, ratio)
        return tuple(
            Part(name, Span(low[name], high[name]), self._cans(product, name, high[name]))
            for name in ratio
        )

    def _cans(self, product: Product, part: str, need: Fraction) -> Cans | None:
        sizes = product.handling.cans.get(part)
        if not sizes or not need:
            return None
        try:
            # Rounded up to a millionth: exact needs have no common measure with can sizes.
            return cans_for(_rounded_up(need), can_sizes_L=sizes)
        except ReckoningError as error:
            self._setting.notes.lack(product.title, sentence("cans"), error.format_message())
            return None

    def batches(self, used: Used, attended_h: Span | None) -> Batches | None:
        """The batches a mix is made up in so that each is sprayed inside its pot life."""
        pot_life = used.product.handling.pot_life_h
        if pot_life is None or not used.amount or not attended_h:
            return None
        try:
            return pot_life_batches(
                used.amount.high,
                pot_life_h=pot_life,
                usable_percent=self._setting.limit(USABLE_POT_LIFE),
                application_rate_L_per_h=used.amount.high / attended_h.high,
            )
        except ReckoningError as error:
            self._lack(
                used.task,
                say("batches of {title}", title=used.product.title),
                error.format_message(),
            )
            return None

    # --- abrasives ----------------------------------------------------------------------------

    def grits(self, task: Task) -> tuple[str, ...]:
        """The grades of a task from coarse to fine; none where it names none or cannot step."""
        grits = task.step.work.grits
        if grits is None:
            return ()
        if grits not in self._sequences:
            try:
                self._sequences[grits] = _sequence(self._setting.ruleset, grits)
            except ReckoningError as error:
                self._lack(task, sentence("grades"), error.format_message())
                return ()
        return self._sequences[grits]

    def abrasives(self, graded: Iterable[tuple[Task, tuple[str, ...]]]) -> tuple[Abrasive, ...]:
        """Each grade once, coarse first, with the sheets of all tasks that say how many."""
        sheets: dict[str, Span | None] = {}
        tasks: dict[str, list[str]] = {}
        for task, grades in graded:
            each = self._sheets(task)
            for grade in grades:
                tasks.setdefault(grade, []).append(task.key)
                before = sheets.get(grade)
                sheets[grade] = each + before if each and before else each or before
        coarse_first = sorted(tasks, key=lambda grade: (parse_grade(grade).number, grade))
        return tuple(
            Abrasive(grade, sheets[grade], tuple(dict.fromkeys(tasks[grade])))
            for grade in coarse_first
        )

    def _sheets(self, task: Task) -> Span | None:
        grits = task.step.work.grits
        if grits is None or grits.sheets is None:
            return None
        try:
            return over_panels(grits.sheets, task.panels, self._setting)
        except ReckoningError as error:
            self._lack(task, sentence("sheets"), error.format_message())
            return None

    def _lack(self, task: Task, what: str, why: str) -> None:
        self._setting.notes.lack(self._setting.work(task.step.title, task.panels), what, why)


# The same for every job of a rule set, of which there may be many thousand.
@lru_cache(maxsize=16)
def _efficiency_bands(ruleset: RuleSet) -> tuple[EfficiencyBand, ...]:
    table = ruleset.tables.get(EFFICIENCY)
    if table is None:
        raise ReckoningError(
            say("the rule set has no table `{efficiency}`; add it", efficiency=EFFICIENCY)
        )
    return efficiency_bands_from_table(table)


@lru_cache(maxsize=512)
def _sequence(ruleset: RuleSet, grits: Grits) -> tuple[str, ...]:
    found = sequence(
        parse_grade(grits.start),
        parse_grade(grits.finish),
        _grade_tables(ruleset),
        rule=_step_rule(ruleset),
    )
    return tuple(str(grade) for grade in found)


def _step_rule(ruleset: RuleSet) -> StepRule:
    numbers = ruleset.tables.get(NUMBER_RULE)
    if numbers is not None and planned_by_numbers(numbers):
        return number_rule_from_table(numbers)
    return RatioRule(limit_of(ruleset, STEP_RATIO))


@lru_cache(maxsize=16)
def _grade_tables(ruleset: RuleSet) -> Grades:
    if P_GRADES not in ruleset.tables:
        raise ReckoningError(
            say("the rule set has no table `{p_grades}`; add it", p_grades=P_GRADES)
        )
    return grades_from_tables(ruleset.tables[P_GRADES], ruleset.tables.get(CAMI_GRADES))


def ratio_of(handling: Handling) -> Mapping[str, Fraction]:
    """The mixing ratio with thinner; one nameless part where the product is ready as bought."""
    if not handling.parts:
        return {"": Fraction(1)}
    if handling.thinner is None:
        return handling.parts
    of = PercentOf.WHOLE_MIX if handling.thinner.of_whole_mix else PercentOf.FIRST_PART
    return add_percent(
        handling.parts, name=handling.thinner.name, percent=handling.thinner.percent, of=of
    )


def _solids_as_sprayed(product: Product) -> Fraction:
    """Volume solids in percent once the thinner is in."""
    handling = product.handling
    if handling.volume_solids is None:
        raise ReckoningError(
            say(
                "{title} has no `volume-solids` in products.yaml; put in what its "
                "data sheet says (solids by weight are another number)",
                title=product.title,
            )
        )
    if not handling.parts:
        return handling.volume_solids
    unthinned = sum(handling.parts.values())
    return handling.volume_solids * unthinned / sum(ratio_of(handling).values())


def _rounded_up(amount: Fraction) -> Fraction:
    return Fraction(-(-amount * 10**6 // 1), 10**6)
