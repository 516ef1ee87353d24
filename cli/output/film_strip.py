"""A panel's film drawn in a terminal: every reading, and the build against the limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cli.output.page import wrap
from cli.output.safe import neutral
from cli.output.style import Style, style_for_stdout
from cli.output.waiting import waits_for
from engine.facts import JobFacts
from engine.quantity import Kind, show
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.wording import Wording
from engine.ruleset.depends import leaves
from engine.ruleset.model import FactKind, FactSpec, RuleSet
from engine.words import say

_NARROWEST_SCALE = 16
_WIDEST_SCALE = 60
_ROOM = 10
"""Part of the scale, one in so many, left beyond the highest of readings and limits."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of the picture: amounts to mark, in the base unit, and limits by their amount."""

    label: str
    marks: tuple[Fraction, ...]
    shown: str
    limits: dict[Fraction, list[str]]


def film_strips(ruleset: RuleSet, facts: JobFacts, *, plain: bool, width: int | None) -> str:
    """The picture of every panel of a job, as standard output can show it."""
    evaluation = evaluate(inquiry_for(ruleset).program, facts)
    style = style_for_stdout(plain=plain, width=width)
    found = [terminal_strip(evaluation, panel, style, plain=plain) for panel in facts.panels]
    return "".join(f"\n{text}" for text in found)


def terminal_strip(evaluation: Evaluation, panel: str, style: Style, *, plain: bool) -> str:
    """The picture of one panel, in ASCII where the terminal has no more, in words where `plain`."""
    ascii_only = style.plain and not plain
    return film_strip(evaluation, panel, replace(style, plain=plain), ascii_only=ascii_only)


def film_strip(
    evaluation: Evaluation, panel: str, style: Style, *, ascii_only: bool = False
) -> str:
    """The readings of a panel and its reckoned films on one scale, each with its limits.

    In plain style every line is a sentence. Values stand behind each line, so that nothing rests
    on the drawing alone.
    """
    wording = Wording(evaluation)
    films = list(_films(wording, panel))
    rows = [*_readings(wording, panel, films), *films]
    title = say("{panel}: film, thickness by thickness", panel=neutral(panel))
    if not rows:
        return "\n".join(wrap(_nothing(evaluation, panel), style.width)) + "\n"
    if style.plain:
        said = [f"{title}.", *(_sentence(wording, row) for row in rows)]
        lines = [piece for line in said for piece in wrap(line, style.width)]
    else:
        lines = [title, *_drawn(wording, rows, style, ascii_only=ascii_only)]
    return "\n".join(lines) + "\n"


def _nothing(evaluation: Evaluation, panel: str) -> str:
    """Why nothing is drawn: no reading was told, or those told are not taken yet."""
    subject = evaluation.panels[panel]
    for fact in evaluation.program.facts.values():
        if not _is_film(fact.spec, FactKind.LIST):
            continue
        waits = waits_for(evaluation, panel, fact.spec)
        if waits:
            return say(
                "{panel}: the readings told are taken once known: {waits}.",
                panel=neutral(panel),
                waits=", ".join(waits),
            )
        if fact.spec.id in subject.refused:
            reason = Wording(evaluation).fill(subject.refused[fact.spec.id], panel)
            return say(
                "{panel}: the readings told are set aside. {reason}",
                panel=neutral(panel),
                reason=reason,
            )
    return say("{panel}: no film reading is known.", panel=neutral(panel))


def _drawn(wording: Wording, rows: list[_Row], style: Style, *, ascii_only: bool) -> Iterator[str]:
    dot, wall, base = ("o", "|", ".") if ascii_only else ("●", "│", "·")
    label = max(len(row.label) for row in rows)
    values = max(len(row.shown) for row in rows)
    beside = style.width - label - values - 2 >= _NARROWEST_SCALE
    room = style.width - (label + values + 2 if beside else 2)
    width = min(_WIDEST_SCALE, room)
    top = max(amount for row in rows for amount in (*row.marks, *row.limits))
    top += top / _ROOM or Fraction(1)

    def place(amount: Fraction) -> int:
        return max(0, min(width - 1, int(amount / top * width)))

    limits: dict[Fraction, list[str]] = {}
    for row in rows:
        limits.update(row.limits)
        cells = [base] * width
        for amount in row.limits:
            cells[place(amount)] = wall
        for mark in row.marks:
            cells[place(mark)] = dot
        if beside:
            yield f"{row.label:<{label}} {''.join(cells)} {row.shown}"
        else:
            yield from wrap(f"{row.label}: {row.shown}", style.width)
            yield f"  {''.join(cells)}"
    for amount, names in sorted(limits.items()):
        yield from wrap(f"{wall} {_amount(wording, amount)}: {', '.join(names)}", style.width)


def _sentence(wording: Wording, row: _Row) -> str:
    """A line of the picture for those who hear it."""
    against = [
        say(
            "{side} {names} of {amount}",
            side=_side(row, amount),
            names=", ".join(names),
            amount=_amount(wording, amount),
        )
        for amount, names in sorted(row.limits.items())
    ]
    return f"{row.label}: {row.shown}{''.join(f', {text}' for text in against)}."


def _side(row: _Row, limit: Fraction) -> str:
    if min(row.marks) > limit:
        return "above"
    return "below" if max(row.marks) < limit else "at"


def _readings(wording: Wording, panel: str, films: list[_Row]) -> Iterator[_Row]:
    subject, program = wording.evaluation.panels[panel], wording.evaluation.program
    for fact in program.facts.values():
        spots = subject.exact.get(fact.slot)
        if not _is_film(fact.spec, FactKind.LIST) or not isinstance(spots, tuple):
            continue
        every = [reading for spot in spots for reading in spot]
        # What is compared with films as thick as these readings is worth seeing beside them.
        limits = {
            amount: names
            for film in films
            if min(every) <= film.marks[0] <= max(every)
            for amount, names in film.limits.items()
        }
        for number, spot in enumerate(spots, 1):
            shown = wording.value(fact.spec, (spot,))
            yield _Row(say("Spot {number}", number=number), tuple(spot), shown, limits)


def _films(wording: Wording, panel: str) -> Iterator[_Row]:
    """Films that rules for a treatment or a hold compare with a limit, as far as known."""
    subject, program = wording.evaluation.panels[panel], wording.evaluation.program
    compared: dict[str, dict[Fraction, list[str]]] = {}
    for rule in wording.ruleset.rules.values():
        if not rule.then.treatment and not rule.then.holds:
            continue
        for leaf in leaves(rule.when):
            if leaf.limit and leaf.limit in wording.ruleset.limits:
                limits = compared.setdefault(leaf.fact, {})
                names = limits.setdefault(wording.ruleset.limits[leaf.limit].amount, [])
                if leaf.limit not in names:
                    names.append(leaf.limit)
    for fact in program.facts.values():
        known = subject.exact.get(fact.slot)
        wanted = fact.spec.id in compared and _is_film(fact.spec, FactKind.QUANTITY)
        if wanted and isinstance(known, Fraction):
            limits = compared[fact.spec.id]
            yield _Row(neutral(fact.spec.title), (known,), _amount(wording, known), limits)


def _is_film(spec: FactSpec, kind: FactKind) -> bool:
    return spec.kind is kind and spec.quantity is Kind.THICKNESS


def _amount(wording: Wording, amount: Fraction) -> str:
    return show(amount, Kind.THICKNESS, wording.unit(Kind.THICKNESS))
