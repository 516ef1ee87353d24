"""A group of commands that imports a command's module only when that command runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Any, NamedTuple

import click

from cli.manual import ManualContext, with_manual


class Lazy(NamedTuple):
    """Where a command is to be found, and its line in the help."""

    module: str
    name: str
    help: str


class LazyGroup(click.Group):
    """Knows its commands by name and help line. `noun` is what messages call one of them."""

    context_class = ManualContext

    def __init__(
        self,
        *args: Any,
        lazy: Mapping[str, Lazy],
        noun: str = "command",
        heading: str = "Commands",
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self._lazy = lazy
        self._noun = noun
        self.heading = heading

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self._lazy)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        found = self._lazy.get(cmd_name)
        if found is None:
            return None
        command = getattr(import_module(found.module), found.name)
        assert isinstance(command, click.Command)
        return with_manual(command)

    def lines(self) -> Sequence[tuple[str, str]]:
        """Every command with its line in the help, without importing one."""
        return [(name, lazy.help) for name, lazy in self._lazy.items()]

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in self._lazy and not args[0].startswith("-"):
            from engine.errors import did_you_mean

            near = did_you_mean(args[0], self._lazy)
            fix = near or f"There are: {', '.join(self._lazy)}."
            raise click.UsageError(f"there is no {self._noun} `{args[0]}`. {fix}", ctx)
        return super().resolve_command(ctx, args)
