"""`prepwright rules show` and `list`: what the rules say, in plain English."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import (
    completed_by,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)

if TYPE_CHECKING:
    from engine.trail.fired import Firings

_NAMED = 6
"""Names that are listed where a word stands in several."""

_json_option = click.option(
    "--json", "as_json", is_flag=True, help="Write JSON (prepwright/parts/1)."
)


@click.command()
@click.argument("name", shell_complete=completed_by("part_names"))
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ruleset_option
@store_option
@click.option("--no-store", is_flag=True, help="Leave out how often a rule fired in the store.")
@_json_option
@plain_option
@width_option
def show(
    name: str,
    folder: Path | None,
    ruleset_folder: Path | None,
    store_path: Path | None,
    no_store: bool,
    as_json: bool,
    plain: bool,
    width: int | None,
) -> None:
    """Explain NAME: a rule, limit, fact, step, hold, caution, treatment or product.

    A rule is shown with what it tests and gives, who it beats and is beaten by, its worked cases,
    how often it fired in the jobs of the store, its source and what the shop changed; a product
    with its price and the steps that use it; anything else with the rules that use it.
    """
    from cli.commands.rules_check import one_folder
    from cli.consult import load
    from cli.output.jsontext import write_json
    from cli.output.parts_text import part_text, parts_json
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError, did_you_mean
    from engine.ruleset.relations import names_of, parts_named

    ruleset = load(one_folder(folder, ruleset_folder), with_cases=True)
    found = parts_named(ruleset, name)
    if not found:
        fix = did_you_mean(name, names_of(ruleset)) or _holding(name, names_of(ruleset))
        raise UsageError(f"nothing in {ruleset.name} is called `{name}`. {fix}")
    fired: Firings | str | None = None
    if not no_store and any(part.kind == "rule" for part in found):
        fired = _firings(store_path)
    if as_json:
        write_json(parts_json(ruleset, found, fired))
        return
    style = style_for_stdout(plain=plain, width=width)
    sys.stdout.write("\n".join(part_text(ruleset, part, style, fired) for part in found))


def _holding(word: str, names: Iterable[str]) -> str:
    """The names a word stands in, or how to see them all."""
    holding = [each for each in names if word and word.lower() in each.lower()][:_NAMED]
    if holding:
        return f"These hold the word: {', '.join(f'`{each}`' for each in holding)}."
    return (
        "`prepwright rules list` names the rules, with --limits, --facts or --products the others."
    )


def _firings(store_path: Path | None) -> Firings | str:
    """How often rules fired in the store, or why that cannot be told.

    A store that was named has to be usable.
    """
    from cli.jobs import store_if_there
    from cli.output.progress import progress_on_stderr
    from engine.errors import StoreError
    from engine.trail.fired import firings_in

    try:
        with store_if_there(store_path) as store, progress_on_stderr("Counting") as progress:
            if isinstance(store, str):
                return f"There is no store at {store} yet, so nothing fired in it."
            with store.reading():
                return firings_in(store, progress)
    except StoreError as error:
        if store_path is not None:
            raise
        return f"How often it fired cannot be told: {error}"


@click.command("list")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--topic", metavar="TOPIC", help="Only the rules of this topic (their file).")
@click.option("--limits", "what", flag_value="limits", help="List the limits instead.")
@click.option("--facts", "what", flag_value="facts", help="List the facts instead.")
@click.option("--products", "what", flag_value="products", help="List the products instead.")
@click.option("--shop", "only_shop", is_flag=True, help="Only what the shop changed or added.")
@click.option("--fired", is_flag=True, help="Show how often each rule fired in the store.")
@ruleset_option
@store_option
@_json_option
@plain_option
@width_option
def list_parts(
    folder: Path | None,
    topic: str | None,
    what: str | None,
    only_shop: bool,
    fired: bool,
    ruleset_folder: Path | None,
    store_path: Path | None,
    as_json: bool,
    plain: bool,
    width: int | None,
) -> None:
    """List the rules by topic, or the limits, facts or products."""
    from cli.commands.rules_check import one_folder
    from cli.consult import load
    from cli.output.jsontext import write_json
    from cli.output.parts_list import listing
    from cli.output.style import style_for_stdout
    from engine.errors import UsageError, did_you_mean

    if topic is not None and what is not None:
        raise click.UsageError("only rules have a topic; leave --topic out")
    if fired and what is not None:
        raise click.UsageError("only rules fire; leave --fired out")
    ruleset = load(one_folder(folder, ruleset_folder))
    topics = dict.fromkeys(rule.topic for rule in ruleset.rules.values())
    if topic is not None and topic not in topics:
        fix = did_you_mean(topic, topics) or f"The topics are: {', '.join(topics)}."
        raise UsageError(f"there is no topic `{topic}`. {fix}")
    if only_shop and ruleset.shop is None:
        raise UsageError(f"{ruleset.name} is no shop's rule set; name the shop's folder")
    counted = _firings(store_path) if fired else None
    if isinstance(counted, str):
        raise UsageError(counted)
    found = listing(ruleset, what or "rules", topic=topic, only_shop=only_shop, fired=counted)
    if as_json:
        write_json(found.as_json())
        return
    sys.stdout.write(found.text(style_for_stdout(plain=plain, width=width)))
