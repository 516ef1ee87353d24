"""One panel on a page: its verdict, its drawings and everything that was said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cli.report.bands import BUILD_LIMIT, FILM, FILM_LIMITS, FILM_READINGS, limit_lines
from cli.report.dots import Axis, DotPlot, axis_for, dot_plot, spot_means
from cli.report.drawing import Marked
from cli.report.layers import DrawnSection, drawn_section, scale_for, section
from engine.decision import Asked, Decision, PanelDecision
from engine.plan.setting import Setting
from engine.quantity import Kind
from engine.ruleset.model import RuleSet
from engine.words import counted, say, sentence

NO_READING = sentence("not read")

_FILLER_READINGS = "filler.readings"
_FILLER_LIMITS = ("filler.finish-depth", "filler.depth-limit")


@dataclass(frozen=True, slots=True)
class Card:
    """Everything a page shows of one panel."""

    mark: Marked
    decision: PanelDecision
    main_reason: str
    section: DrawnSection
    plots: tuple[DotPlot, ...]
    told: tuple[tuple[str, str, str], ...]
    reckoned: tuple[tuple[str, str], ...]
    asked: tuple[Asked, ...]
    refused: tuple[tuple[str, str], ...]


def cards(ruleset: RuleSet, setting: Setting, decision: Decision) -> tuple[Card, ...]:
    """A card for every panel, numbered from 1; sections and dots are to one scale over all."""
    panels = tuple(decision.panels.values())
    sections = [section(ruleset, setting, panel) for panel in panels]
    build_limits = limit_lines(ruleset, setting, (BUILD_LIMIT,))
    scale = scale_for(sections, build_limits)
    plotters = [
        _Plotter(ruleset, setting, panels, FILM_READINGS, FILM_LIMITS, Kind.THICKNESS, FILM),
        _Plotter(ruleset, setting, panels, _FILLER_READINGS, _FILLER_LIMITS, Kind.DEPTH, None),
    ]
    return tuple(
        Card(
            mark=_mark(setting, panel, number),
            decision=panel,
            main_reason=_main_reason(ruleset, decision, panel),
            section=drawn_section(each, scale, build_limits),
            plots=tuple(plot for plotter in plotters if (plot := plotter.plot(panel)) is not None),
            told=tuple(_told(panel)),
            reckoned=tuple(
                (fact.spec.title, fact.in_words)
                for fact in panel.found.facts.values()
                if fact.spec.reckoned is not None
            ),
            asked=tuple(asked for asked in decision.questions if asked.panel == panel.name),
            refused=refused(ruleset, panel),
        )
        for number, (panel, each) in enumerate(zip(panels, sections, strict=True), 1)
    )


@dataclass(frozen=True, slots=True)
class DrawnLimit:
    """A limit that stands in a drawing, with what it is about and where it comes from."""

    text: str
    note: str
    id: str
    source: str


def drawn_limits(
    ruleset: RuleSet, setting: Setting, found: Sequence[Card]
) -> tuple[DrawnLimit, ...]:
    """Every limit in the sections and dots of these panels, as the drawings show it."""
    named: list[tuple[tuple[str, ...], Kind]] = [(FILM_LIMITS, Kind.THICKNESS)]
    if any(plot.fact == _FILLER_READINGS for card in found for plot in card.plots):
        named.append((_FILLER_LIMITS, Kind.DEPTH))
    lines = [line for names, kind in named for line in limit_lines(ruleset, setting, names, kind)]
    return tuple(
        DrawnLimit(line.text, limit.note or "", limit.id, str(limit.source))
        for line in lines
        for limit in (ruleset.limits[line.id],)
    )


def _mark(setting: Setting, panel: PanelDecision, number: int) -> Marked:
    film: Fraction | None = setting.number(FILM, panel.name)
    text = setting.amount(film, Kind.THICKNESS) if film is not None else say(NO_READING)
    return Marked(panel.name, number, verdict(panel), film, text)


def verdict(panel: PanelDecision) -> str:
    """The treatment in a word."""
    if panel.treatment is None:
        return say("no rule decides") if panel.gap else say("open")
    return panel.treatment


def _main_reason(ruleset: RuleSet, decision: Decision, panel: PanelDecision) -> str:
    if panel.treatment is not None:
        if panel.because:
            return panel.because[0].text
        return say("No answer still missing can change it.")
    if panel.gap:
        return say("No rule gives a treatment for what was found. Show it to the shop lead.")
    asked = sum(1 for each in decision.questions if each.panel == panel.name)
    below = say("{questions} open.", questions=counted(asked, "question"))
    if not panel.possible:
        return below
    english = ruleset.tongue is None
    named = (each if english else ruleset.treatments[each].title for each in panel.possible)
    return say("Still possible: {treatments}.", treatments=", ".join(named)) + f" {below}"


def _told(panel: PanelDecision) -> list[tuple[str, str, str]]:
    """Title, text and provenance of every fact that somebody told."""
    rows: list[tuple[str, str, str]] = []
    for fact in panel.found.facts.values():
        if fact.told is None:
            continue
        told = fact.told
        said = [say("by {by}", by=told.by) if told.by else "", told.at or "", told.instrument or ""]
        rows.append((fact.spec.title, fact.text, ", ".join(part for part in said if part)))
    return rows


def refused(ruleset: RuleSet, panel: PanelDecision) -> tuple[tuple[str, str], ...]:
    """What was set aside, and why."""
    return tuple(
        (ruleset.facts[each.fact].title if each.fact in ruleset.facts else each.fact, each.why)
        for each in panel.found.refused
    )


class _Plotter:
    """Plots one kind of readings of every panel on one axis."""

    def __init__(
        self,
        ruleset: RuleSet,
        setting: Setting,
        panels: Sequence[PanelDecision],
        fact: str,
        limits: tuple[str, ...],
        kind: Kind,
        typical: str | None,
    ) -> None:
        self._setting, self._fact, self._typical = setting, fact, typical
        self._limits = limit_lines(ruleset, setting, limits, kind)
        means = [mean for panel in panels for mean in spot_means(panel, fact)]
        self._axis: Axis | None = axis_for(means, self._limits, kind, setting)

    def plot(self, panel: PanelDecision) -> DotPlot | None:
        if self._axis is None:
            return None
        return dot_plot(panel, self._fact, self._axis, self._limits, self._setting, self._typical)
