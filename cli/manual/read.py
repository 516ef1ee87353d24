"""Reads the manual of a command out of `shared/help`, and the rest out of the command itself."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from inspect import cleandoc
from typing import Any

import click

from cli.lazy import LazyGroup
from engine.supplied import help_folder

_ALWAYS = {"0": "done", "2": "wrong usage", "130": "interrupted"}
_TOPICS = "topics"
_DIAGNOSTICS = "diagnostics"


@dataclass(frozen=True, slots=True)
class Example:
    """A command line that runs as it stands, what it does, and the code it ends with.

    `slow` ones take minutes.
    """

    does: str
    run: str
    exit: int = 0
    slow: bool = False


@dataclass(frozen=True, slots=True)
class Manual:
    """All that is said of one command; `path` is how it is called, without the program's name."""

    path: str
    usage: str
    line: str
    description: str
    arguments: Sequence[tuple[str, str]]
    options: Sequence[tuple[str, str]]
    commands: Sequence[tuple[str, str]]
    heading: str
    examples: Sequence[Example]
    exits: Sequence[tuple[str, str]]
    see: Sequence[str]


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic of the help. Lines of `text` that are set in stay as they are."""

    name: str
    title: str
    text: str
    see: Sequence[str]


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """What a code behind a message of the rules' checks means, and what is to be done."""

    code: str
    group: str
    means: str
    do: str


def path_of(context: click.Context) -> str:
    """How a command is called, without the program's name: `rules check`; empty for the program."""
    return context.command_path.partition(" ")[2]


def manual_of(context: click.Context) -> Manual:
    """The manual of the command of a context."""
    command, path = context.command, path_of(context)
    top = path.partition(" ")[0] or str(context.find_root().info_name)
    said = entries(top).get(path or top, {})
    options = [
        record
        for parameter in command.get_params(context)
        if isinstance(parameter, click.Option)
        and (record := parameter.get_help_record(context)) is not None
    ]
    exits = {**_ALWAYS, **said.get("exits", {})}
    return Manual(
        path=path,
        usage=" ".join([context.command_path, *command.collect_usage_pieces(context)]),
        line=command.get_short_help_str(1000),
        description=cleandoc(command.help or ""),
        arguments=list(said.get("arguments", {}).items()),
        options=options,
        commands=list(_commands(command, context)),
        heading=command.heading if isinstance(command, LazyGroup) else "Commands",
        examples=[_example(each) for each in said.get("examples", ())],
        exits=sorted(exits.items(), key=lambda item: int(item[0])),
        see=said.get("see", ()),
    )


def _example(said: Mapping[str, Any]) -> Example:
    return Example(said["does"], said["run"], said.get("exit", 0), said.get("slow", False))


def _commands(command: click.Command, context: click.Context) -> Iterator[tuple[str, str]]:
    if isinstance(command, LazyGroup):
        yield from command.lines()
    elif isinstance(command, click.Group):
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            assert below is not None
            yield name, below.get_short_help_str(1000)


def contexts(context: click.Context) -> Iterator[click.Context]:
    """The context of a command and of every command below it, in the order of the help."""
    yield context
    command = context.command
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            assert below is not None
            yield from contexts(below.context_class(below, info_name=name, parent=context))


def entries(top: str) -> Mapping[str, Mapping[str, Any]]:
    """What `shared/help` says of a top-level command and those below it; nothing where it is mute.

    Raises UsageError where the folder is not installed.
    """
    return _read(top)


def topics() -> Mapping[str, Topic]:
    """The topics of the help, by name."""
    return {
        name: Topic(name, said["title"], said["text"], said["see"])
        for name, said in _read(_TOPICS).items()
    }


def diagnostics() -> Mapping[str, Diagnostic]:
    """What each code of the rules' checks means, by code."""
    return {
        code: Diagnostic(code, group, said["means"], said["do"])
        for group, codes in _read(_DIAGNOSTICS).items()
        for code, said in codes.items()
    }


@cache
def _read(name: str) -> Mapping[str, Any]:
    file = help_folder() / f"{name}.toml"
    return tomllib.loads(file.read_text("utf-8")) if file.is_file() else {}
