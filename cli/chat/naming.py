"""Finding the fact a person means by the words the rule set knows for it."""

from __future__ import annotations

from collections.abc import Sequence

from cli.chat.bulk import match_panels
from engine.errors import InputError, Problem, did_you_mean
from engine.plaintext import folded, quoted
from engine.ruleset.model import FactSpec, RuleSet
from engine.words import say


def find_fact(ruleset: RuleSet, words: str, *, told: bool = True) -> FactSpec:
    """The told fact called `words`: its id, its title or one of its other words.

    Without `told` reckoned and concluded facts are looked among as well.

    The beginning of a name, or some of its words, is enough where only one fact fits. Raises
    InputError with what is near.
    """
    specs = [spec for spec in ruleset.facts.values() if spec.told or not told]
    names = _names(specs)
    wanted = folded(words)
    own = {spec.id: spec for spec in specs if spec.id == wanted}
    exact = {spec.id: spec for name, spec in names if name == wanted}
    starting = {spec.id: spec for name, spec in names if wanted and name.startswith(wanted)}
    holding = {
        spec.id: spec for name, spec in names if wanted and set(wanted.split()) <= set(name.split())
    }
    for found in (own, exact, starting, holding):
        if len(found) == 1:
            return next(iter(found.values()))
        if found:
            titles = ", ".join(f"`{spec.title}`" for spec in found.values())
            raise InputError(
                Problem(
                    "several-facts",
                    say("{words} could mean {titles}", words=quoted(words), titles=titles),
                    fix=say("Say which."),
                )
            )
    raise InputError(
        Problem(
            "unknown-fact",
            say("nothing is called {words}", words=quoted(words))
            if words
            else say("say what to change"),
            fix=did_you_mean(wanted, [name for name, _ in names])
            or say("For example: change roof film readings; change wash soap."),
        )
    )


def leading_panels(words: str, panels: Sequence[str]) -> tuple[tuple[str, ...], str]:
    """The panels a text starts with, by the longest name that fits, and the words after them."""
    parts = words.split()
    for end in range(len(parts) - 1, 0, -1):
        found = match_panels(" ".join(parts[:end]), panels)
        if found:
            return found, " ".join(parts[end:])
    return (), words.strip()


def _names(specs: Sequence[FactSpec]) -> list[tuple[str, FactSpec]]:
    return [
        (folded(name), spec)
        for spec in specs
        for name in (
            spec.id,
            spec.id.replace(".", " "),
            spec.id.rpartition(".")[2],
            spec.title,
            *spec.words,
        )
    ]
