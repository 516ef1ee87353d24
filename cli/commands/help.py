"""`prepwright help`: the manual of a command, a topic, or a message explained, as one page."""

from __future__ import annotations

import os
import shutil
import sys

import click

from cli.options import plain_option


@click.command("help")
@click.argument("words", nargs=-1)
@plain_option
@click.pass_context
def help(ctx: click.Context, words: tuple[str, ...], plain: bool) -> None:
    """Read the manual of a command, about a topic, or what a message of the rules' checks means.

    On a terminal a page longer than the screen is read through a pager, the one PAGER names.
    """
    page = _page(ctx.find_root(), words) + "\n"
    if not plain and _longer_than_the_screen(page):
        click.echo_via_pager(page)
    else:
        click.echo(page, nl=False)


def _page(root: click.Context, words: tuple[str, ...]) -> str:
    from cli.lazy import LazyGroup
    from cli.manual import text
    from cli.manual.read import diagnostics, topics

    program = root.command
    assert isinstance(program, LazyGroup)
    name = " ".join(words).removeprefix(f"{root.info_name} ")
    if not words:
        return text.overview(program.lines(), list(topics().values()))
    found = _context(root, name.split())
    if found is not None:
        return text.manual_page(found)
    if name in topics():
        return text.topic_page(topics()[name])
    code = name.strip("[]")
    if code in diagnostics():
        return text.diagnostic_page(diagnostics()[code])
    raise click.UsageError(f"there is no help on `{_shown(name)}`. {_near(root, name)}")


def _context(root: click.Context, words: list[str]) -> click.Context | None:
    """The context of the command that these words call, if they call one."""
    context = root
    if words == [root.info_name]:
        return root
    for word in words:
        group = context.command
        below = group.get_command(context, word) if isinstance(group, click.Group) else None
        if below is None:
            return None
        context = below.context_class(below, info_name=word, parent=context)
    return context


def _near(root: click.Context, name: str) -> str:
    from cli.manual.read import contexts, diagnostics, path_of, topics
    from engine.errors import did_you_mean

    paths = [path_of(each) for each in contexts(root)]
    there = [*filter(None, paths), *topics(), *diagnostics()]
    return did_you_mean(name, there) or "`prepwright help` lists commands and topics."


def _shown(name: str) -> str:
    from cli.output.safe import neutral

    return neutral(name)


def _longer_than_the_screen(page: str) -> bool:
    if not sys.stdout.isatty() or os.environ.get("TERM") == "dumb":
        return False
    return page.count("\n") >= shutil.get_terminal_size().lines
