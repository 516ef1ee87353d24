"""How each mix of a plan is made up: its ratio, what a percentage is of, and batch by batch."""

from __future__ import annotations

from fractions import Fraction

from cli.output.page import Page
from cli.output.plan_words import counted, lasting, listed
from engine.plan import Plan, PlannedTask
from engine.plan.materials import Material, ratio_of
from engine.quantity import Kind, show
from engine.reckoning.mixing import Batches, mix_by_parts
from engine.records import dataclass
from engine.ruleset.work import Handling, Span
from engine.words import say, sentence

BEHIND_MIXES = sentence(
    "The ratio on the data sheet of the can in hand comes first, and so does what it means by a "
    "percentage."
)


@dataclass(frozen=True, slots=True)
class Mix:
    """A product that is mixed: its ratio in words, and the tasks that take several batches."""

    title: str
    ratio: str
    batches: tuple[str, ...]


def mixes(plan: Plan) -> tuple[Mix, ...]:
    """Every product of a plan that is mixed, in the order of its materials."""
    return tuple(
        Mix(
            material.product.title,
            ratio_text(material.product.handling),
            tuple(
                _batch(plan, planned, batches, material.product.handling)
                for planned, batches in _batches(plan, material)
            ),
        )
        for material in plan.materials
        if material.product.handling.parts
    )


def write_mixes(page: Page, plan: Plan) -> None:
    """Each product that is mixed, with what goes into a batch where pot life asks for several."""
    found = mixes(plan)
    if not found:
        return
    page.heading(say("Mixes, by volume"))
    for mix in found:
        page.item(f"{mix.title}: {mix.ratio}")
        for batch in mix.batches:
            page.item(batch, marker=">", indent=3)
    page.paragraph(say(BEHIND_MIXES))


def ratio_text(handling: Handling) -> str:
    """The ratio in words: `2 clear, 1 hardener, thinner 10 % of the whole mix (0.3 parts)`."""
    parts = [f"{_number(part)} {name}" for name, part in handling.parts.items()]
    if handling.thinner is not None:
        thinner = handling.thinner
        first = next(iter(handling.parts))
        of = (
            say("of the whole mix before it")
            if thinner.of_whole_mix
            else say("of the {first} alone", first=first)
        )
        each = ratio_of(handling)[thinner.name]
        unit = "part" if each == 1 else "parts"
        share = show(thinner.percent, Kind.PERCENT)
        parts.append(
            say(
                "then {name} {share} {of} ({number} {unit})",
                name=thinner.name,
                share=share,
                of=of,
                number=_number(each),
                unit=unit,
            )
        )
    return ", ".join(parts)


def _batches(plan: Plan, material: Material) -> list[tuple[PlannedTask, Batches]]:
    product = material.product.id
    found = [
        (planned, planned.batches[product]) for planned in plan.tasks if product in planned.batches
    ]
    # A single batch is the amount that stands beside its task.
    return [(planned, batches) for planned, batches in found if batches.count > 1]


def _batch(plan: Plan, planned: PlannedTask, batches: Batches, handling: Handling) -> str:
    volume = batches.volume_each_L
    into = listed(
        f"{plan.setting.amount(litres, Kind.VOLUME)} {name}"
        for name, litres in mix_by_parts(volume, ratio_of(handling)).items()
    )
    assert handling.pot_life_h is not None
    pot_life = lasting(Span.exactly(handling.pot_life_h))
    within = lasting(Span.exactly(batches.hours_each))
    many = say("{count} of up to", count=counted(batches.count, "batch", "batches"))
    return say(
        "task {number}: {many} {amount}, each {into}; sprayed out in "
        "{within} of a pot life of {pot_life}",
        number=planned.number,
        many=many,
        amount=plan.setting.amount(volume, Kind.VOLUME),
        into=into,
        within=within,
        pot_life=pot_life,
    )


def _number(parts: Fraction) -> str:
    return show(parts, Kind.NUMBER)
