"""Readings as dots on one line, with the limits they are held against, all panels to one scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cli.report.bands import LimitLine
from engine.decision import PanelDecision
from engine.plan.setting import Setting
from engine.quantity import Kind, from_unit, to_unit
from engine.ruleset.model import FactKind
from engine.words import say

# Measures of the drawing, in its units.
LEFT, RIGHT = 8.0, 372.0
_STACK = 5.5
_LABEL_GAP = 44.0


@dataclass(frozen=True, slots=True)
class Dot:
    """One spot: `x` by its mean, `level` how many dots lie below it."""

    x: float
    level: int
    text: str
    high: bool

    @property
    def rise(self) -> float:
        return self.level * _STACK


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the axis with its text, at `row` 0 or, where it would touch another, above."""

    x: float
    text: str
    row: int = 0


@dataclass(frozen=True, slots=True)
class DotPlot:
    fact: str
    title: str
    dots: tuple[Dot, ...]
    limits: tuple[Mark, ...]
    ticks: tuple[Mark, ...]
    typical: Mark | None
    listed: str
    unit: str

    @property
    def rows(self) -> int:
        return max((mark.row for mark in self.limits), default=0) + 1

    @property
    def stack(self) -> float:
        """How high the highest heap of dots rises."""
        return max((dot.rise for dot in self.dots), default=0.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """From 0 to `end`, an amount in the base unit of `kind`, with a tick every `step`."""

    kind: Kind
    unit: str
    end: Fraction
    step: Fraction

    def x(self, amount: Fraction) -> float:
        share = min(max(amount / self.end, Fraction(0)), Fraction(1))
        return LEFT + float(share) * (RIGHT - LEFT)


def spot_means(panel: PanelDecision, fact: str) -> tuple[Fraction, ...]:
    """The mean of each spot of a list of readings, in the base unit; none where there are none."""
    shown = panel.found.facts.get(fact)
    if shown is None or shown.spec.kind is not FactKind.LIST or not isinstance(shown.value, tuple):
        return ()
    return tuple(sum(spot, Fraction(0)) / len(spot) for spot in shown.value if spot)


def axis_for(
    means: Iterable[Fraction], limits: Sequence[LimitLine], kind: Kind, setting: Setting
) -> Axis | None:
    """One axis that holds every reading and limit; None where there is nothing to hold."""
    highest = max([*means, *(limit.amount for limit in limits)], default=Fraction(0))
    unit = setting.unit(kind)
    if highest <= 0 or unit is None:
        return None
    step = _round_step(to_unit(highest, kind, unit))
    steps = -(-to_unit(highest, kind, unit) // step)
    return Axis(kind, unit, from_unit(step * steps, kind, unit), from_unit(step, kind, unit))


def _round_step(length: Fraction) -> Fraction:
    """A round tick of which four to eight make up about so much."""
    step = Fraction(1)
    while step * 10 > length:
        step /= 10
    while step * 10 <= length:
        step *= 10
    return next(
        step * factor
        for factor in (Fraction(1), Fraction(2), Fraction(5), Fraction(10))
        if length / (step * factor) <= 8
    )


def dot_plot(
    panel: PanelDecision,
    fact: str,
    axis: Axis,
    limits: Sequence[LimitLine],
    setting: Setting,
    typical: str | None = None,
) -> DotPlot | None:
    """The readings of one panel as dots; None where it has none."""
    means = spot_means(panel, fact)
    if not means:
        return None
    shown = panel.found.facts[fact]
    top = limits[-1].amount if limits else None
    number = setting.number(typical, panel.name) if typical else None
    return DotPlot(
        fact=fact,
        title=shown.spec.title,
        dots=tuple(_dots(means, axis, setting, top)),
        limits=_apart(Mark(axis.x(limit.amount), limit.text) for limit in limits),
        ticks=tuple(_ticks(axis, setting)),
        typical=None
        if number is None
        else Mark(
            axis.x(number), say("typical {amount}", amount=setting.amount(number, axis.kind))
        ),
        listed=shown.text,
        unit=axis.unit,
    )


def _dots(
    means: Sequence[Fraction], axis: Axis, setting: Setting, top: Fraction | None
) -> Iterable[Dot]:
    levels: list[float] = []
    for mean in sorted(means):
        x = axis.x(mean)
        level = sum(1 for other in levels if abs(other - x) < _STACK)
        levels.append(x)
        yield Dot(x, level, setting.amount(mean, axis.kind), top is not None and mean > top)


def _ticks(axis: Axis, setting: Setting) -> Iterable[Mark]:
    count = int(axis.end / axis.step)
    for each in range(count + 1):
        text = setting.amount(axis.step * each, axis.kind)
        yield Mark(axis.x(axis.step * each), text.rpartition(" ")[0] or text)


def _apart(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Marks whose texts would touch are put on rows of their own."""
    found: list[Mark] = []
    for mark in marks:
        row = 0
        while any(other.row == row and mark.x - other.x < _LABEL_GAP for other in found):
            row += 1
        found.append(Mark(mark.x, mark.text, row))
    return tuple(found)
