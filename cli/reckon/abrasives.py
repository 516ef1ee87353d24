"""Grit sequences."""

from __future__ import annotations

from itertools import pairwise

import click

from cli.reckon.answer import Answer
from cli.reckon.reckoning import Decorator, RuleBook, choice_option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, show, show_against
from engine.reckoning.abrasives import (
    Grade,
    Grades,
    RatioRule,
    Step,
    StepRule,
    furthest,
    grades_from_tables,
    grain_ratio,
    number_rule_from_table,
    parse_grade,
    sequence,
)

_SOURCE = "grain: FEPA 43-1 / ISO 6344; step rules: common practice"


class _Grade(click.types.StringParamType):
    """A grade as the sheet says it; says what it is for where it is missing."""

    def __init__(self, how: str) -> None:
        self.how = how

    def get_missing_message(self, param: click.Parameter, ctx: click.Context | None) -> str:
        return self.how


def _grade(flag: str, how: str, *, required: bool = False, multiple: bool = False) -> Decorator:
    return click.option(
        flag,
        f"{flag[2:]}_grade",
        type=_Grade(how),
        metavar="GRADE",
        help=how,
        required=required,
        multiple=multiple,
    )


@reckoning(
    "grits",
    _grade("--from", "Grade to begin with, as in P80.", required=True),
    _grade("--to", "Grade to end with, as in P400.", required=True),
    choice_option("--rule", ("ratio", "numbers"), "step rule; both are shown where none is named"),
    _grade("--stock", "A grade the shop has; once a grade.", multiple=True),
    click.option(
        "--step", "one_step", is_flag=True, help="Judge the one step from --from to --to instead."
    ),
)
def grits(
    book: RuleBook,
    from_grade: str,
    to_grade: str,
    rule: str | None,
    stock_grade: tuple[str, ...],
    one_step: bool,
) -> Answer:
    """Grades from coarse to fine by a step rule, the fewest and most even.

    With --step, whether the one step between them is small enough by each rule.
    """
    tables = book.table("abrasives.p-grades"), book.table("abrasives.cami-grades")
    grades = grades_from_tables(*tables)
    if stock_grade:
        stock = [parse_grade(text) for text in stock_grade]
        for flag, text in (("--from", from_grade), ("--to", to_grade)):
            if parse_grade(text) not in stock:
                raise ReckoningError(
                    f"{flag} {text} is not among the grades given with --stock; name every grade "
                    "the shop has, this one too"
                )
        grades = grades.only(stock)
    start, finish = parse_grade(from_grade), parse_grade(to_grade)
    if one_step:
        answer = _step(start, finish, grades, _rules(book, rule))
    else:
        answer = _sequence(start, finish, grades, _rules(book, rule))
    for grade in (start, finish):
        grain = show(grades.median_um(grade), Kind.THICKNESS, "um")
        answer.word(f"Median grain of {grade}", grain)
    if rule is None:
        answer.note("The two rules can differ; the lead decides which holds (`--rule`).")
    answer.note("Grain is not scratch depth; none is published by grade.")
    return answer


def _sequence(
    start: Grade, finish: Grade, grades: Grades, rules: list[tuple[str, StepRule]]
) -> Answer:
    answer = Answer(
        "Grit sequence",
        "fewest grades whose every step keeps the rule; among those the most even grain ratios",
        _SOURCE,
    )
    for name, stepping in rules:
        found = sequence(start, finish, grades, rule=stepping)
        answer.word(f"By {name}", " > ".join(map(str, found)))
        steps = [f"{float(grain_ratio(a, b, grades)):.2f}" for a, b in pairwise(found)]
        answer.word("Grain ratios", ", ".join(steps) or "no step")
        answer.note(f"By {name}: {stepping.describe()}.")
    return answer


def _step(start: Grade, finish: Grade, grades: Grades, rules: list[tuple[str, StepRule]]) -> Answer:
    answer = Answer(
        f"One step from {start} to {finish}",
        "grain ratio = median grain of the coarser / median grain of the finer; numbers and grades "
        "are counted on the P scale",
        _SOURCE,
    )
    for name, stepping in rules:
        found = stepping.step(start, finish, grades)
        verdict = "small enough" if found.ok else "too large"
        answer.word(f"By {name}", f"{verdict}: {_figures(found)}")
        reached = furthest(start, grades, rule=stepping)
        answer.word(
            f"Furthest from {start} by {name}",
            "no finer grade is near enough" if reached is None else str(reached),
        )
        answer.note(f"By {name}: {stepping.describe()}.")
    return answer


def _figures(found: Step) -> str:
    taken, most = show_against(found.taken, found.most, Kind.NUMBER)
    if found.of == "grain ratio":
        return f"a grain ratio of {taken}, at most {most}"
    counted = found.of.removesuffix("s") if found.taken == 1 else found.of
    return f"{taken} {counted}, at most {most}"


def _rules(book: RuleBook, wanted: str | None) -> list[tuple[str, StepRule]]:
    found: list[tuple[str, StepRule]] = []
    if wanted != "numbers":
        found.append(("grain ratio", RatioRule(book.limit("abrasives.step-ratio"))))
    if wanted != "ratio":
        table = book.table("abrasives.number-rule")
        found.append(("numbers", number_rule_from_table(table)))
    return found
