"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from cli.completing import Offers


def completed_by(names: str) -> Offers:
    """Completion by the offers of that name in `cli.completing`, imported at Tab alone."""

    def offer(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
        from cli import completing

        offers: Offers = getattr(completing, names)
        return offers(ctx, param, typed)

    return offer


ruleset_option = click.option(
    "--ruleset",
    "ruleset_folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Use the rule set in this folder instead of the supplied one.",
)

language_option = click.option(
    "--language",
    metavar="ID",
    envvar="PREPWRIGHT_LANGUAGE",
    shell_complete=completed_by("language_names"),
    help="Read the texts in this language, such as es (default: PREPWRIGHT_LANGUAGE, or English).",
)

store_option = click.option(
    "--store",
    "store_path",
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="Use this store instead of the shop's own (PREPWRIGHT_STORE, or your data folder).",
)

by_option = click.option(
    "--by",
    metavar="NAME",
    help="Who does this; recorded with every entry (default: PREPWRIGHT_BY, or your login).",
)

plain_option = click.option(
    "--plain", is_flag=True, help="Linear text for screen readers: no tables, no colour."
)

width_option = click.option(
    "--width",
    metavar="N",
    type=click.IntRange(20, 400),
    help="Wrap text at this many columns (default: as wide as the terminal, 100 at most).",
)

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Write JSON (prepwright/decision/1) to standard output."
)

one_engine_option = click.option(
    "--one-engine", is_flag=True, help="Reason with the evaluator alone, without the second engine."
)

require_complete_option = click.option(
    "--require-complete", is_flag=True, help="End with exit code 4 while a panel is undecided."
)
