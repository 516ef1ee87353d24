"""The page of commands, out of the same manual as `--help`."""

from __future__ import annotations

import click

from cli.manual.read import Manual, contexts, manual_of, topics
from cli.manual.text import command_lines
from cli.reference.markdown import Page, code, link, plain

FILE = "commands.md"
_PROGRAM = "prepwright"
_WIDTH = 96


def page(root: click.Context) -> Page:
    told = Page(FILE, "Commands", "every command with its arguments, options and exit codes")
    told.paragraph(
        f"`{_PROGRAM} COMMAND --help` and `{_PROGRAM} help COMMAND` say the same. Every command "
        "answers `-h`."
    )
    manuals = [manual_of(context) for context in contexts(root)]
    told.items(
        (
            manual.path.count(" "),
            f"{link(code(_name(manual)), _name(manual))}: {plain(manual.line)}",
        )
        for manual in manuals
    )
    for manual in manuals:
        _command(told, manual)
    return told


def _name(manual: Manual) -> str:
    return f"{_PROGRAM} {manual.path}".strip()


def _command(told: Page, manual: Manual) -> None:
    told.heading(_name(manual))
    told.code(manual.usage)
    for part in manual.description.replace("\f", "").split("\n\n"):
        if part.startswith("\b"):
            told.code(part.removeprefix("\b").strip("\n"))
        else:
            told.paragraph(plain(part))
    for title, rows in (("Arguments", manual.arguments), ("Options", manual.options)):
        if rows:
            told.paragraph(f"**{title}**")
            told.items(f"{code(first)}: {plain(second)}" for first, second in rows)
    if manual.commands:
        told.paragraph(f"**{manual.heading}**")
        told.items(
            f"{link(code(name), f'{_name(manual)} {name}')}: {plain(line)}"
            for name, line in manual.commands
        )
    told.paragraph("**Examples**")
    lines = [
        line
        for example in manual.examples
        for line in (f"# {example.does}", *command_lines(example.run, _WIDTH))
    ]
    told.code("\n".join(lines), "sh")
    told.paragraph(
        "**Exit codes** " + "; ".join(f"{code(key)} {plain(text)}" for key, text in manual.exits)
    )
    told.paragraph("**See also** " + ", ".join(map(_see, manual.see)))


def _see(name: str) -> str:
    if name in topics():
        return code(f"{_PROGRAM} help {name}")
    return link(code(name), f"{_PROGRAM} {name}")
