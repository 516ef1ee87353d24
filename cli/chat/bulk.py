"""Answers for several panels in one line: `all steel; bumpers: plastic; rest: don't know`."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine.errors import InputError, Problem, did_you_mean
from engine.plaintext import quoted
from engine.records import dataclass
from engine.words import say, typed_for

_EVERY = ("all", "every", "everything", "each")
_REST = ("rest", "others", "the rest", "the others", "other", "remaining")
_BETWEEN_NAMES = re.compile(r"\s*(?:,|&|\+|\band\b)\s*")
_LEADING = re.compile(
    r"(?P<who>all|every|everything|each|rest|others|the rest|the others|remaining)"
    r"(?:\s+(?:of them|panels|panel|are|is))*\s+(?P<value>\S.*)\Z",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Part:
    """A share of the answer: the panels it is for and the text of the value."""

    panels: tuple[str, ...]
    value: str


def split_bulk(
    text: str,
    panels: Sequence[str],
    default: Sequence[str],
    asked: Sequence[str] | None = None,
) -> tuple[Part, ...]:
    """Share an answer out over panels.

    `panels` are all panels of the job, `asked` those for which the question stands, `default` those
    among them that a value with no name before it is for; `asked` left out, it is these. `all` and
    `rest` are of those asked, or of all panels where one alone is asked; they leave out the panels
    that another part names, so the order of the parts does not matter. Raises InputError for a name
    that fits no panel.
    """
    asked = default if asked is None else asked
    pieces = [piece.strip() for piece in re.split(r"[;\n]", text) if piece.strip()]
    if not pieces:
        raise InputError(
            Problem("empty-answer", say("nothing was answered"), fix=say("Type `help`."))
        )
    named: list[tuple[str | tuple[str, ...], str]] = [
        _piece(piece, panels, alone=len(pieces) == 1) for piece in pieces
    ]
    spoken_for = {name for who, _ in named if isinstance(who, tuple) for name in who}
    shares: dict[str, str] = {}
    for who, value in named:
        if who == "rest":
            who = tuple(panel for panel in asked if panel not in spoken_for)
        elif who == "default":
            who = tuple(default)
        elif who == "all":
            within = asked if len(asked) > 1 else panels
            who = tuple(panel for panel in within if panel not in spoken_for)
        for panel in who:
            shares[panel] = value
    grouped: dict[str, list[str]] = {}
    for panel in panels:
        if panel in shares:
            grouped.setdefault(shares[panel], []).append(panel)
    return tuple(Part(tuple(names), value) for value, names in grouped.items())


def _piece(piece: str, panels: Sequence[str], *, alone: bool) -> tuple[str | tuple[str, ...], str]:
    who, colon, value = piece.partition(":")
    if colon and value.strip():
        return _who(who.strip(), panels), value.strip()
    leading = _LEADING.match(piece)
    if leading:
        return _group(leading["who"]), leading["value"].strip()
    for group, meant in (("all", "every"), ("rest", "rest")):
        for word in typed_for(meant):
            if piece.lower().startswith(f"{word} "):
                return group, piece[len(word) :].strip()
    found = _name_then_value(piece, panels)
    if found:
        return found
    if alone:
        return "default", piece
    return "default", piece


def _group(word: str) -> str:
    return "all" if word.lower() in _EVERY else "rest"


def _who(text: str, panels: Sequence[str]) -> str | tuple[str, ...]:
    lowered = text.lower()
    if lowered in (*_EVERY, "all panels", *typed_for("every")):
        return "all"
    if lowered in (*_REST, *typed_for("rest")):
        return "rest"
    found: list[str] = []
    for name in _BETWEEN_NAMES.split(text):
        matching = match_panels(name, panels)
        if not matching:
            raise InputError(
                Problem(
                    "unknown-panel",
                    say("no panel is called {name}", name=quoted(name)),
                    fix=did_you_mean(name, panels)
                    or say("The panels: {panels}.", panels=", ".join(panels)),
                )
            )
        found += [panel for panel in matching if panel not in found]
    return tuple(found)


def match_panels(name: str, panels: Sequence[str]) -> tuple[str, ...]:
    """The panels a name fits: exactly, else by all its words, plurals taken as singulars."""
    wanted = _words(name)
    exact = tuple(panel for panel in panels if _words(panel) == wanted)
    if exact or not wanted:
        return exact
    return tuple(
        panel
        for panel in panels
        if all(any(had.startswith(word) for had in _words(panel)) for word in wanted)
    )


def _words(text: str) -> tuple[str, ...]:
    words = re.findall(r"[^\s\-_]+", text.lower())
    return tuple(word[:-1] if len(word) > 3 and word.endswith("s") else word for word in words)


def _name_then_value(piece: str, panels: Sequence[str]) -> tuple[tuple[str, ...], str] | None:
    """`roof steel`: the longest panel name the text starts with, if something follows it."""
    lowered = piece.lower()
    for panel in sorted(panels, key=len, reverse=True):
        start = panel.lower() + " "
        if lowered.startswith(start) and lowered[len(start) :].strip():
            return (panel,), piece[len(start) :].strip()
    return None
