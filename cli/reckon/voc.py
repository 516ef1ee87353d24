"""VOC as applied, and beside limits."""

from __future__ import annotations

import click

from cli.reckon.answer import Answer
from cli.reckon.reckoning import RuleBook, choice_option, named_option, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning.tables import pick
from engine.reckoning.voc import (
    Basis,
    Contents,
    VocVerdict,
    governing_limit,
    judge_voc,
    judge_voc_figure,
    mixed_voc,
    multistage_average,
    voc_actual,
    voc_content,
)
from engine.reckoning.voc_bounds import Densities, check_contents, check_figure
from engine.reckoning.voc_rules import JURISDICTIONS, VocRules

_SHEET = "see the safety or technical data sheet"
_POINTER = (
    "Information, never clearance: the text in force, the district and the data sheet decide, and "
    "states and districts may be stricter."
)
_REGIONS = ("us", "eu", "uk")


@reckoning(
    "voc",
    option("--volume", Kind.VOLUME, "ready mix, thinner in; mix as the data sheet says"),
    option("--volatiles", Kind.MASS, f"all that leaves, water and exempt included; {_SHEET}"),
    option("--water", Kind.MASS, f"water in the mix, by mass; 0 g where none; {_SHEET}"),
    option("--water-volume", Kind.VOLUME, f"the same water, by volume; {_SHEET}"),
    option("--exempt", Kind.MASS, f"exempt solvents, by mass; 0 g where none; {_SHEET}"),
    option("--exempt-volume", Kind.VOLUME, f"the same, by volume; {_SHEET}"),
    option("--figure", Kind.DENSITY, f"a VOC figure instead of contents; {_SHEET}"),
    choice_option("--basis", tuple(each.value for each in Basis), "what the figure leaves out"),
    choice_option("--region", _REGIONS, "whose limits to put beside it"),
    choice_option("--rules", ("federal", "california"), "whose rules within the United States"),
    click.option("--category", multiple=True, help="What the mix is used for; once a use."),
)
def voc(
    book: RuleBook,
    volume: Quantity | None,
    volatiles: Quantity | None,
    water: Quantity | None,
    water_volume: Quantity | None,
    exempt: Quantity | None,
    exempt_volume: Quantity | None,
    figure: Quantity | None,
    basis: str | None,
    region: str | None,
    rules: str | None,
    category: tuple[str, ...],
) -> Answer:
    """VOC of a mix on every basis, or a figure; with --region and --category beside the limit."""
    answer = Answer(
        "VOC as applied",
        "less water and exempt = (volatiles - water - exempt) / (volume - water - exempt)",
        "40 CFR 59.104(a) and EPA Method 24 (terms read); the European bases: Directive "
        "2004/42/EC (from memory)",
    )
    contents = {
        "--volume": volume,
        "--volatiles": volatiles,
        "--water": water,
        "--water-volume": water_volume,
        "--exempt": exempt,
        "--exempt-volume": exempt_volume,
    }
    if figure is not None:
        if any(contents.values()):
            raise ReckoningError("give either --figure or the contents of the mix, not both")
        if basis is None:
            raise ReckoningError(f"--basis is missing: what the figure leaves out; {_SHEET}")
        _check(book, "--figure", figure)
        answer.measure(f"VOC, {basis}", figure.amount, Kind.DENSITY, figure.unit)
        unit = figure.unit
        mixed = None
    else:
        mixed = _contents(book, contents)
        unit = "g/L"
        for each in Basis:
            found = voc_content(mixed, basis=each)
            answer.measure(f"VOC, {each.value}", found, Kind.DENSITY, unit)
        actual = voc_actual(mixed)
        answer.measure("VOC let go by a litre, for the solvent log", actual, Kind.DENSITY, unit)
    if region is None:
        answer.note("Give --region and --category to see a limit beside it.", _POINTER)
        return answer
    book.table(JURISDICTIONS)
    chosen = VocRules(book.ruleset.tables, region, rules)
    book.table(chosen.table_id)
    if figure is None:
        assert mixed is not None
        verdict = judge_voc(mixed, limits=chosen.limits, categories=category)
    else:
        governing = governing_limit(chosen.limits, category)
        verdict = judge_voc_figure(figure.amount, Basis(basis), governing=governing)
    _beside(answer, verdict, unit)
    if chosen.unsure:
        answer.note("Nobody said whose rules hold (--rules); a district may ask for less.")
    answer.note(book.ruleset.tables[chosen.table_id].note, _POINTER)
    return answer


