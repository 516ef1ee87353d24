"""Makes a function of quantities into a command that prints its answer."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from cli.options import plain_option, ruleset_option, width_option
from cli.reckon.answer import Answer, Used, answer_json, answer_text
from cli.reckon.kinds import Measure, Named, Readings, Words, refuse_implausible
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity
from engine.ruleset.model import Limit, Product, RuleSet, Table

Compute = Callable[..., Answer]
Decorator = Callable[[Any], Any]


class RuleBook:
    """Numbers of the rule set, read only where a reckoning asks; keeps what it gave out."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._loaded: RuleSet | None = None
        self.used: list[Used] = []

    @property
    def ruleset(self) -> RuleSet:
        if self._loaded is None:
            from cli.consult import load

            self._loaded = load(self._folder)
        return self._loaded

    def limit(self, name: str) -> Fraction:
        """A limit in the base unit. Raises ReckoningError where the rule set has none."""
        found = self._limit(name)
        self._keep(Used(name, found.written, str(found.source), found.note))
        return found.amount

    def bound(self, name: str) -> Fraction:
        """A limit that only refuses what cannot be right: no answer is made of it."""
        return self._limit(name).amount

    def _limit(self, name: str) -> Limit:
        found = self.ruleset.limits.get(name)
        if found is None:
            raise ReckoningError(f"the rule set has no limit `{name}`; add it to limits.yaml")
        return found

    def table(self, name: str) -> Table:
        """A table. Raises ReckoningError where the rule set has none."""
        found = self.ruleset.tables.get(name)
        if found is None:
            raise ReckoningError(f"the rule set has no table `{name}`; add it under tables/")
        self._keep(Used(name, found.title, str(found.source), found.note))
        return found

    def product(self, name: str) -> Product:
        """A product. Raises ReckoningError naming the products there are."""
        products = self.ruleset.products
        if name not in products:
            known = ", ".join(each for each, it in products.items() if it.handling.drying)
            raise ReckoningError(
                f"there is no product `{name}`; with drying data there are {known}"
            )
        found = products[name]
        self._keep(Used(name, found.title, str(found.source)))
        return found

    def _keep(self, used: Used) -> None:
        if used not in self.used:
            self.used.append(used)


def option(
    flag: str,
    kind: Kind,
    how: str,
    *,
    required: bool = False,
    multiple: bool = False,
    like: str | None = None,
) -> Decorator:
    """An option that takes a quantity; `how` says what it is and how to get it.

    `like` names a fact of the rule set whose plausible range holds here too.
    """
    return _option(flag, Measure(kind, how, like), required, multiple)


def named_option(flag: str, kind: Kind, how: str, *, required: bool = False) -> Decorator:
    """An option that is given once a part, as NAME=QUANTITY."""
    return _option(flag, Named(kind, how), required, True)


def readings_option(
    flag: str,
    how: str,
    *,
    required: bool = False,
    multiple: bool = False,
    like: str | None = "film.readings",
    signed: bool = False,
) -> Decorator:
    """An option that takes film readings, as plausible as those of the fact `like`.

    `signed`: below zero, too.
    """
    return _option(flag, Readings(how, like, signed=signed), required, multiple)


def choice_option(
    flag: str, choices: Sequence[str], how: str, *, required: bool = False, multiple: bool = False
) -> Decorator:
    """An option with a fixed set of words."""
    return click.option(
        flag,
        type=Words(choices, how),
        help=_sentence(how),
        required=required,
        multiple=multiple,
    )


def _option(flag: str, kind: Measure | Readings, required: bool, multiple: bool) -> Decorator:
    metavar = f"NAME={kind.name.upper()}" if isinstance(kind, Named) else kind.name.upper()
    return click.option(
        flag,
        type=kind,
        required=required,
        multiple=multiple,
        metavar=metavar,
        help=_sentence(kind.how),
    )


def reckoning(name: str, *options: Decorator) -> Callable[[Compute], click.Command]:
    """The command `name`. The function takes the rule book and its options by name."""

    def make(compute: Compute) -> click.Command:
        def run(
            ruleset_folder: Path | None,
            as_json: bool,
            plain: bool,
            width: int | None,
            **given: Any,
        ) -> None:
            book = RuleBook(ruleset_folder)
            _refuse_implausible(book, given)
            answer = compute(book, **given)
            if as_json:
                from cli.output.jsontext import write_json

                write_json(answer_json(answer, name, _written(given), book.used))
                return
            from cli.output.style import style_for_stdout

            style = style_for_stdout(plain=plain, width=width)
            sys.stdout.write(answer_text(answer, book.used, style))

        run.__doc__ = compute.__doc__
        decorated: Any = run
        json_option = click.option(
            "--json", "as_json", is_flag=True, help="Write JSON (prepwright/reckoning/1)."
        )
        for option in reversed((*options, ruleset_option, json_option, plain_option, width_option)):
            decorated = option(decorated)
        return click.command(name)(decorated)

    return make


def _refuse_implausible(book: RuleBook, given: dict[str, Any]) -> None:
    for param in click.get_current_context().command.params:
        value = given.get(param.name or "")
        like = getattr(param.type, "like", None)
        if like is None or value in (None, ()):
            continue
        fact = book.ruleset.facts.get(like)
        if fact is not None and fact.plausible is not None:
            refuse_implausible(value, fact.plausible, param)


def _written(given: dict[str, Any]) -> dict[str, Any]:
    """The options as the person wrote them, those left out left out."""
    shown = {flag.replace("_", "-"): _plain(value) for flag, value in given.items()}
    return {flag: value for flag, value in shown.items() if value not in (None, [], False)}


def _plain(value: Any) -> Any:
    if isinstance(value, Quantity):
        return value.written
    if isinstance(value, Fraction):
        return float(value)
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    return value


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
