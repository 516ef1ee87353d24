"""`prepwright chat [JOB]`: talk a job through; every accepted answer is in the job file at once."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.options import one_engine_option, plain_option, ruleset_option, width_option

if TYPE_CHECKING:
    from cli.chat.screen import Screen
    from engine.facts import JobFacts
    from engine.ruleset.model import RuleSet

_JOB_FILES = (".yaml", ".yml", ".json")


@click.command()
@click.argument("job", required=False)
@click.option(
    "--file",
    "file",
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="Keep the job in this file (default: JOB.yaml in the current folder).",
)
@click.option("--by", metavar="NAME", help="Who answers; recorded with every answer and its time.")
@ruleset_option
@plain_option
@width_option
@one_engine_option
def chat(
    job: str | None,
    file: Path | None,
    by: str | None,
    ruleset_folder: Path | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Talk a job through, question by question, and end with its decision.

    JOB is the job's name, or a job file to go on with. Every accepted answer is written to the
    job file before the next question; stop at any time and start again with the same name.
    """
    from cli.chat.consultation import Consultation
    from cli.chat.loop import Chat
    from cli.consult import consult, load, second_engine
    from cli.errors import say
    from cli.output.emit import write_decision
    from cli.output.style import style_for_stdout
    from engine.jobfile import read_job

    ruleset = load(ruleset_folder)
    style = style_for_stdout(plain=plain, width=width)
    screen = _screen(plain=style.plain)
    name, path = _name_and_path(job, file, screen)
    resumed = path.exists()
    facts = read_job(path, ruleset) if resumed else _new_job(name)
    watching = None if one_engine else second_engine(ruleset)
    consultation = Consultation(
        ruleset,
        facts,
        _saver(path, ruleset),
        watch=watching.watch() if watching else None,
        stamp=_now if by else None,
        by=by,
    )
    screen.say(f"Job {facts.job}, {'gone on with from' if resumed else 'kept in'} {path}.")
    screen.say("Answer in your own words; `help` tells how, `stop` ends.")
    try:
        Chat(consultation, screen, style.width).run()
    except KeyboardInterrupt:
        screen.say("")
        if path.exists():
            say(f"every accepted answer is in {path}; go on with: prepwright chat {path}")
        raise
    if not consultation.job.panels:
        screen.say("No panel was named, so nothing is decided.")
        return
    screen.say("")
    decision = consult(ruleset, consultation.job, one_engine=one_engine)
    write_decision(decision, ruleset, as_json=False, plain=plain, width=width)
    screen.say(f"The answers are in {path}; decide again with: prepwright decide {path}")


def _screen(*, plain: bool) -> Screen:
    from cli.chat.screen import Piped, Terminal
    from cli.output.safe import neutral_lines

    def write(text: str) -> None:
        sys.stdout.write(neutral_lines(text) + "\n")
        sys.stdout.flush()

    if sys.stdin.isatty() and sys.stdout.isatty():
        return Terminal(write, plain=plain)
    return Piped(sys.stdin.readline, write)


def _name_and_path(job: str | None, file: Path | None, screen: Screen) -> tuple[str, Path]:
    if job is not None and file is None and (job.endswith(_JOB_FILES) or Path(job).is_file()):
        return Path(job).stem, Path(job)
    name = job or (file.stem if file else None) or _ask_name(screen)
    return name, file or Path(_file_name(name))


def _ask_name(screen: Screen) -> str:
    suggested = datetime.now().strftime("job-%Y-%m-%d")
    screen.say("What shall this job be called? An order number or any short name.")
    try:
        name = screen.ask("> ", (), suggested, " new job ").strip()
    except EOFError:
        raise click.UsageError("no job was named; try: prepwright chat MY-JOB") from None
    return name or suggested


def _file_name(name: str) -> str:
    kept = "".join(letter if letter.isalnum() or letter in "-_." else "-" for letter in name)
    return f"{kept.strip('.') or 'job'}.yaml"


def _new_job(name: str) -> JobFacts:
    from engine.answers import read_text
    from engine.facts import JobFacts

    return JobFacts(read_text(name, "the job's name"))


def _saver(path: Path, ruleset: RuleSet) -> Callable[[JobFacts], None]:
    from engine.jobfile import write_job

    def save(facts: JobFacts) -> None:
        # A job file names at least one panel; before that there is nothing to keep.
        if facts.panels:
            write_job(path, facts, ruleset)

    return save


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
