"""`prepwright rules ...`: what a shop lead does with the rules. Each command is imported alone."""

from __future__ import annotations

import click

from cli.lazy import Lazy, LazyGroup

_COMMANDS: dict[str, tuple[str, str, str]] = {
    "check": ("rules_check", "check", "Name everything wrong with a rule set; run its cases."),
    "prove": ("rules_prove", "prove", "Look for cars the rules leave out or contradict."),
    "impact": ("rules_impact", "impact", "Tell what other rules would change for stored jobs."),
    "list": ("rules_show", "list_parts", "List the rules, limits or facts, by topic."),
    "show": ("rules_show", "show", "Explain a rule, limit or fact in plain English."),
    "new-shop": ("rules_shop", "new_shop", "Start a folder for the shop's own changes."),
    "accept": ("rules_shop", "accept", "Note what the supplied set says of the shop's changes."),
    "texts": ("rules_texts", "texts", "List the texts, and what a language of them lacks."),
    "reference": ("rules_reference", "reference", "Write pages on all there is in a rule set."),
    "schema": ("rules_schema", "schema", "Write schemas for a YAML editor, with all names in."),
}


@click.group(
    cls=LazyGroup,
    noun="rules command",
    lazy={
        name: Lazy(f"cli.commands.{module}", attribute, line)
        for name, (module, attribute, line) in _COMMANDS.items()
    },
)
def rules() -> None:
    """Check, prove, list and change the rules."""
