"""`prepwright rules schema`: JSON Schemas with a rule set's own names, for YAML editors."""

from __future__ import annotations

from pathlib import Path

import click

from cli.options import ruleset_option


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@ruleset_option
def schema(folder: Path, ruleset_folder: Path | None) -> None:
    """Write JSON Schemas into FOLDER for a YAML editor to complete names and explain them.

    They name the facts, choices, limits, rules, steps and outcomes of the rule set as it is now;
    write them again after adding some.
    """
    from cli.consult import load
    from cli.output.safe import neutral
    from engine.ruleset.filled_schemas import write_schemas

    written = write_schemas(load(ruleset_folder, with_cases=True), folder)
    click.echo(neutral(f"{len(written)} schemas are in {folder}. An editor follows one that the"))
    click.echo("first line of a file names, by a path that may start at the file's own folder:")
    named = folder / "rules.schema.json"
    click.echo(f"  # yaml-language-server: $schema={neutral(named.resolve().as_posix())}")
