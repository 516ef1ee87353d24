"""`prepwright rules ...`: what a shop lead does with the rules. Each command is imported alone."""

from __future__ import annotations

from importlib import import_module

import click

_COMMANDS: dict[str, tuple[str, str, str]] = {
    "check": ("rules_check", "check", "Name everything wrong with a rule set; run its cases."),
    "prove": ("rules_prove", "prove", "Look for cars the rules leave out or contradict."),
    "list": ("rules_show", "list_parts", "List the rules, limits or facts, by topic."),
    "show": ("rules_show", "show", "Explain a rule, limit or fact in plain English."),
    "new-shop": ("rules_shop", "new_shop", "Start a folder for the shop's own changes."),
    "accept": ("rules_shop", "accept", "Note what the supplied set says of the shop's changes."),
    "schema": ("rules_schema", "schema", "Write schemas for a YAML editor, with all names in."),
}


class LazyRules(click.Group):
    """Knows its commands by name and help line; a module is imported when its command runs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module, name, _ = _COMMANDS[cmd_name]
        command = getattr(import_module(f"cli.commands.{module}"), name)
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in _COMMANDS and not args[0].startswith("-"):
            from engine.errors import did_you_mean

            near = did_you_mean(args[0], _COMMANDS)
            fix = near or f"The commands are: {', '.join(_COMMANDS)}."
            raise click.UsageError(f"there is no command `rules {args[0]}`. {fix}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, _, line) in _COMMANDS.items()])


@click.group(cls=LazyRules)
def rules() -> None:
    """Check, prove, list and change the rules."""
