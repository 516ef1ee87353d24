"""`prepwright chat [JOB]`: talk a job through; every accepted answer is kept at once."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from shutil import get_terminal_size
from typing import TYPE_CHECKING

import click

from cli.options import (
    by_option,
    completed_by,
    language_option,
    one_engine_option,
    plain_option,
    ruleset_option,
    store_option,
    width_option,
)
from engine.records import dataclass
from engine.words import say

if TYPE_CHECKING:
    from cli.chat.keeping import Keeper, StoreKeeper
    from cli.chat.loop import Chat
    from cli.chat.screen import Screen
    from cli.chat.settings import Settings
    from cli.output.style import Style
    from engine.decision import Decision
    from engine.facts import JobFacts
    from engine.reasoning.second import SecondEngine
    from engine.ruleset.model import RuleSet
    from engine.trail import Store


@click.command()
@click.argument("job", required=False, shell_complete=completed_by("job_names"))
@by_option
@store_option
@ruleset_option
@language_option
@plain_option
@width_option
@one_engine_option
def chat(
    job: str | None,
    by: str | None,
    store_path: Path | None,
    ruleset_folder: Path | None,
    language: str | None,
    plain: bool,
    width: int | None,
    one_engine: bool,
) -> None:
    """Talk a job through, question by question, and end with its decision.

    JOB is a job of the shop's store, new or old, or a job file such as `van.yaml`. Every accepted
    answer is kept before the next question; stop at any time and start again with the same name.
    """
    from cli.chat.opening import ask_name, say_first_steps
    from cli.chat.settings import Settings, settings_file
    from cli.consult import load, second_engine
    from cli.jobs import actor, is_file
    from cli.output.style import style_for_stdout

    ruleset = load(ruleset_folder, language=language)
    style = style_for_stdout(plain=plain, width=width)
    screen = _screen(plain=style.plain)
    who = actor(by)
    if job is None or not is_file(job):
        say_first_steps(screen, style, store_path)
    name: str | None = job or ask_name(screen, style, store_path)
    shop = _Shop(
        ruleset,
        ruleset_folder,
        store_path,
        None if one_engine else second_engine(ruleset),
        who,
        by is not None,
        screen,
        style,
        plain,
        # What is piped in was written for one order of questions, whoever pipes it.
        Settings(settings_file(), who) if screen.prefills else None,
    )
    # What was loaded stays; looking through it again and again would hold the next question up.
    gc.freeze()
    while name is not None:
        name = _talk_through(shop, name)


@dataclass(frozen=True, slots=True)
class _Shop:
    """What stays the same from job to job."""

    ruleset: RuleSet
    folder: Path | None
    store_path: Path | None
    watching: SecondEngine | None
    who: str
    named: bool
    screen: Screen
    style: Style
    plain: bool
    settings: Settings | None


def _talk_through(shop: _Shop, name: str) -> str | None:
    """Talk one job through to its decision; returns the job to go over to, if one was named."""
    from cli.chat.consultation import Consultation
    from cli.chat.desk import Desk, changed_rules
    from cli.chat.keeping import StoreKeeper
    from cli.chat.loop import Chat
    from cli.chat.opening import jobs_there, say_wrapped, written_alike
    from cli.consult import consult
    from cli.errors import say as report
    from cli.output.emit import write_decision
    from cli.output.film_strip import terminal_strip
    from cli.recording import pinned, record, sealed
    from engine.trail.work import progress

    ruleset, screen, style, who = shop.ruleset, shop.screen, shop.style, shop.who
    with _kept(shop, name) as (keeper, store):
        facts = keeper.load()
        stamped = shop.named or store is not None
        talk = Consultation(
            ruleset,
            facts,
            keeper.save,
            watch=shop.watching.watch() if shop.watching else None,
            stamp=_now if stamped else None,
            by=who if stamped else None,
        )
        if keeper.resumed:
            opened = say("Job {job}, gone on with from {where}.", job=facts.job, where=keeper.where)
        else:
            opened = say("Job {job}, kept in {where}.", job=facts.job, where=keeper.where)
        screen.say(opened)
        for line in changed_rules(store, name, ruleset, talk.treatments()) if store else ():
            say_wrapped(screen, style, line)
        if store is not None and not keeper.resumed:
            alike = written_alike(name, store.jobs())
            if alike:
                line = say(
                    "This is a new job; there is also {alike}: `job {alike}` goes over to it.",
                    alike=alike,
                )
                say_wrapped(screen, style, line)
        say_wrapped(screen, style, say("Answer in your own words; `help` tells how, `stop` ends."))
        if shop.settings and shop.settings.by_panel:
            talk.walk(by_panel=True)
            say_wrapped(screen, style, say("Panel by panel, as you chose; `by question` turns it."))
        # What the chat says is made harmless line by line, colours included.
        uncoloured = replace(style, colour=False)
        desk = Desk(store, name, ruleset, shop.folder, who, uncoloured) if store else None

        def noted(text: str) -> str | None:
            keeper.note(text)
            return pinned(store) if store else None

        talking = Chat(
            talk,
            screen,
            style.width,
            _writer(ruleset),
            keeper.catch_up if isinstance(keeper, StoreKeeper) else None,
            orders=desk.orders if desk else None,
            note=noted,
            picture=lambda panel: terminal_strip(talk.evaluation, panel, style, plain=shop.plain),
            walk=shop.settings.walk if shop.settings else None,
            jobs=(lambda: jobs_there(shop.store_path)) if store else None,
        )
        try:
            talking.run()
        except KeyboardInterrupt:
            screen.say("")
            if talk.turns or keeper.resumed:
                report(
                    say(
                        "every accepted answer is in {where}; go on with: prepwright chat {name}",
                        where=keeper.where,
                        name=name,
                    )
                )
            raise
        if talking.switch_to is not None:
            kept = say(
                "Job {job} is kept in {where} as it stands.", job=facts.job, where=keeper.where
            )
            screen.say(kept)
            if store is not None:
                screen.say(pinned(store))
            screen.say("")
            return talking.switch_to
        if not talk.job.panels:
            screen.say(say("No panel was named, so nothing is decided."))
            return None
        screen.say("")

        def decided() -> Decision:
            return consult(
                ruleset, talk.job, one_engine=shop.watching is None, watching=shop.watching
            )

        def recorded(decision: Decision, last: int) -> None:
            assert store is not None
            record(store, shop.folder, ruleset, talk.job, decision, who, expected_last=last)

        if isinstance(keeper, StoreKeeper):
            decision = _recorded(keeper, talking, decided, recorded)
        else:
            decision = decided()
        write_decision(
            decision,
            ruleset,
            as_json=False,
            plain=style.plain,
            width=style.width,
            job=name,
            progress=progress(store, name, None) if store is not None else None,
            at_most=_PAGES * get_terminal_size().lines if screen.prefills else None,
        )
        if store is not None:
            screen.say(sealed(store, who, "decision in chat", talk.job.job))
        screen.say(
            say(
                "The answers are in {where}; decide again with: prepwright decide {name}",
                where=keeper.where,
                name=name,
            )
        )
        return None


def _recorded(
    keeper: StoreKeeper,
    talking: Chat,
    decided: Callable[[], Decision],
    record: Callable[[Decision, int], None],
) -> Decision:
    """Decide and record; where others change the job meanwhile, take it over and decide again."""
    from engine.errors import JobChangedError

    while True:
        decision = decided()
        try:
            record(decision, keeper.last)
        except JobChangedError:
            talking.catch_up()
        else:
            return decision


@contextmanager
def _kept(shop: _Shop, name: str) -> Iterator[tuple[Keeper, Store | None]]:
    from cli.chat.keeping import FileKeeper, StoreKeeper
    from cli.jobs import is_file, open_store
    from engine.supplied import supplied_ruleset_folder

    if is_file(name):
        yield FileKeeper(Path(name), Path(name).stem, shop.ruleset), None
        return
    rules = shop.folder or supplied_ruleset_folder()
    with open_store(shop.store_path) as store:
        yield StoreKeeper(store, name, shop.ruleset, shop.who, rules), store


_PAGES = 3
"""Windows full of text that still can be scrolled back to what matters at its top."""


def _screen(*, plain: bool) -> Screen:
    from cli.chat.screen import Piped, Terminal, writing

    write = writing(sys.stdout)
    if sys.stdin.isatty() and sys.stdout.isatty():
        return Terminal(write, plain=plain)
    return Piped(sys.stdin.readline, write)


def _writer(ruleset: RuleSet) -> Callable[[str, JobFacts], None]:
    def write(path: str, facts: JobFacts) -> None:
        from engine.jobfile import write_job

        write_job(Path(path), facts, ruleset)

    return write


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
