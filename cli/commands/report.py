"""`prepwright report JOB --html FILE`: a job on one page to print and sign."""

from __future__ import annotations

from pathlib import Path

import click

from cli.options import (
    by_option,
    completed_by,
    language_option,
    one_engine_option,
    ruleset_option,
    store_option,
)


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.option(
    "--html",
    "target",
    metavar="FILE",
    required=True,
    help="Write the page to this file; `-` writes it to standard output.",
)
@click.option(
    "--for",
    "reader",
    type=click.Choice(["shop", "customer", "crew"]),
    default="shop",
    show_default=True,
    help="Everything for the shop, plain words for the customer, or a work sheet for the crew.",
)
@click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"], case_sensitive=False),
    help="The paper it is printed on (default: Letter where the shop is in the US, else A4).",
)
@click.option(
    "--vehicle",
    metavar="NAME",
    help="Draw it on this vehicle: van, saloon, hatchback, pickup, generic, or a file of your own "
    "(default: the one that has a place for most of its panels).",
)
@click.option(
    "--start",
    metavar="DAY",
    help="The day on which work begins, such as 2026-11-30 or 2026-11-30T13:00.",
)
@click.option("--people", metavar="N", type=click.IntRange(1, 1000), help="How many work on it.")
@click.option(
    "--booths", metavar="N", type=click.IntRange(0, 1000), help="How many spray booths there are."
)
@click.option(
    "--words",
    "words_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Tell the customer in the words of this file (default: shared/report/customer.yaml).",
)
@by_option
@store_option
@ruleset_option
@language_option
@one_engine_option
def report(
    job: str,
    target: str,
    reader: str,
    paper: str | None,
    vehicle: str | None,
    start: str | None,
    people: int | None,
    booths: int | None,
    words_file: Path | None,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
    one_engine: bool,
) -> None:
    """Write JOB as one HTML page: drawings, decisions, holds to sign, work, calendar.

    JOB is a job file or a job of the store. The page needs no other file, no network and no
    script. For a job of the store the decision is recorded and the seal of the record printed.
    """
    from datetime import datetime

    from cli.consult import consult, load
    from cli.errors import say
    from cli.jobs import actor
    from cli.planning import plan_for, start_from
    from cli.report.customer import customer_words
    from cli.report.page import For, Paper, Printing, report_html
    from cli.report.placing import placed_on
    from cli.report.record import told_of
    from cli.report.target import Target
    from engine.plan.setting import REGION

    begin = start_from(start) if start is not None else None
    out = Target(target)
    ruleset = load(ruleset_folder, language=language)
    told = told_of(job, ruleset, store_path)
    decision = consult(ruleset, told.facts, one_engine=one_engine)
    made = plan_for(ruleset, decision, told.progress, start=begin, people=people, booths=booths)
    placed = placed_on(vehicle, tuple(decision.panels), ruleset.vocabulary)
    words = customer_words(words_file)
    chosen = Paper(paper) if paper is not None else Paper.usual_in(made.setting.choice(REGION))

    def page(seal: str | None) -> str:
        printing = Printing(For(reader), chosen, datetime.now(), seal)
        return report_html(ruleset, decision, made, told.progress, placed, words, printing)

    # A page that cannot be made or written is not to be recorded as printed.
    text = page(None)
    with out.opened():
        if told.stored:
            who, on = actor(by), f"report for the {reader}"
            text = page(told.sealed(ruleset, decision, store_path, ruleset_folder, who, on))
        out.write(text)
    if out.is_file:
        say(f"the page for the {reader} is in `{target}`; open it in a browser to print it")
