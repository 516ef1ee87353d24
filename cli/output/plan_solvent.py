"""The solvent in a plan's mixes beside the limits of the region: information, never clearance."""

from __future__ import annotations

from cli.output.page import Page
from engine.plan import Plan
from engine.plan.solvent import Solvent, SolventLine
from engine.quantity import Kind, show
from engine.words import say, sentence

_UNIT = "g/L"


SOLVENT_COLUMNS = (
    sentence("Product"),
    sentence("VOC"),
    sentence("Limit"),
    sentence("Beside it"),
)
UNSURE_WHOSE = sentence(
    "Nobody said whose rules hold here (`shop.voc-rules`); a state or district may ask for less."
)
BEHIND_SOLVENT = sentence(
    "Information, never clearance. The figures are those of products.yaml, typical until the "
    "data sheets of the cans in hand are put there, thinner included; `prepwright reckon voc` "
    "works them out of a mix."
)


def write_solvent(page: Page, plan: Plan) -> None:
    """Each mix beside its limit, where the limits come from, and what that does not say."""
    found = plan.solvent
    if found is None:
        return
    page.heading(say("Solvent in the mixes"))
    if found.table is None:
        page.paragraph(held_against_nothing(found))
        return
    page.table([say(each) for each in SOLVENT_COLUMNS], solvent_rows(found))
    page.paragraph(
        say("{title}. Source: {source}.", title=found.table.title, source=found.table.source)
    )
    if found.table.note:
        page.paragraph(found.table.note, dress=page.style.faint)
    if found.unsure:
        page.paragraph(say(UNSURE_WHOSE))
    page.paragraph(say(BEHIND_SOLVENT))


def held_against_nothing(found: Solvent) -> str:
    """Why no limit can be set beside the solvent."""
    return say("Held against no limit: {why}.", why=found.why)


def solvent_rows(found: Solvent) -> list[tuple[str, str, str, str]]:
    """A row for each mix, in the columns of `SOLVENT_COLUMNS`."""
    return [_row(line) for line in found.lines]


def _row(line: SolventLine) -> tuple[str, str, str, str]:
    titles = say(" and ").join(product.title for product in line.products)
    named = titles if len(line.products) == 1 else say("{titles}, averaged", titles=titles)
    voc = "" if line.voc_g_per_L is None else show(line.voc_g_per_L, Kind.DENSITY, _UNIT)
    if line.limit is None:
        return named, voc, "", line.why or ""
    limit = show(line.limit.limit_g_per_L, Kind.DENSITY, _UNIT)
    over = line.over_by_g_per_L
    beside = (
        say("over by {show}", show=show(over, Kind.DENSITY, _UNIT)) if over else say("not over")
    )
    held = f"{line.limit.category}, {line.limit.basis.value}".replace("-", " ")
    return named, voc, f"{limit}, {held}", beside
