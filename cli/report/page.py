"""Renders a decided and planned job as one HTML page that needs nothing but itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from cli.output import plan_mixes, plan_solvent
from cli.output.gathering import warned
from cli.output.plan_words import in_all
from cli.report import work
from cli.report.bands import FILM_LIMITS, film_bands, limit_lines
from cli.report.customer import CustomerWords, work_on
from cli.report.drawing import UNREAD, Marked, counted_patterns, plan_view
from cli.report.harmless import in_style, printed, shorten
from cli.report.holds import hold_sheet
from cli.report.panels import cards, drawn_limits
from cli.report.placing import Placed
from engine.decision import Decision
from engine.plan import Plan, Progress
from engine.plan.setting import THE_CAR
from engine.ruleset.model import RuleSet
from engine.trail.deciding import program_version
from engine.words import counted, language, language_note, say

MARKER = "prepwright report"
"""What stands in the head of every page, so that a page is known from any other file."""


class For(StrEnum):
    """Whom a page is for."""

    SHOP = "shop"
    CUSTOMER = "customer"
    CREW = "crew"


class Paper(StrEnum):
    A4 = "A4"
    LETTER = "Letter"

    @classmethod
    def usual_in(cls, region: str | None) -> Paper:
        """The paper in use in a region of the rule set."""
        return cls.LETTER if region == "us" else cls.A4


@dataclass(frozen=True, slots=True)
class Printing:
    """How a page is printed: for whom, on what, when, and under which seal if there is any."""

    reader: For
    paper: Paper
    at: datetime
    seal: str | None = None


def report_html(
    ruleset: RuleSet,
    decision: Decision,
    plan: Plan,
    progress: Progress,
    placed: Placed,
    words: CustomerWords,
    printing: Printing,
) -> str:
    """The page. `plan` and `decision` are of that rule set; panels were placed for the drawing."""
    each = cards(ruleset, plan.setting, decision)
    marked = [card.mark for card in each]
    if printing.reader is For.CUSTOMER or ruleset.tongue is not None:
        # An id says little to a customer, and to somebody who reads another language.
        marked = [replace(card.mark, verdict=words.short(ruleset, card.decision)) for card in each]
    if ruleset.tongue is not None:
        each = tuple(replace(card, mark=mark) for card, mark in zip(each, marked, strict=True))
    template = _environment().get_template(f"{printing.reader}.html.j2")
    return template.render(
        marker=MARKER,
        printing=printing,
        program=program_version(),
        ruleset=ruleset,
        decision=decision,
        state=_state(decision),
        cards=each,
        **_drawing(ruleset, plan, placed, marked),
        limits=drawn_limits(ruleset, plan.setting, each),
        holds=hold_sheet(decision, ruleset, progress),
        cautions=warned(decision, ruleset),
        car_facts=[
            (fact.spec.title, fact.text)
            for fact in decision.car.facts.values()
            if fact.told is not None or fact.spec.reckoned is not None
        ],
        car_asked=[asked for asked in decision.questions if asked.panel is None],
        words=words,
        done=work_on(words, ruleset, decision, each),
        plan=plan,
        in_all=in_all(plan),
        work=work,
        car=THE_CAR,
        mixing=plan_mixes,
        solvents=plan_solvent,
        language=language(),
        note=language_note(),
        over=say("over by {show}", show="").strip(),
        named=lambda id: id if ruleset.tongue is None else ruleset.treatments[id].title,
    )


def _drawing(
    ruleset: RuleSet, plan: Plan, placed: Placed, marked: Sequence[Marked]
) -> dict[str, Any]:
    bands = film_bands(limit_lines(ruleset, plan.setting, FILM_LIMITS))
    counts = counted_patterns(marked, bands)
    legend = [(band.pattern, band.text, counts.get(band.pattern, 0)) for band in bands]
    if UNREAD in counts:
        legend.append((UNREAD, say("not read"), counts[UNREAD]))
    return {"view": plan_view(placed, marked, bands), "legend": legend}


def _state(decision: Decision) -> str:
    still = sum(1 for panel in decision.panels.values() if panel.treatment is None)
    if not decision.panels:
        return say("No panel is named yet.")
    if not still:
        return say("Every panel is decided.")
    panels = counted(len(decision.panels), "panel")
    return say("{some} of {panels} still open", some=still, panels=panels) + "."


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        finalize=printed,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["shorten"] = shorten
    environment.globals |= {"say": say, "counted": counted}
    environment.filters["in_style"] = in_style
    return environment
