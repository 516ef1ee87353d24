"""Whatever goes wrong ends in a message on standard error and one of the agreed exit codes."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable

import click

from cli.output.safe import neutral, neutral_lines
from engine.errors import InputError, PrepwrightError

DONE = 0
NO = 1
USAGE = 2
BAD_INPUT = 3
INCOMPLETE = 4
INTERRUPTED = 130

_MOST_PROBLEMS = 25
_TRACE = "PREPWRIGHT_TRACE"


class Outcome(Exception):
    """Ends the command with an exit code after everything has been printed."""

    def __init__(self, exit_code: int) -> None:
        super().__init__(exit_code)
        self.exit_code = exit_code


def guarded(run: Callable[[], object]) -> int:
    """Run a command and return its exit code; no exception passes."""
    try:
        run()
        sys.stdout.flush()
        return DONE
    except Outcome as outcome:
        return _flushed(outcome.exit_code)
    except click.exceptions.Exit as stop:
        return _flushed(stop.exit_code)
    except (KeyboardInterrupt, click.Abort):
        say("interrupted")
        return INTERRUPTED
    except click.ClickException as error:
        sys.stderr.write(_usage_text(error))
        return USAGE
    except PrepwrightError as error:
        say(_message(error))
        _trace()
        return error.exit_code
    except BrokenPipeError:
        _leave_pipe()
        return DONE
    except OSError as error:
        if error.errno == errno.EPIPE:
            _leave_pipe()
            return DONE
        say(f"the system refused: {error.strerror or error}{_named(error)}")
        _trace()
        _leave_pipe()
        return NO
    except Exception as error:
        say(
            f"unexpected trouble: {type(error).__name__}: {_cut(str(error))}\n"
            f"    This is a fault of prepwright. Run again with {_TRACE}=1 and send what it prints,"
            " with the files you gave, to whoever maintains your copy."
        )
        _trace()
        return NO


def say(text: str) -> None:
    """A message for the person, on standard error."""
    sys.stderr.write(f"prepwright: {neutral_lines(text)}\n")


def _message(error: PrepwrightError) -> str:
    if isinstance(error, InputError) and len(error.problems) > _MOST_PROBLEMS:
        shown = [str(problem) for problem in error.problems[:_MOST_PROBLEMS]]
        left = len(error.problems) - _MOST_PROBLEMS
        return "\n".join([*shown, f"... and {left} more"])
    return error.format_message()


def _usage_text(error: click.ClickException) -> str:
    lines = []
    if isinstance(error, click.UsageError) and error.ctx is not None:
        lines.append(error.ctx.get_usage())
        lines.append(f"Try `{error.ctx.command_path} --help`.")
    lines.append(f"prepwright: {neutral_lines(error.format_message())}")
    return "\n".join(lines) + "\n"


def _named(error: OSError) -> str:
    return f": {neutral(os.fsdecode(error.filename))}" if error.filename else ""


def _cut(text: str, longest: int = 300) -> str:
    flat = neutral(text)
    return flat if len(flat) <= longest else f"{flat[:longest]}..."


def _trace() -> None:
    if os.environ.get(_TRACE) == "1":
        traceback.print_exc(file=sys.stderr)


def _flushed(exit_code: int) -> int:
    try:
        sys.stdout.flush()
    except OSError:
        _leave_pipe()
    return exit_code


def _leave_pipe() -> None:
    """Let the interpreter flush into nothing; it would complain about the pipe on its way out."""
    try:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, sys.stdout.fileno())
        os.close(sink)
    except (OSError, ValueError):
        return
