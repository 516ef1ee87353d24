"""The manual of a command as text of at most 80 columns: for `--help`, and as a page to read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import click

from cli.manual.read import Diagnostic, Manual, Topic, manual_of

WIDTH = 80
_PROGRAM = "prepwright"
_SPACE, _HYPHEN = "\u00a0", "\u2011"
_WORD = re.compile(r"`[^`]*`|--[\w-]+")


def help_text(context: click.Context) -> str:
    """What `--help` prints, in the order in which it is looked for."""
    manual, formatter = manual_of(context), context.make_formatter()
    context.command.format_usage(context, formatter)
    context.command.format_help_text(context, formatter)
    for title, rows in _lists(manual):
        with formatter.section(title):
            formatter.write_dl(_whole(rows))
    with formatter.section("Examples"):
        _examples(manual, formatter)
    with formatter.section("Exit codes"):
        formatter.write_dl(_whole(manual.exits))
    if manual.see:
        with formatter.section("See also"):
            formatter.write_text(_see(manual.see))
    return _text(formatter)


def manual_page(context: click.Context) -> str:
    """The manual of a command as one page to read from top to bottom."""
    manual, formatter = manual_of(context), _formatter()
    name = f"{_PROGRAM} {manual.path}".strip()
    with _part(formatter, "Name"):
        formatter.write_text(f"{name} - {manual.line}")
    with _part(formatter, "Usage"):
        formatter.write_text(manual.usage)
    with _part(formatter, "Description"):
        formatter.write_text(manual.description)
    for title, rows in _lists(manual):
        with _part(formatter, title):
            for first, second in _whole(rows):
                _entry(formatter, first, second)
    with _part(formatter, "Examples"):
        _examples(manual, formatter)
    with _part(formatter, "Exit codes"):
        formatter.write_dl(_whole(manual.exits))
    if manual.see:
        with _part(formatter, "See also"):
            formatter.write_text(_see(manual.see))
    return _text(formatter)


def topic_page(topic: Topic) -> str:
    """A topic as a page to read."""
    formatter = _formatter()
    with _part(formatter, topic.title):
        formatter.write_text(_kept(topic.text))
    if topic.see:
        with _part(formatter, "See also"):
            formatter.write_text(_see(topic.see))
    return _text(formatter)


def diagnostic_page(diagnostic: Diagnostic) -> str:
    """What a code behind a message means, as a page to read."""
    formatter = _formatter()
    with _part(formatter, f"[{diagnostic.code}]"):
        formatter.write_text(diagnostic.means)
        formatter.write_paragraph()
        formatter.write_text(diagnostic.do)
    with _part(formatter, "See also"):
        formatter.write_text(_see(("rules check", "rule-files")))
    return _text(formatter)


def overview(commands: Sequence[tuple[str, str]], topics: Sequence[Topic]) -> str:
    """Everything there is a page for."""
    formatter = _formatter()
    with _part(formatter, "Help"):
        formatter.write_text(
            f"`{_PROGRAM} help COMMAND` gives the manual of a command, `{_PROGRAM} help TOPIC` "
            f"what is to be known of a matter, and `{_PROGRAM} help CODE` what the code in "
            "brackets behind a message of `rules check` means."
        )
    with _part(formatter, "Commands"):
        formatter.write_dl(commands)
    with _part(formatter, "Topics"):
        formatter.write_dl([(topic.name, topic.title) for topic in topics])
    return _text(formatter)


def _formatter() -> click.HelpFormatter:
    return click.HelpFormatter(width=WIDTH - 2)


@contextmanager
def _part(formatter: click.HelpFormatter, title: str) -> Iterator[None]:
    """A part of a page, its heading at the margin and what belongs to it set in."""
    formatter.write_paragraph()
    formatter.write(f"{title.upper()}\n")
    with formatter.indentation():
        yield


def _lists(manual: Manual) -> list[tuple[str, Sequence[tuple[str, str]]]]:
    """The lists of a manual that are not empty, each with its title."""
    found = (
        ("Arguments", manual.arguments),
        ("Options", manual.options),
        (manual.heading, manual.commands),
    )
    return [(title, rows) for title, rows in found if rows]


def _entry(formatter: click.HelpFormatter, first: str, second: str) -> None:
    formatter.write_text(first)
    formatter.indent()
    formatter.indent()
    formatter.write_text(second)
    formatter.dedent()
    formatter.dedent()


def _examples(manual: Manual, formatter: click.HelpFormatter) -> None:
    for example in manual.examples:
        formatter.write_text(f"{example.does}:")
        formatter.indent()
        for line in command_lines(example.run, formatter.width - formatter.current_indent):
            formatter.write(f"{'':>{formatter.current_indent}}{line}\n")
        formatter.dedent()


def command_lines(command: str, width: int) -> list[str]:
    """A command line broken where a shell lets it be, at most `width` columns where that can be."""
    lines, quote, words, word = [], "", [], ""
    for letter in command:
        if letter in "'\"" and quote in ("", letter):
            quote = "" if quote else letter
        if letter == " " and not quote:
            words.append(word)
            word = ""
        else:
            word += letter
    line = ""
    for each in [*words, word]:
        # Two columns stay for the sign that the line goes on.
        if line and len(line) + 1 + len(each) > width - 2:
            lines.append(f"{line} \\")
            line = f"  {each}"
        else:
            line = f"{line} {each}" if line else each
    return [*lines, line]


def _see(names: Sequence[str]) -> str:
    return ", ".join(_kept_whole(f"{_PROGRAM} help {name}").replace(" ", _SPACE) for name in names)


def _text(formatter: click.HelpFormatter) -> str:
    return formatter.getvalue().replace(_SPACE, " ").replace(_HYPHEN, "-").strip("\n")


def _whole(rows: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """Rows in whose texts what is typed is not broken at a hyphen."""
    return [(key, _WORD.sub(lambda found: _kept_whole(found[0]), text)) for key, text in rows]


def _kept_whole(word: str) -> str:
    return word.replace("-", _HYPHEN)


def _kept(text: str) -> str:
    """Marks stretches that are set in, so that they are not wrapped."""
    parts = text.strip("\n").split("\n\n")
    return "\n\n".join(f"\b\n{part}" if part.startswith("    ") else part for part in parts)
