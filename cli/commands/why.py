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
from engine.words import say, sentence

if TYPE_CHECKING:
    from cli.output.page import Page
    from cli.output.reasons import Recorded
    from engine.reasoning.explain import Explainer
    from engine.ruleset.model import FactSpec, RuleSet

_PROVENANCE = (sentence("by"), sentence("at"), sentence("with"))


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
    from engine.plaintext import folded
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
        _write_recorded(page, ruleset, job, name, other, store_path)
    elif other is not None:
        titles = {folded(each.title): id for id, each in ruleset.treatments.items()}
        other = titles.get(folded(other), other)
        if other not in ruleset.treatments:
            known = did_you_mean(other, ruleset.treatments)
            raise UsageError(
                say("there is no treatment `{name}`.", name=other)
                + " "
                + (known or say("They are: {names}.", names=", ".join(ruleset.treatments)))
            )
        named = explainer.wording.treatment(other)
        heading = say(
            "{job}, {panel}: why not {treatment}", job=facts.job, panel=name, treatment=named
        )
        page.heading(heading)
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
    page: Page, ruleset: RuleSet, job: str, panel: str, other: str | None, store_path: Path | None
) -> None:
    """The reasons that were kept with the last decision, never worked out anew.

    In another language they are put into its words where these rules still say the same.
    """
    from cli.jobs import is_file, open_store
    from engine.errors import TrailError, UsageError
    from engine.plaintext import printable, quoted
    from engine.trail.deciding import in_its_words
    from engine.trail.work import last_decision

    if is_file(job):
        raise UsageError(say("a job file keeps no decisions; name a job of the store"))
    with open_store(store_path, read_only=True) as store:
        kept = last_decision(store, job)
    if kept is None or panel not in kept.payload["outcome"]["panels"]:
        raise TrailError(
            say(
                "no decision of job {job} on {panel} is recorded",
                job=printable(job),
                panel=quoted(panel),
            )
        )
    found = in_its_words(ruleset, kept.payload, panel)
    under = kept.payload["ruleset"]
    wanted = found["treatment"]
    treatment = say("open") if wanted is None else _called(ruleset, wanted)
    page.heading(
        say("{job}, {panel}: {treatment}, as recorded", job=job, panel=panel, treatment=treatment)
    )
    page.paragraph(
        say(
            "Entry {number}, {when} UTC by {who}, under {name} {version}, {digest}.",
            number=kept.sequence,
            when=kept.at[:16].replace("T", " "),
            who=kept.actor,
            name=under["name"],
            version=under["version"],
            digest=under["digest"],
        )
    )
    if other is None:
        for reason in found["because"]:
            page.item(f"{reason['text']} [{reason['rule']}]", marker=">")
    for instead in found["instead_of"]:
        if other in (None, instead["treatment"]):
            treatment = _called(ruleset, instead["treatment"])
            page.item(say("not {treatment}: {why}", treatment=treatment, why=instead["why"]))
    for name, fact in found["facts"].items():
        told = " ".join(f"{say(key)} {fact[key]}" for key in _PROVENANCE if key in fact)
        page.item(f"{name}: {fact['text']}{f' ({told})' if told else ''}", marker="=")


def _called(ruleset: RuleSet, treatment: str) -> str:
    if ruleset.tongue is None or treatment not in ruleset.treatments:
        return treatment
    return ruleset.treatments[treatment].title
