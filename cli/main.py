"""The command `prepwright`: finds the command asked for and imports only that one."""

from __future__ import annotations

import gc
import os
import sys
from io import TextIOWrapper

import click

from cli.errors import USAGE, guarded, say
from cli.lazy import Lazy, LazyGroup

PROGRAM = "prepwright"
_BETWEEN_COLLECTIONS = 50_000
_OWN = ("-h", "--help", "--version")

_COMMANDS: dict[str, tuple[str, str]] = {
    "chat": ("cli.chat.command", "Talk through a job (what `prepwright` alone does)."),
    "decide": ("cli.commands.decide", "Decide every panel of a job file, and say why."),
    "plan": ("cli.commands.plan", "Plan the work: days, tasks, materials, hours, cost."),
    "next": ("cli.commands.next", "Show what may be done now, and what is in the way."),
    "why": ("cli.commands.why", "Explain a treatment down to who measured what."),
    "suppose": ("cli.commands.suppose", "See what would be decided if some facts were otherwise."),
    "done": ("cli.commands.done", "Record that a step is done."),
    "sign": ("cli.commands.sign", "Release a hold with what was measured or who signs."),
    "found": ("cli.commands.found", "Record a surprise in the middle of the work."),
    "note": ("cli.commands.note", "Put a remark into the record of a job."),
    "jobs": ("cli.commands.jobs", "List the jobs in the shop's store."),
    "report": ("cli.commands.report", "Print a job on one HTML page: shop, customer or crew."),
    "reckon": ("cli.commands.reckon", "One calculation of the trade, with formula and source."),
    "trail": ("cli.commands.trail", "Show, verify, replay, export or import the record."),
    "readings": ("cli.commands.readings", "Take readings that a gauge or a spreadsheet exported."),
    "demo": ("cli.commands.demo", "Decide the demonstration job, a library bookmobile van."),
    "rules": ("cli.commands.rules", "Check, show, prove and change the rules."),
    "help": ("cli.commands.help", "Read the manual of a command, or about a topic."),
    "completion": ("cli.commands.completion", "Print the completion script of a shell."),
}


def _show_version(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        from cli.output.version import version_text

        click.echo(version_text())
        ctx.exit()


@click.group(
    cls=LazyGroup,
    lazy={name: Lazy(module, name, line) for name, (module, line) in _COMMANDS.items()},
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version, the engines that reason and the rule set.",
)
@click.pass_context
def prepwright(ctx: click.Context) -> None:
    """Ask before any abrasive touches a car: how far down to take each panel, and why."""
    if ctx.invoked_subcommand is None:
        chat = prepwright.get_command(ctx, "chat")
        assert chat is not None
        ctx.invoke(chat)


def run(args: list[str]) -> int:
    """Run the command line `args` and return the exit code."""
    return guarded(lambda: _call(args))


def _call(args: list[str]) -> None:
    if f"_{PROGRAM.upper()}_COMPLETE" in os.environ:
        prepwright.main(args=args, prog_name=PROGRAM)
    if args and args[0].startswith("-") and not {*args} & {*_COMMANDS, *_OWN}:
        # Options alone are those of the talk that begins without any: `prepwright --plain`.
        args = ["chat", *args]
    # Not `main()`: it would answer a broken pipe with an exit code of its own.
    with prepwright.make_context(PROGRAM, args) as context:
        prepwright.invoke(context)


def main() -> None:
    """The entry point of the installed command."""
    # A command makes much that lives until it ends; looking through it again and again for
    # garbage takes a twentieth of its time.
    gc.set_threshold(_BETWEEN_COLLECTIONS)
    _stand_in_for_closed_streams()
    if sys.stdout is None:
        say("standard output is closed, so there is nowhere to put an answer")
        sys.exit(USAGE)
    sys.exit(run(sys.argv[1:]))


def _stand_in_for_closed_streams() -> None:
    """Python gives None for a stream the caller closed; messages then go nowhere."""
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a letter gets it spelled out, never an exception.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
