"""`prepwright rules check`: everything that is wrong with a rule set."""

from __future__ import annotations

from pathlib import Path

import click

from cli.errors import NO, Outcome
from cli.options import ruleset_option


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ruleset_option
@click.option(
    "--json", "as_json", is_flag=True, help="Write JSON (prepwright/check/1) to standard output."
)
def check(folder: Path | None, ruleset_folder: Path | None, as_json: bool) -> None:
    """Read a rule set, run its worked cases, and name everything that is wrong.

    FOLDER holds a rule set or a shop's changes; without it the supplied set is checked. Ends with
    0 where all is well, warnings or none, 1 where something is wrong with the rules, 3 where a
    file cannot be taken.
    """
    import gc

    from cli.consult import load
    from cli.output.check_text import check_json, check_text, refused_json
    from cli.output.jsontext import write_json
    from engine.errors import RuleSetError
    from engine.ruleset.check import check_ruleset
    from engine.supplied import supplied_ruleset_folder

    chosen = one_folder(folder, ruleset_folder)
    # All that is built here is kept to the end, so that looking for waste only takes time.
    gc.disable()
    try:
        ruleset = load(chosen, with_cases=True)
    except RuleSetError as error:
        if not as_json:
            raise
        write_json(refused_json(error))
        raise Outcome(error.exit_code) from error
    checked = check_ruleset(ruleset, folder=chosen or supplied_ruleset_folder())
    if as_json:
        write_json(check_json(checked))
    else:
        click.echo(check_text(checked), nl=False)
    if not checked.passed:
        raise Outcome(NO)


def one_folder(folder: Path | None, ruleset_folder: Path | None) -> Path | None:
    """The folder named as an argument or with --ruleset, which are the same here."""
    if folder is not None and ruleset_folder is not None:
        raise click.UsageError("name the folder once, as FOLDER or with --ruleset")
    return folder or ruleset_folder
