"""The words of the chat that are commands, and its help."""

from __future__ import annotations

from engine.records import dataclass
from engine.words import commands_for, say, sentence

COMMANDS = {
    "help": sentence("how to answer here, and this list"),
    "why": sentence(
        "why this is asked, and what it could lead to; `why PANEL` explains a decision, "
        "`why not strip PANEL` says what kept it from another"
    ),
    "back": sentence("take the last answer back and give it again; says what falls with it"),
    "show": sentence(
        "what was told so far; `show PANEL`, or `show PANEL picture` for its film drawn"
    ),
    "panels": sentence("add panels: `panels left sill, right sill`"),
    "change": sentence("give or change any answer: `change wash soap`, `change roof rust: none`"),
    "by": sentence(
        "`by panel` or `by question`: walk one panel to its end, or one question over all"
    ),
    "trouble": sentence("a fault after spraying: `trouble fisheyes in the clear, roof`"),
    "note": sentence("keep a remark with the job: `note customer wants the old badge back`"),
    "next": sentence("what work may be done now, and what is in the way"),
    "plan": sentence("the plan of the work"),
    "done": sentence("a step is done: `done mask-up roof`, or `done 3` as `next` numbers it"),
    "sign": sentence("release a hold: `sign moisture roof: 0.4 % at six spots`"),
    "found": sentence("a surprise in the work: `found roof rust: perforated`"),
    "job": sentence("go over to another job: `job BM-8`; `job` alone lists them"),
    "write": sentence("write the job file: `write van.yaml`"),
    "skip": sentence("leave this question for now, the same as don't know"),
    "stop": sentence("end here; everything answered is kept"),
}

_ALSO = {
    "?": "help",
    "h": "help",
    "quit": "stop",
    "exit": "stop",
    "q": "stop",
    "end": "stop",
    "undo": "back",
    "b": "back",
    "status": "show",
    "set": "change",
    "tell": "change",
    "remark": "note",
    "fault": "trouble",
    "troubleshoot": "trouble",
    "panel": "panels",
    "jobs": "job",
    "walk": "by",
}

_ALONE = ("back", "skip", "stop", "next", "plan")
_WITH_MORE = ("found",)
_WALKS = ("panel", "panels", "question", "questions")


@dataclass(frozen=True, slots=True)
class Command:
    """A command word and what follows it."""

    name: str
    rest: str


def command_in(text: str, taken: frozenset[str] = frozenset()) -> Command | None:
    """The command a line gives, or None for an answer.

    `taken` are words that answer the current question; those are answers even where a command
    shares the word. A leading `/` always makes a command.
    """
    line = text.strip()
    slash = line.startswith("/")
    lowered, rest, name = _leading(line.lstrip("/"))
    if name is None or (lowered in taken and not slash):
        return None
    if name in _ALONE and rest and not slash:
        return None
    if name in _WITH_MORE and not rest and not slash:
        return None
    if name == "by" and rest and walk_named(rest) is None and not slash:
        return None
    return Command(name, rest.strip())


def _leading(line: str) -> tuple[str, str, str | None]:
    """The first word of a line in lower case, what follows, and the command it is, if any."""
    word, _, rest = line.partition(" ")
    lowered = word.lower()
    lowered = lowered.rstrip("?") or lowered
    for name in COMMANDS:
        # A command of another language may be more than one word.
        for other in commands_for(name):
            if line.lower() == other or line.lower().startswith(f"{other} "):
                return other, line[len(other) :].strip(), name
    return lowered, rest, lowered if lowered in COMMANDS else _ALSO.get(lowered)


def walk_named(text: str) -> str | None:
    """`panel` or `question`, where a text says in which order to go on."""
    word = text.strip().lower()
    if word in _WALKS:
        return word.removesuffix("s")
    for walk in ("panel", "question"):
        if word in commands_for(walk):
            return walk
    return None


def called(command: str) -> str:
    """The word for a command in the language spoken."""
    return next(iter(commands_for(command)), command)


def help_lines() -> list[str]:
    """How to answer, in a dozen lines."""
    width = max(7, *(len(called(name)) for name in COMMANDS))
    return [
        say("Answer in your own words and units: `4.9 5.1 5.0 mil`, `130 um`, `1/4 in`, `70 F`."),
        say("Several panels in one line: `all steel; bumpers: plastic; rest: don't know`."),
        say("The readings of one spot stand together: `5.0/5.2/5.1, 4.9, 5.1 mil`."),
        say("`don't know` is an answer: the question stays open and you are told how to find out."),
        "",
        *(f"  {called(name):<{width}} {say(meaning)}" for name, meaning in COMMANDS.items()),
        "",
        say("Put `/` before a word to make it a command where it could also be an answer."),
    ]