def _check(book: RuleBook, name: str, figure: Quantity) -> None:
    check_figure(name, figure.amount, densest=book.bound("voc.solvent-densest"))


def _contents(book: RuleBook, given: dict[str, Quantity | None]) -> Contents:
    missing = [flag for flag, value in given.items() if value is None]
    if missing:
        raise ReckoningError(
            f"{', '.join(missing)}: missing; take them from the data sheets of the parts as mixed "
            "(0 g and 0 L where there is none), or give --figure with --basis"
        )
    volume, volatiles, water_g, water_L, exempt_g, exempt_L = (
        each.amount for each in given.values() if each is not None
    )
    mixed = Contents(volume, volatiles, water_g, water_L, exempt_g, exempt_L)
    known = Densities(
        lightest=book.bound("voc.solvent-lightest"),
        densest=book.bound("voc.solvent-densest"),
        exempt_densest=book.bound("voc.exempt-densest"),
        water_apart_percent=book.bound("voc.water-apart"),
    )
    check_contents(mixed, known=known)
    return mixed


def _beside(answer: Answer, verdict: VocVerdict, unit: str) -> None:
    limit = verdict.governing
    shown = show(limit.limit_g_per_L, Kind.DENSITY, unit)
    answer.word(f"Limit for {limit.category}", f"{shown}, {limit.basis.value}")
    over = show(verdict.over_by_g_per_L, Kind.DENSITY, unit)
    answer.word("Beside it", "not over" if verdict.within else f"over by {over}")


@reckoning(
    "voc-average",
    option("--base", Kind.DENSITY, f"VOC of the basecoat as applied; {_SHEET}", required=True),
    option("--midcoat", Kind.DENSITY, "VOC of a midcoat; once a midcoat", multiple=True),
    option("--clear", Kind.DENSITY, f"VOC of the clearcoat as applied; {_SHEET}", required=True),
)
def voc_average(
    book: RuleBook, base: Quantity, midcoat: tuple[Quantity, ...], clear: Quantity
) -> Answer:
    """The average of a topcoat of several stages, by the federal rule of the United States."""
    for name, coat in (
        ("--base", base),
        *(("--midcoat", it) for it in midcoat),
        ("--clear", clear),
    ):
        _check(book, name, coat)
    weights = dict(pick(book.table("voc.multistage-weights"), "weights", "coat", "weight"))
    found = multistage_average(
        base=base.amount,
        midcoats=[each.amount for each in midcoat],
        clear=clear.amount,
        clear_weight=weights["clear"],
    )
    answer = Answer(
        "VOC of a topcoat of several stages",
        "(base + sum of midcoats + w * clear) / (1 + number of midcoats + w)",
        "40 CFR 59.104(a)(2) (terms read; the divisor with midcoats from memory)",
    )
    answer.measure("Average", found, Kind.DENSITY, base.unit)
    answer.note(
        "Every coat's figure has to leave out the same: water and exempt solvents.", _POINTER
    )
    return answer


@reckoning(
    "voc-mix",
    named_option("--part", Kind.VOLUME, "litres of a part, as in clear='2 L'", required=True),
    named_option("--voc", Kind.DENSITY, f"VOC of a part, as in clear='420 g/L'; {_SHEET}",
                 required=True),
)  # fmt: skip
def voc_mix(
    book: RuleBook,
    part: tuple[tuple[str, Quantity], ...],
    voc: tuple[tuple[str, Quantity], ...],
) -> Answer:
    """The VOC of a mix from the volume and the VOC of each of its parts."""
    figures = dict(voc)
    missing = [name for name, _ in part if name not in figures]
    strange = [name for name in figures if name not in dict(part)]
    if missing or strange:
        raise ReckoningError(
            f"every part needs a volume and a VOC; without one: {', '.join(missing + strange)}; "
            + _SHEET
        )
    for name, content in voc:
        _check(book, f"--voc {name}", content)
    found = mixed_voc((volume.amount, figures[name].amount) for name, volume in part)
    answer = Answer(
        "VOC of a mix", "sum(volume * VOC) / sum(volume)", "arithmetic; volumes taken as additive"
    )
    answer.measure("VOC of the mix", found, Kind.DENSITY, voc[0][1].unit)
    answer.note(
        "Volumes and figures on the same basis: where the figures leave water out, water does not "
        "count among the volumes.",
        _POINTER,
    )
    return answer
