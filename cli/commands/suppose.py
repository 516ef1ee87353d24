"""`prepwright suppose JOB ...`: what would be decided if some facts were otherwise."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import plain_option, ruleset_option, width_option

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.reasoning.supposing import Change
    from engine.ruleset.model import RuleSet


@click.command()
@click.argument("job")
@click.argument("changes", nargs=-1, metavar="['PANEL FACT: VALUE' ...]")
@click.option(
    "--flip",
    "flip_panel",
    metavar="PANEL",
    help="Find the smallest change that would give PANEL each other treatment.",
)
@ruleset_option
@plain_option
@width_option
def suppose(
    job: str,
    changes: tuple[str, ...],
    flip_panel: str | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Suppose facts of JOB, a job file, to be otherwise and see what would differ.

    A change names the panel, the fact and the value: 'roof rust: perforated', 'roof film
    readings: 13 13.2 13.1 mil', 'wash soap: silicone-free'. Nothing is recorded.
    """
    from cli.consult import load
    from cli.jobs import open_job, panel_named
    from cli.output.page import Page
    from cli.output.reasons import write_difference, write_flip
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError
    from engine.reasoning import supposing
    from engine.reasoning.decide import decide

    if not changes and flip_panel is None:
        raise UsageError(
            "say what to suppose, such as 'roof rust: perforated', or use --flip PANEL"
        )
    ruleset = load(ruleset_folder)
    facts = open_job(job, ruleset)
    page = Page(style_for_stdout(plain=plain, width=width))
    if changes:
        made = [_change(ruleset, facts, text) for text in changes]
        flat = [change for group in made for change in group]
        page.heading(f"{facts.job}, supposing {'; '.join(changes)}")
        after = supposing.suppose(ruleset, facts, flat)
        write_difference(page, supposing.difference(decide(ruleset, facts), after))
    if flip_panel is not None:
        name = panel_named(facts, flip_panel)
        page.heading(f"{facts.job}, {name}: the smallest change that gives another treatment")
        for flip in supposing.flips(ruleset, facts, name):
            write_flip(page, flip)
    sys.stdout.write(page.text())


def _change(ruleset: RuleSet, facts: JobFacts, text: str) -> list[Change]:
    from cli.chat.naming import find_fact, leading_panels
    from engine.answers import read_answer
    from engine.errors import UsageError
    from engine.reasoning.supposing import Change

    named, colon, value = text.partition(":")
    if not colon or not value.strip():
        raise UsageError(f"`{text}` lacks a value; write it as 'roof rust: perforated'")
    panels, words = leading_panels(named, tuple(facts.panels))
    spec = find_fact(ruleset, words)
    about = str(spec.about)
    if about == "panel" and not panels:
        raise UsageError(
            f"`{text}`: say for which panel, such as '{next(iter(facts.panels))} {text}'"
        )
    told = read_answer(spec, value.strip())
    where = panels if about == "panel" else (None,)
    return [Change(about, panel, spec.id, spec.title, "", value.strip(), told) for panel in where]
