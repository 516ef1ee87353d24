"""`prepwright rules new-shop` and `accept`: the folder of a shop's own changes."""

from __future__ import annotations

import shlex
from pathlib import Path

import click


@click.command("new-shop")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", metavar="NAME", help="Short name of the shop's rules (default: FOLDER's).")
@click.option(
    "--builds-on",
    metavar="SET",
    default="refinish",
    show_default=True,
    help="The supplied rule set to change.",
)
def new_shop(folder: Path, name: str | None, builds_on: str) -> None:
    """Start FOLDER for a shop's own limits, rules, questions, products and texts.

    Its files are small, commented and change nothing yet; schemas for a YAML editor lie beside
    them. The supplied rule set stays as it is.
    """
    from cli.output.safe import neutral
    from engine.ruleset.filled_schemas import write_schemas
    from engine.ruleset.load import load_ruleset
    from engine.ruleset.shop_folder import new_shop as start

    written = start(folder, name, builds_on)
    write_schemas(load_ruleset(folder), folder / "schemas")
    shown = shlex.quote(str(folder))
    click.echo(neutral(f"{folder} holds {len(written)} files that change nothing yet:"))
    for file in written:
        click.echo(f"  {neutral(file.relative_to(folder).as_posix())}")
    click.echo("Change what the shop does otherwise, then:")
    for command in ("rules check", "rules accept", "decide JOB --ruleset"):
        click.echo(f"  prepwright {command} {neutral(shown)}")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def accept(folder: Path) -> None:
    """Note the supplied set as it is now, with a copy of all that FOLDER changes in it.

    Run it after each change, and after you looked at what an update of the supplied set touches.
    """
    from cli.output.safe import neutral
    from engine.ruleset.shop_folder import accept as note

    noted = note(folder)
    shop = noted.shop
    copies = "1 part" if noted.copies == 1 else f"{noted.copies} parts"
    click.echo(
        neutral(
            f"{shop.name} is noted to build on {shop.builds_on} {shop.supplied_version} "
            f"({shop.supplied_digest}), with copies of {copies} that it changes."
        )
    )
