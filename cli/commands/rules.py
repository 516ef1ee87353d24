"""`prepwright rules ...`: what a shop lead does with the rules."""

from __future__ import annotations

from pathlib import Path

import click

from cli.errors import NO, Outcome
from cli.options import ruleset_option


@click.group()
def rules() -> None:
    """Check the rules and run their worked cases."""


@rules.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ruleset_option
def check(folder: Path | None, ruleset_folder: Path | None) -> None:
    """Read a rule set, run its worked cases, and name everything that is wrong.

    FOLDER holds the rule set; without it the supplied one is checked. Ends with 0 where all is
    well, 1 where a case fails or a rule lacks its cases, 3 where a file cannot be taken.
    """
    from cli.consult import load
    from cli.output.cases_text import cases_text
    from engine.ruleset.run_cases import coverage, run_cases

    if folder is not None and ruleset_folder is not None:
        raise click.UsageError("name the folder once, as FOLDER or with --ruleset")
    ruleset = load(folder or ruleset_folder, with_cases=True)
    results = run_cases(ruleset)
    lacking = coverage(ruleset, results)
    click.echo(cases_text(ruleset, results, lacking), nl=False)
    failed = any(not result.passed for result in results)
    if failed or lacking.never_fired or lacking.never_near:
        raise Outcome(NO)
