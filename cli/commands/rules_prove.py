"""`prepwright rules prove`: gaps, conflicts and idle rules, each with a car that shows it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cli.commands.rules_check import one_folder
from cli.errors import NO, Outcome
from cli.options import plain_option, ruleset_option, width_option


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ruleset_option
@click.option(
    "--write-cases",
    "cases_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the cars found as worked cases into FILE, to put right and keep.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Write JSON (prepwright/proof/1) to standard output."
)
@plain_option
@width_option
def prove(
    folder: Path | None,
    ruleset_folder: Path | None,
    cases_file: Path | None,
    as_json: bool,
    plain: bool,
    width: int | None,
) -> None:
    """Look for cars for which nothing is recommended, rules that contradict each other, and rules
    that never fire or never matter.

    FOLDER holds a rule set or a shop's changes; without it the supplied set is looked at. What is
    found comes with a car, put to the rules themselves; what was not proved is said. Ends with 0
    where nothing wrong is found, else with 1. Needs z3-solver, the extra `prove`.
    """
    from cli.consult import load
    from cli.output.jsontext import write_json
    from cli.output.progress import progress_by_part
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError

    chosen = one_folder(folder, ruleset_folder)
    try:
        from cli.output.proof_text import proof_json, proof_text
        from engine.prove import prove as look
        from engine.prove.cases import cases_yaml
    except ImportError as error:
        if error.name != "z3":
            raise
        raise UsageError(
            "`rules prove` needs the solver z3, which is not installed; install prepwright with "
            "the extra `prove`, or the package z3-solver beside it"
        ) from error
    if cases_file is not None and cases_file.exists():
        raise UsageError(f"{cases_file} is there already; name a new file")
    ruleset = load(chosen, with_cases=True)
    with progress_by_part() as progress:
        proof = look(ruleset, progress=progress)
    if cases_file is not None:
        cases_file.write_text(cases_yaml(ruleset, proof.findings), "utf-8")
    if as_json:
        write_json(proof_json(proof))
    else:
        style = style_for_stdout(plain=plain, width=width)
        sys.stdout.write(proof_text(proof, style, cases_file))
    if not proof.clean:
        raise Outcome(NO)
