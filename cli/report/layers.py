"""Sections through the film of each panel, now and after the job, to one scale.

What stays and what comes off follows from the decision alone: the build it forecasts for the
treatment, less the new coats of the paint system, is what stays of the film.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cli.report.bands import FILM, LimitLine, thickness
from engine.decision import PanelDecision
from engine.plan.setting import TOPCOAT, Setting
from engine.ruleset.model import RuleSet
from engine.words import say

KEPT, OFF, NEW, UNKNOWN = "kept", "off", "new", "unknown"

# Measures of the drawing, in its units.
HEIGHT = 118.0
_TOP = 14.0
_HEADROOM = 1.06
_UNKNOWN_HEIGHT = 16.0
_LINE = 11.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer, lowest first; `um` is None where its thickness is not known."""

    kind: str
    name: str
    um: Fraction | None
    text: str


@dataclass(frozen=True, slots=True)
class Section:
    """The layers of one panel now and after the job; `lacking` says why one is empty."""

    panel: str
    substrate: str
    now: tuple[Layer, ...]
    after: tuple[Layer, ...]
    now_lacks: str = ""
    after_lacks: str = ""
    now_text: str = ""
    after_text: str = ""

    @property
    def now_total(self) -> Fraction:
        return _total(self.now)

    @property
    def after_total(self) -> Fraction:
        return _total(self.after)

    @property
    def after_known(self) -> bool:
        return bool(self.after) and all(layer.um is not None for layer in self.after)


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """A layer to scale: `y` is its upper edge, `label_y` the base line of its text."""

    layer: Layer
    y: float
    height: float
    label_y: float


@dataclass(frozen=True, slots=True)
class DrawnSection:
    """A section to scale; `floor` is where the substrate begins."""

    section: Section
    now: tuple[DrawnLayer, ...]
    after: tuple[DrawnLayer, ...]
    limits: tuple[tuple[LimitLine, float], ...]
    floor: float


@dataclass(frozen=True, slots=True)
class Scale:
    """From um to units of the drawing; the same for every panel of a page."""

    per_um: float

    def height(self, um: Fraction) -> float:
        return float(um) * self.per_um


def section(ruleset: RuleSet, setting: Setting, panel: PanelDecision) -> Section:
    """The layers of a panel, as far as they are known."""
    substrate = panel.found.facts.get("substrate")
    film = setting.number(FILM, panel.name)
    after, kept, lacks = _after(ruleset, setting, panel, film)
    now_lacks = "" if film is not None else say("not read")
    return Section(
        panel.name,
        substrate.text if substrate else "panel",
        _now(setting, film, kept),
        after,
        now_lacks,
        lacks,
        thickness(setting, film) if film is not None else "",
        thickness(setting, _total(after)),
    )


def _now(setting: Setting, film: Fraction | None, kept: Fraction | None) -> tuple[Layer, ...]:
    if film is None:
        return ()
    if kept is None or kept >= film:
        return (_layer(setting, KEPT, "film", film),)
    off = _layer(setting, OFF, say("comes off"), film - kept)
    return (_layer(setting, KEPT, "stays", kept), off) if kept else (off,)


def _after(
    ruleset: RuleSet, setting: Setting, panel: PanelDecision, film: Fraction | None
) -> tuple[tuple[Layer, ...], Fraction | None, str]:
    """The layers after the job, what stays of the film, and why there are none."""
    if panel.treatment is None:
        return (), None, say("the treatment is open")
    way = ruleset.treatments[panel.treatment].coats
    if way is None:
        kept = (_layer(setting, KEPT, say("as it is"), film),) if film is not None else ()
        return kept, film, "" if kept else say("stays as it is, not measured")
    chosen = setting.choice(TOPCOAT)
    system = ruleset.systems.get(chosen) if chosen is not None else None
    if system is None:
        return (), None, say("the topcoat to come is not known")
    coats = tuple(
        _layer(setting, NEW, ruleset.products[coat.product].title, coat.film)
        for coat in setting.coats_on(panel.name)
    )
    build = setting.number(f"build.{way}", panel.name)
    if build is None:
        return (Layer(UNKNOWN, say("what stays"), None, say("not measured")), *coats), None, ""
    stays = build - _total(coats)
    if stays <= 0:
        return coats, Fraction(0), ""
    return (_layer(setting, KEPT, "stays", stays), *coats), stays, ""


def _layer(setting: Setting, kind: str, name: str, um: Fraction) -> Layer:
    return Layer(kind, name, um, thickness(setting, um))


def scale_for(sections: Iterable[Section], limits: Sequence[LimitLine]) -> Scale:
    """One scale that holds every section and limit."""
    heights = [total for each in sections for total in (each.now_total, each.after_total)]
    highest = max([*heights, *(limit.amount for limit in limits)], default=Fraction(0))
    room = HEIGHT - _TOP - _UNKNOWN_HEIGHT
    return Scale(room / (float(highest) * _HEADROOM) if highest > 0 else 1.0)


def drawn_section(each: Section, scale: Scale, limits: Sequence[LimitLine]) -> DrawnSection:
    """A section laid out to scale."""
    return DrawnSection(
        each,
        _drawn(each.now, scale),
        _drawn(each.after, scale),
        tuple((limit, HEIGHT - scale.height(limit.amount)) for limit in limits),
        HEIGHT,
    )


def _drawn(layers: Sequence[Layer], scale: Scale) -> tuple[DrawnLayer, ...]:
    tops: list[tuple[float, float]] = []
    y = HEIGHT
    for layer in layers:
        height = _UNKNOWN_HEIGHT if layer.um is None else scale.height(layer.um)
        y -= height
        tops.append((y, height))
    middles = [top + height / 2 for top, height in tops]
    # Thin layers lie closer than their names can be written.
    labels = spread(middles, _LINE, lowest=HEIGHT - 5)
    return tuple(
        DrawnLayer(layer, top, height, label)
        for layer, (top, height), label in zip(layers, tops, labels, strict=True)
    )


def spread(middles: Sequence[float], gap: float, *, lowest: float) -> tuple[float, ...]:
    """Heights near the given ones, which fall, at least `gap` apart and none below `lowest`."""
    found: list[float] = []
    for wanted in middles:
        found.append(min(wanted, found[-1] - gap if found else lowest))
    return tuple(found)


def _total(layers: Iterable[Layer]) -> Fraction:
    return sum((layer.um for layer in layers if layer.um is not None), Fraction(0))
