"""What `--help` and `prepwright help` say of a command, beside its description and its options.

Arguments, examples, exit codes and where to look next stand in `shared/help`, one file for each
top-level command. They are read when somebody asks for help, never before.
"""

from __future__ import annotations

import click


class ManualContext(click.Context):
    """The context of a command whose help is written out of its manual."""

    def get_help(self) -> str:
        from cli.manual.text import help_text

        return help_text(self)


def with_manual(command: click.Command) -> click.Command:
    """The command, with everything below it, answering `--help` out of its manual."""
    command.context_class = ManualContext
    if isinstance(command, click.Group):
        for below in command.commands.values():
            with_manual(below)
    return command
