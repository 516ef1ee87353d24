"""What was understood of a file of readings, as text: before any of it is taken."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from cli.output.page import Page
from cli.output.style import Style
from engine.quantity import Kind, show
from engine.readings import READINGS, PanelReadings, Understood
from engine.ruleset.model import RuleSet

_MOST = 20


def readings_text(understood: Understood, ruleset: RuleSet, style: Style) -> str:
    """The page on which a person sees what would be taken, and what would not."""
    page = Page(style)
    page.heading(f"{understood.file}: what was understood")
    decimal = "point" if understood.decimal == "." else "comma"
    page.item(f"Layout: {understood.layout or 'not known'}")
    page.item(f"Text: {understood.encoding}; cells: {understood.separator}; decimal {decimal}")
    page.item(f"Unit: {', '.join(understood.units) or 'not known'}")
    for name, what in understood.about.items():
        if name != "unit":
            page.item(f"{name.capitalize()}: {what}")
    page.blank()
    unit = understood.units[0] if len(understood.units) == 1 else None
    kind = ruleset.facts[READINGS].quantity or Kind.NUMBER
    rows = [_row(part, kind, unit) for part in understood.panels]
    page.table(("In the file", "Panel", "Match", "Spots", "Readings", "From", "To"), rows)
    _listed(page, "Gauge checks", (check.text() for check in understood.checks))
    _listed(
        page,
        "Left out: past the gauge's range",
        (f"{each.place}: {each.written}" for each in understood.refused),
    )
    _listed(page, "Left out", (f"{place}: {what}" for place, what in understood.left_out))
    _listed(page, "Assumed", understood.assumptions)
    doubts = map(str, understood.to_confirm)
    _listed(page, "Look at this before you take them", doubts)
    return page.text()


def _row(part: PanelReadings, kind: Kind, unit: str | None) -> tuple[str, ...]:
    amounts = [each.amount for spot in part.spots for each in spot if each.amount is not None]
    ends = (_shown(min(amounts), kind, unit), _shown(max(amounts), kind, unit)) if amounts else ()
    return (
        part.name or "(no name)",
        part.match.panel or "?",
        part.match.certainty.value,
        str(len(part.spots)),
        str(part.count),
        *(ends or ("?", "?")),
    )


def _shown(amount: Fraction, kind: Kind, unit: str | None) -> str:
    return show(amount, kind, unit)


def _listed(page: Page, title: str, items: Iterable[str]) -> None:
    shown = list(items)
    if not shown:
        return
    page.blank()
    page.label(title)
    for item in shown[:_MOST]:
        page.item(item)
    if len(shown) > _MOST:
        page.item(f"and {len(shown) - _MOST} more")
