"""`prepwright why JOB PANEL`: the reasons of a treatment, down to who measured what."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import (
    completed_by,
    language_option,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)

if TYPE_CHECKING:
    from cli.output.page import Page
    from cli.output.reasons import Recorded
    from engine.reasoning.explain import Explainer
    from engine.ruleset.model import FactSpec


@click.command()
@click.argument("job", shell_complete=completed_by("job_names"))
@click.argument("panel", shell_complete=completed_by("panel_names"))
@click.option(
    "--not",
    "other",
    metavar="TREATMENT",
    shell_complete=completed_by("treatment_names"),
    help="Say why the panel did not get this treatment instead.",
)
@click.option(
    "--fact",
    metavar="FACT",
    shell_complete=completed_by("fact_names"),
    help="Say where this fact comes from, such as 'dew point', instead of the treatment.",
)
@click.option(
    "--recorded",
    is_flag=True,
    help="Give the reasons as they were recorded with the last decision, in the words of its day.",
)
@store_option
@ruleset_option
@language_option
@plain_option
@width_option
def why(
    job: str,
    panel: str,
    other: str | None,
    fact: str | None,
    recorded: bool,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
    plain: bool,
    width: int | None,
) -> None:
    """Explain the treatment of PANEL in JOB, a job of the store or a job file.

    Marks: > a rule and its source, ? a test and how it turned out, = a fact and who told it, * how
    a fact was reckoned and from which limits.
    """
    from cli.chat.naming import find_fact
    from cli.consult import load
    from cli.jobs import open_job, panel_named, seal_line, told_entries
    from cli.output.page import Page
    from cli.output.reasons import write_reasons
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError, did_you_mean
    from engine.reasoning.evaluate import evaluate
    from engine.reasoning.explain import Explainer
    from engine.reasoning.program import compile_ruleset

    ruleset = load(ruleset_folder, language=language)
    facts = open_job(job, ruleset, store_path)
    name = panel_named(facts, panel)
    explainer = Explainer(evaluate(compile_ruleset(ruleset), facts))
    page = Page(style_for_stdout(plain=plain, width=width))
    if fact is not None:
        if other is not None or recorded:
            raise UsageError("use --fact alone, without --not and --recorded")
        _write_fact(
            page,
            explainer,
            find_fact(ruleset, fact, told=False),
            name,
            told_entries(job, store_path),
        )
    elif recorded:
        _write_recorded(page, job, name, other, store_path)
    elif other is not None:
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
        write_reasons(page, reason, told_entries(job, store_path))
    line = seal_line(job, store_path)
    if line:
        page.blank()
        page.paragraph(line)
    sys.stdout.write(page.text())


def _write_fact(
    page: Page, explainer: Explainer, spec: FactSpec, panel: str, recorded: Recorded
) -> None:
    from cli.output.reasons import write_reasons
    from engine.reasoning.explain import Reason

    where = panel if spec.about == "panel" else None
    job = explainer.evaluation.job.job
    page.heading(f"{job}, {panel}: {spec.id}" if where else f"{job}: {spec.id}")
    write_reasons(page, Reason("fact", "", parts=(explainer.fact(spec.id, where),)), recorded)


def _write_recorded(
    page: Page, job: str, panel: str, other: str | None, store_path: Path | None
) -> None:
    """The reasons that were kept with the last decision, never worked out anew."""
    from cli.jobs import is_file, open_store
    from engine.errors import TrailError, UsageError
    from engine.plaintext import printable, quoted
    from engine.trail.work import last_decision

    if is_file(job):
        raise UsageError("a job file keeps no decisions; name a job of the store")
    with open_store(store_path, read_only=True) as store:
        kept = last_decision(store, job)
    if kept is None or panel not in kept.payload["outcome"]["panels"]:
        raise TrailError(f"no decision of job {printable(job)} on {quoted(panel)} is recorded")
    found = kept.payload["outcome"]["panels"][panel]
    ruleset = kept.payload["ruleset"]
    page.heading(f"{job}, {panel}: {found['treatment'] or 'open'}, as recorded")
    page.paragraph(
        f"Entry {kept.sequence}, {kept.at[:16].replace('T', ' ')} UTC by {kept.actor}, under "
        f"{ruleset['name']} {ruleset['version']}, {ruleset['digest']}."
    )
    if other is None:
        for reason in found["because"]:
            page.item(f"{reason['text']} [{reason['rule']}]", marker=">")
    for instead in found["instead_of"]:
        if other in (None, instead["treatment"]):
            page.item(f"not {instead['treatment']}: {instead['why']}")
    for name, fact in found["facts"].items():
        told = " ".join(f"{key} {fact[key]}" for key in ("by", "at", "with") if key in fact)
        page.item(f"{name}: {fact['text']}{f' ({told})' if told else ''}", marker="=")
