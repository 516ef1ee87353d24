"""The page of work: steps in the order of their phases, products, paint systems and gear."""

from __future__ import annotations

from collections.abc import Iterator

from cli.reference.markdown import Page, codes, counted, link, plain
from engine.ruleset import relations
from engine.ruleset.coats import Choices, Coat
from engine.ruleset.model import Product, RuleSet, Step

FILE = "work.md"
_TITLES = ("Steps", "Products", "Paint systems", "Protective gear", "Tables")


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Work", "steps by phase, products, paint systems, protective gear, tables")
    told.paragraph(
        f"{counted(len(ruleset.steps), 'step')}, {counted(len(ruleset.products), 'product')}. "
        "Times are in `labour.yaml`, by the ids of the steps."
    )
    told.items(link(title, title) for title in _TITLES)
    told.heading("Steps")
    told.paragraph("A step of a lower phase always comes before one of a higher.")
    phases: dict[int, list[Step]] = {}
    for step in sorted(ruleset.steps.values(), key=lambda step: step.phase):
        phases.setdefault(step.phase, []).append(step)
    for phase, steps in phases.items():
        told.heading(f"Phase {phase}", 3)
        told.items(item for step in steps for item in _step(ruleset, step))
    told.heading("Products")
    told.items(item for product in ruleset.products.values() for item in _product(product))
    told.heading("Paint systems")
    for system in ruleset.systems.values():
        told.heading(system.id, 3)
        told.paragraph(plain(system.title))
        told.items(
            f"`{way}`: " + ", ".join(map(_coat, coats)) for way, coats in system.coats.items()
        )
    told.heading("Protective gear")
    told.items(
        f"**`{gear.id}`** {plain(gear.title)}: {plain(gear.text)}" for gear in ruleset.gear.values()
    )
    told.heading("Tables")
    told.items(
        f"**`{table.id}`** {plain(table.title)}: columns {codes(table.columns)}. "
        f"Source: {plain(str(table.source))}"
        for table in ruleset.tables.values()
    )
    return told


def _coat(coat: Coat) -> str:
    text = f"{plain(coat.written)} of `{coat.product}`"
    if coat.on:
        text += f" (on {_panels(coat.on)})"
    if coat.off:
        text += f" (not on {'; nor on '.join(map(_panels, coat.off))})"
    return text


def _panels(wanted: Choices) -> str:
    return " and ".join(f"`{fact}` {codes(choices)}" for fact, choices in wanted)


def _step(ruleset: RuleSet, step: Step) -> Iterator[str | tuple[int, str]]:
    yield f"**`{step.id}`** {plain(step.title)}, about the {step.about}: {plain(step.text)}"
    for label, names in (
        ("After", step.work.needs),
        ("Before", step.work.before),
        ("Waits for holds", step.work.holds),
        ("Releases", step.work.releases),
        ("Gear", step.work.gear),
        ("Called for by", relations.rules_giving(ruleset, "step", step.id)),
    ):
        if names:
            yield 1, f"{label}: {codes(names)}"
    yield 1, f"Source: {plain(str(step.source))}"


def _product(product: Product) -> Iterator[str | tuple[int, str]]:
    yield (
        f"**`{product.id}`** {plain(product.title)}, {plain(product.kind)}. "
        f"Source: {plain(str(product.source))}"
    )
