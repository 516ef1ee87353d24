"""What a plan takes and what it leaves open: materials, hours, cost, assumptions, conflicts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cli.output.page import Page
from cli.output.plan_words import amount, counted, in_all, labouring, lasting, listed
from engine.plan import Plan
from engine.plan.cost import money_text
from engine.plan.materials import Material, Part
from engine.quantity import Kind
from engine.ruleset.work import NOTHING, Handling, Span
from engine.words import say

# So many kinds of work are named as those that take most of the time.
_FOREMOST = 5
# More products than this without a price are counted, where they are all there are.
_MANY = 5


def write_materials(page: Page, plan: Plan) -> None:
    """Products with the cans to buy, then abrasives by grade."""
    if not plan.materials and not plan.abrasives:
        return
    page.heading(say("Materials"))
    # Row by row nothing names the last column.
    buy = "" if page.draws_tables else "Buy "
    rows = [
        (
            material.product.title,
            much_text(plan, material),
            f"{buy}{cans}" if (cans := "; ".join(can_texts(plan, material))) else "",
        )
        for material in plan.materials
    ]
    rows += [
        (
            say("Abrasive {grade}", grade=abrasive.grade),
            say("sheets not counted")
            if abrasive.sheets is None
            else say("{amount} sheets", amount=amount(plan, abrasive.sheets, Kind.NUMBER)),
            "",
        )
        for abrasive in plan.abrasives
    ]
    page.table((say("Product"), say("Needed"), say("To buy")), rows)


def much_text(plan: Plan, material: Material) -> str:
    """How much of a product the plan takes, with what is not in it."""
    left_out = counted(len(material.not_reckoned), "task")
    if material.not_reckoned and not material.amount:
        return say("amount open")
    text = amount(plan, material.amount, material.product.handling.measured_by)
    return (
        say("{text}, without {left_out} whose amount is open", text=text, left_out=left_out)
        if material.not_reckoned
        else text
    )


def can_texts(plan: Plan, material: Material) -> Iterator[str]:
    """The cans to buy, part by part."""
    handling = material.product.handling
    for part in material.parts:
        text = _part(plan, part, handling)
        if text:
            yield f"{part.name} {text}" if part.name else text


def _part(plan: Plan, part: Part, handling: Handling) -> str:
    if part.cans is None:
        # One nameless part is the product itself, whose amount stands beside.
        return amount(plan, part.amount, handling.measured_by) if part.name else ""
    kind, texts = handling.measured_by, handling.size_texts
    return " + ".join(
        f"{count} x {texts.get(size) or plan.setting.amount(size, kind)}"
        for size, count in part.cans.counts.items()
        if count
    )


def write_hours(page: Page, plan: Plan) -> None:
    """The hours of everybody, and how long work waits."""
    hours = plan.hours
    page.heading(say("Hours"))
    page.paragraph(say("In all {in_all}.", in_all=in_all(plan)))
    page.item(say("Hands on: {labouring}", labouring=labouring(hours.hands_on)))
    for title, span in _foremost(plan):
        page.item(f"{title}: {labouring(span)}", ">", indent=3)
    if hours.standing_by:
        page.item(
            say("Standing by between coats: {labouring}", labouring=labouring(hours.standing_by))
        )
    if hours.waiting:
        page.item(
            say("Waiting, added up over all tasks: {lasting}", lasting=lasting(hours.waiting))
        )
    page.item(
        say("Hours to be paid, everybody's: {labouring}", labouring=labouring(hours.person_hours))
    )
    if plan.labour is not None and plan.labour.example:
        page.paragraph(
            say("These are example times, not the shop's own: see the assumptions."),
            dress=page.style.warning,
        )


def _foremost(plan: Plan) -> list[tuple[str, Span]]:
    """The kinds of work with the most time hands on, where there are more kinds than are named."""
    by_step: dict[str, tuple[str, Span]] = {}
    for planned in plan.tasks:
        hands_on = planned.times.hands_on
        if hands_on:
            title, span = by_step.get(planned.task.step.id, (planned.task.step.title, NOTHING))
            by_step[planned.task.step.id] = title, span + hands_on
    if len(by_step) <= _FOREMOST:
        return []
    return sorted(by_step.values(), key=lambda each: (-each[1].high, each[0]))[:_FOREMOST]


def write_cost(page: Page, plan: Plan) -> None:
    """What has a price, and plainly what has none."""
    cost = plan.cost
    page.heading(say("Cost"))
    for line in cost.lines:
        if line.amount is not None and line.currency is not None:
            but = f" ({line.why})" if line.why else ""
            page.item(f"{line.title}: {money_text(line.amount, line.currency)}{but}")
    unpriced: dict[str, list[str]] = {}
    for line in cost.lines:
        if line.amount is None:
            unpriced.setdefault(line.why or say("no price"), []).append(line.title)
    for why, titles in unpriced.items():
        named = unpriced_titles(plan, titles)
        page.item(say("{named}: not priced, {why}", named=named, why=why))
    if cost.total is not None and cost.currency is not None:
        partly = say(", without what is not priced") if cost.not_priced else ""
        page.paragraph(
            say(
                "Total: {money_text}{partly}.",
                money_text=money_text(cost.total, cost.currency),
                partly=partly,
            )
        )
    elif all(line.amount is None for line in cost.lines):
        page.paragraph(say("Nothing here has a price, so there is no total."))
    else:
        page.paragraph(say("There is no total over several currencies."))


def unpriced_titles(plan: Plan, titles: list[str]) -> str:
    """What has no price for one reason; products are counted where they are all there are."""
    every = len(titles) == len(plan.materials) > _MANY
    return say("All {titles} products", titles=len(titles)) if every else listed(titles)


def write_notes(page: Page, plan: Plan) -> None:
    """Conflicts first, then what is missing, then what was assumed; alike ones together."""
    _write(page, plan, say("Conflicts"), ((each.text, "", each.about) for each in plan.conflicts))
    _write(
        page,
        plan,
        say("Missing"),
        ((say(each.what), each.why, each.about) for each in plan.missing),
    )
    _write(
        page,
        plan,
        say("Assumed"),
        ((each.text, each.settle, each.about) for each in plan.assumptions),
    )


def _write(page: Page, plan: Plan, heading: str, notes: Iterable[tuple[str, str, str]]) -> None:
    together: dict[tuple[str, str], list[str]] = {}
    for text, settle, about in notes:
        together.setdefault((text, settle), []).append(about)
    if not together:
        return
    page.heading(heading)
    for (text, settle), abouts in together.items():
        page.item(f"{_about(plan, abouts)}: {text}")
        if settle:
            page.paragraph(_sentence(settle), indent=3)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _about(plan: Plan, about: list[str]) -> str:
    panels = plan.setting.decision.panels
    if all(each in panels for each in about):
        return plan.setting.called(about)
    return listed(map(say, about))
