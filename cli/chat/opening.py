"""Before the first question: what this is, and which job is talked through."""

from __future__ import annotations

import textwrap
from datetime import datetime
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

import click

from engine.words import say

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cli.chat.screen import Screen
    from cli.output.style import Style

STANDINGS = 30
_LISTED = 6
"""Jobs named one by one, the last changed first."""


def say_wrapped(screen: Screen, style: Style, text: str, indent: str = "") -> None:
    """Say prose in lines that fit; names of files in it are kept whole for copying."""
    for line in textwrap.wrap(
        text,
        style.width,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    ):
        screen.say(line)


def say_first_steps(screen: Screen, style: Style, store_path: Path | None) -> None:
    """What this is, in five lines, where the shop has no store yet."""
    from engine.trail.sqlite import home

    path = home(store_path)
    if path.exists():
        return
    for line in (
        say("prepwright tells how far down to take each panel of a car, before any sanding."),
        say("It asks what can still change the answer; you type what you see and measure."),
        say("Every answer is kept at once in the shop's store: {path}", path=path),
        say("At the end stand a decision for each panel with its reasons, and a plan."),
        say("Look first, keeping nothing: prepwright demo. All commands: prepwright --help"),
    ):
        say_wrapped(screen, style, line)


def ask_name(screen: Screen, style: Style, store_path: Path | None) -> str:
    """Ask which job it is: one that is there, or a new one. Raises UsageError where none is."""
    there = jobs_there(store_path)
    if there:
        say_wrapped(screen, style, say("Jobs in the store, the last changed first:"))
        for name, state in there[:_LISTED]:
            say_wrapped(screen, style, f"{name}: {state}", indent="  ")
        more = len(there) - _LISTED
        if more > 0:
            say_wrapped(
                screen, style, say("and {more} more: prepwright jobs", more=more), indent="  "
            )
        question = say("Which job? Type its name to go on with it, or a new name.")
    else:
        question = say("What shall this job be called? An order number or any short name.")
    say_wrapped(screen, style, question)
    names = [name for name, _ in there]
    suggested = _free(datetime.now().strftime("job-%Y-%m-%d"), names)
    try:
        name = screen.ask("> ", names, suggested, say(" which job ")).strip()
    except EOFError:
        raise click.UsageError(say("no job was named; try: prepwright chat MY-JOB")) from None
    return name or suggested


def jobs_there(store_path: Path | None) -> list[tuple[str, str]]:
    """The jobs of the store, the last changed first; none without a store.

    Beside the first `STANDINGS` stands how far they are decided: a store may hold very many.
    """
    from cli.jobs import open_store, standing
    from engine.errors import PrepwrightError
    from engine.trail.sqlite import home
    from engine.trail.summaries import summaries

    if not home(store_path).is_file():
        return []
    try:
        with open_store(store_path, read_only=True) as store:
            found, _ = store.changed_jobs()
            standings = [standing(each) for each in summaries(store, found[:STANDINGS])]
    except PrepwrightError:
        # Opening the store for the job itself says what is wrong with it.
        return []
    names = [name for name, _ in found]
    return list(zip_longest(names, standings, fillvalue=""))


def written_alike(name: str, there: Iterable[str]) -> str | None:
    """A job whose name differs in letter case, spaces and marks alone: one car, or two?"""
    wanted = _bare(name)
    return next((one for one in there if one != name and wanted and _bare(one) == wanted), None)


def _bare(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _free(name: str, taken: Sequence[str]) -> str:
    number, found = 1, name
    while found in taken:
        number += 1
        found = f"{name}-{number}"
    return found
