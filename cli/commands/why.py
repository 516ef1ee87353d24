"""`prepwright why JOB PANEL`: the reasons of a treatment, down to who measured what."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.options import plain_option, ruleset_option, store_option, width_option


@click.command()
@click.argument("job")
@click.argument("panel")
@click.option(
    "--not",
    "other",
    metavar="TREATMENT",
    help="Say why the panel did not get this treatment instead.",
)
@store_option
@ruleset_option
@plain_option
@width_option
def why(
    job: str,
    panel: str,
    other: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
) -> None:
    """Explain the treatment of PANEL in JOB, a job of the store or a job file.

    Marks: > a rule and its source, ? a test and how it turned out, = a fact and who told it.
    """
    from cli.consult import load
    from cli.jobs import open_job, panel_named
    from cli.output.page import Page
    from cli.output.reasons import write_reasons
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError, did_you_mean
    from engine.reasoning.evaluate import evaluate
    from engine.reasoning.explain import Explainer
    from engine.reasoning.program import compile_ruleset

    ruleset = load(ruleset_folder)
    facts = open_job(job, ruleset, store_path)
    name = panel_named(facts, panel)
    explainer = Explainer(evaluate(compile_ruleset(ruleset), facts))
    page = Page(style_for_stdout(plain=plain, width=width))
    if other is not None:
        if other not in ruleset.treatments:
            known = did_you_mean(other, ruleset.treatments)
            raise UsageError(
                f"there is no treatment `{other}`. "
                f"{known or 'They are: ' + ', '.join(ruleset.treatments) + '.'}"
            )
        page.heading(f"{facts.job}, {name}: why not {other}")
        page.paragraph(explainer.why_not(name, other))
    else:
        reason = explainer.treatment(name)
        page.heading(f"{facts.job}, {name}: {reason.text}")
        write_reasons(page, reason)
    sys.stdout.write(page.text())
