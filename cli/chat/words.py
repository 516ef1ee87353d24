"""The words of the chat that are commands, and its help."""

from __future__ import annotations

from dataclasses import dataclass

COMMANDS = {
    "help": "how to answer here, and this list",
    "why": "why this is asked, and what it could lead to; `why PANEL` explains a decision",
    "back": "take the last answer back and give it again; says what falls with it",
    "show": "what was told so far; `show PANEL`, or `show PANEL picture` for its film drawn",
    "panels": "add panels: `panels left sill, right sill`",
    "change": "give or change any answer: `change wash soap`, `change roof rust: none`",
    "by": "`by panel` or `by question`: walk one panel to its end, or one question over all",
    "trouble": "a fault after spraying: `trouble fisheyes in the clear, roof`",
    "note": "keep a remark with the job: `note customer wants the old badge back`",
    "next": "what work may be done now, and what is in the way",
    "plan": "the plan of the work",
    "done": "a step is done: `done mask-up roof`",
    "sign": "release a hold: `sign moisture roof: 0.4 % at six spots`",
    "found": "a surprise in the work: `found roof rust: perforated`",
    "job": "go over to another job: `job BM-8`; `job` alone lists them",
    "write": "write the job file: `write van.yaml`",
    "skip": "leave this question for now, the same as don't know",
    "stop": "end here; everything answered is kept",
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
_WITH_MORE = ("by", "found")
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
    word, _, rest = line.lstrip("/").partition(" ")
    lowered = word.lower()
    name = lowered if lowered in COMMANDS else _ALSO.get(lowered)
    if name is None or (lowered in taken and not slash):
        return None
    if name in _ALONE and rest and not slash:
        return None
    if name in _WITH_MORE and not rest and not slash:
        return None
    if name == "by" and rest.strip().lower() not in _WALKS and not slash:
        return None
    return Command(name, rest.strip())


def help_lines() -> list[str]:
    """How to answer, in a dozen lines."""
    return [
        "Answer in your own words and units: `4.9 5.1 5.0 mil`, `130 um`, `1/4 in`, `70 F`.",
        "Several panels in one line: `all steel; bumpers: plastic; rest: don't know`.",
        "The readings of one spot stand together: `5.0/5.2/5.1, 4.9, 5.1 mil`.",
        "`don't know` is an answer: the question stays open and you are told how to find out.",
        "",
        *(f"  {name:<7} {meaning}" for name, meaning in COMMANDS.items()),
        "",
        "Put `/` before a word to make it a command where it could also be an answer.",
    ]
