"""durable-rules as a second engine, which has to agree with the evaluator rule by rule.

It forward-chains the rules of each level over the flat states the evaluator worked out for a
subject, and what it fires is compared with what the evaluator holds true. Only what was measured
to be safe in that library is used: flat facts of whole numbers under generated names, one row a
conjunction, few rows a ruleset, no joins, one quiet host a process, a row in each ruleset that
fires for every fact, and every session deleted once that row has run. The library is imported
when the first engine is made.

Sessions of all engines share one host and take turns by a lock, so engines may be used from
several threads.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import compress, count, groupby
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any

from engine.errors import ReasoningDisagreement
from engine.reasoning.evaluate import Subject, Watch
from engine.reasoning.program import CompiledRule, Level, Program
from engine.reasoning.second_rows import Attribute, Attributes, Line, Row, RowWriter
from engine.records import dataclass

DISTRIBUTION = "durable-rules"
ROWS = 49
"""Rows one ruleset of the library is given, besides the one that always fires; above 64 it loses
facts."""

_LOCK = RLock()
_NUMBERS = count(1)


@cache
def available() -> str | None:
    """None where the second engine can run here, else the reason why not, in plain words."""
    if sys.version_info >= (3, 13):
        version = ".".join(map(str, sys.version_info[:2]))
        return f"{DISTRIBUTION} does not load on Python 3.13 and later (this is {version})"
    try:
        import durable.engine  # noqa: F401
    except ImportError as error:
        return f"{DISTRIBUTION} cannot be loaded: {error}"
    return None


@cache
def _library() -> Any:
    from durable import engine

    return engine


@cache
def _core() -> Any:
    return _library().durable_rules_engine


@cache
def _version() -> str:
    # The folder of its metadata carries the version in its name; to have it read costs more than
    # a whole decision.
    stem = DISTRIBUTION.replace("-", "_")
    folders = list(Path(_library().__file__).parents[1].glob(f"{stem}-*.dist-info"))
    if len(folders) == 1:
        return folders[0].name.removesuffix(".dist-info").removeprefix(f"{stem}-")
    from importlib.metadata import version

    return version(DISTRIBUTION)


@cache
def _host() -> Any:
    # The library's own host starts two timer threads that outlive what they point at.
    return type("QuietHost", (_library().Host,), {"_run": lambda self: None})()


@dataclass(frozen=True, slots=True)
class _Batch:
    """Rows that run together as one ruleset of the library, and the attributes they read."""

    name: str
    handle: int
    owners: Mapping[str, int | str]
    attributes: tuple[Attribute, ...]
    parts: tuple[str, ...]
    names: tuple[str, ...]


_REMEMBERED = 50_000
"""Batches whose outcome is kept, so that panels alike and answers given later run once."""

_LOOKS = 5_000
"""Subjects, each at one level, whose firings are kept."""

_SUBJECT = "subject"
_SEEN = "seen"
_NOT_TAKEN = (1, 2)
"""What the core answers where no row reads a fact, or it was asserted before."""

_Stages = tuple[tuple[_Batch, ...], ...]


class SecondEngine:
    """A program translated for durable-rules once; `watch` checks an evaluation as it runs.

    Raises `ReasoningDisagreement` on creation where the library cannot take the rules. `close`
    gives the memory of the translated rules back; the engine cannot be used after it.
    """

    def __init__(self, program: Program) -> None:
        self.name = f"{DISTRIBUTION} {_version()}"
        self._program = program
        self._attributes = Attributes(program)
        self._names: list[str] = []
        self._levels: dict[tuple[int, bool], _Stages] = {}
        self._remembered: dict[Hashable, list[int | str]] = {}
        self._indices: dict[tuple[int, bool], tuple[int, ...]] = {}
        self._slots: dict[tuple[int, bool], tuple[int, ...]] = {}
        self._seen: dict[Hashable, frozenset[int]] = {}
        with _LOCK:
            for number, level in enumerate(program.levels):
                for of_car, rules in ((True, level.car_rules), (False, level.panel_rules)):
                    self._levels[number, of_car] = self._translate(rules)
                    read = frozenset[int]().union(*(rule.reads for rule in rules))
                    self._slots[number, of_car] = tuple(sorted(read))
                    self._indices[number, of_car] = tuple(rule.index for rule in rules)

    def __enter__(self) -> SecondEngine:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def watch(self) -> Watch:
        """A watcher for `evaluate` that raises `ReasoningDisagreement` at the first difference."""

        def check(number: int, level: Level, subject: Subject, where: str | None) -> None:
            fired = self.fires(number, subject, where)
            indices = self._indices[number, where is None]
            held = set(compress(indices, map(subject.truths.__getitem__, indices)))
            if fired != held:
                raise ReasoningDisagreement(self._disagreement(fired, held, where))

        return check

    def fires(self, number: int, subject: Subject, where: str | None) -> frozenset[int]:
        """The indices of the rules of one level that fire for a subject, by this engine alone."""
        level = number, where is None
        with _LOCK:
            # States that are exactly those of before need not even be coded again.
            key = (level, *map(subject.vector.__getitem__, self._slots[level]))
            found = self._seen.get(key)
            if found is None:
                if len(self._seen) >= _LOOKS:
                    self._seen.clear()
                found = self._seen[key] = self._fires(level, subject, where)
            return found

    def _fires(
        self, level: tuple[int, bool], subject: Subject, where: str | None
    ) -> frozenset[int]:
        found: set[int] = set()
        parts: set[str] = set()
        for stage in self._levels[level]:
            for batch in stage:
                for owner in self._run(batch, subject, parts, where):
                    if isinstance(owner, str):
                        parts.add(owner)
                    else:
                        found.add(owner)
        return frozenset(found)

    def forget(self) -> None:
        """Run every batch anew from now on, as an engine just made would."""
        with _LOCK:
            self._remembered.clear()
            self._seen.clear()

    def close(self) -> None:
        """Give back the memory of the translated rules."""
        with _LOCK:
            host, core = _host(), _core()
            for name in self._names:
                ruleset = host._ruleset_directory.pop(name)
                host._ruleset_list.remove(ruleset)
                core.delete_ruleset(ruleset._handle)
            self._names.clear()
            self._levels.clear()
            self.forget()

    # --- translating ---------------------------------------------------------------------------

    def _translate(self, rules: Iterable[CompiledRule]) -> _Stages:
        writer = RowWriter(self._attributes)
        for compiled in rules:
            writer.write(compiled.index, compiled.rule.when)
        ordered = sorted(writer.lines, key=lambda line: line.stage)
        return tuple(
            tuple(self._batch(lines) for lines in _dealt(list(stage), ROWS))
            for _, stage in groupby(ordered, key=lambda line: line.stage)
        )

    def _batch(self, lines: Sequence[Line]) -> _Batch:
        name = f"q{next(_NUMBERS)}"
        definition: dict[str, Any] = {_SEEN: {"all": [{"m": _pattern({})}], "run": _nothing}}
        owners: dict[str, int | str] = {}
        for place, line in enumerate(lines):
            owners[f"r{place}"] = line.owner
            definition[f"r{place}"] = {"all": [{"m": _pattern(line.row)}], "run": _nothing}
        try:
            _host().set_rulesets({name: definition})
        except Exception as error:
            self.close()
            raise ReasoningDisagreement(self._failure(f"cannot take the rules: {error}")) from error
        self._names.append(name)
        read = {attribute for line in lines for attribute in line.row}
        attributes = tuple(each for each in self._attributes if each.name in read)
        parts = tuple(sorted(part for part in read if part.startswith("p")))
        return _Batch(
            name,
            _host().get_ruleset(name)._handle,
            owners,
            attributes,
            parts,
            (*(each.name for each in attributes), *parts),
        )

    # --- running -------------------------------------------------------------------------------

    def _run(
        self, batch: _Batch, subject: Subject, parts: set[str], where: str | None
    ) -> list[int | str]:
        """What the rows of a batch fire for a subject."""
        vector = subject.vector
        states: dict[str, object] = {}
        for attribute in batch.attributes:
            code = attribute.encode(vector[attribute.slot])
            if code is not None:
                states[attribute.name] = code
        for part in batch.parts:
            if part in parts:
                states[part] = 1
        # In one order for all, and without the names, which would make up most of what is kept.
        key = (batch.name, *map(states.get, batch.names))
        if key not in self._remembered:
            if len(self._remembered) >= _REMEMBERED:
                self._remembered.clear()
            self._remembered[key] = self._fire(batch, states, where)
        return self._remembered[key]

    def _fire(self, batch: _Batch, states: dict[str, object], where: str | None) -> list[int | str]:
        """What the rows of a batch fire for a fact of these states, in a session of its own."""
        session = f"s{next(_NUMBERS)}"
        fact = json.dumps({"id": next(_NUMBERS), "sid": session, "t": _SUBJECT, **states})
        rows: list[str] = []
        try:
            rows.extend(_matched(batch.handle, fact))
            if rows.count(_SEEN) != 1:
                raise RuntimeError("the fact was not seen exactly once")
            return [batch.owners[row] for row in rows if row != _SEEN]
        except Exception as error:
            message = self._failure(f"failed on {_subject(where)}: {error}")
            raise ReasoningDisagreement(message) from error
        finally:
            # Deleting a session in which nothing ran ends the process.
            if rows:
                _core().delete_state(batch.handle, session)

    # --- refusing ------------------------------------------------------------------------------

    def _disagreement(self, fired: frozenset[int], held: set[int], where: str | None) -> str:
        rules = self._program.rules
        said = [
            f"rule {rules[index].rule.id} holds by the evaluator, but does not fire in {self.name}"
            for index in sorted(held - fired)
        ] + [
            f"rule {rules[index].rule.id} fires in {self.name}, but does not hold by the evaluator"
            for index in sorted(fired - held)
        ]
        return (
            f"The two engines do not agree about {_subject(where)}: {'; '.join(said)}. "
            "Nothing is recommended. This is a fault in prepwright, not in what was told."
        )

    def _failure(self, what: str) -> str:
        return (
            f"The second engine, {self.name}, {what}. Nothing is recommended without its agreement."
        )


def _matched(handle: int, fact: str) -> Iterator[str]:
    """The names of the rows that one fact matches, asked of the library's core row by row.

    Its own loop writes and reads the fact and the state over again for every row, which takes
    several times as long as the matching.
    """
    core = _core()
    answer, state = core.assert_fact(handle, fact)
    if answer in _NOT_TAKEN:
        raise RuntimeError("the fact was not taken")
    begun = core.start_action_for_state(handle, state)
    match = begun[1] if begun else None
    while match:
        # What matched comes back as it was asserted.
        name = match[2 : match.index('"', 2)]
        if match != f'{{"{name}":{{"m":{fact}}}}}':
            raise RuntimeError("a rule fired for another fact than the one asserted")
        yield name
        match = core.complete_and_start_action(handle, state)


def _nothing(_: object) -> None:
    """What the library is given to run; what matched is asked of its core instead."""


def _subject(where: str | None) -> str:
    return "the car" if where is None else f"the panel {where}"


def _dealt(lines: Sequence[Line], most: int) -> Iterator[Sequence[Line]]:
    for start in range(0, len(lines), most):
        yield lines[start : start + most]


def _pattern(row: Row) -> dict[str, Any]:
    """A row in the library's terms: what it is first, then equalities, then ranges."""
    exact = [{name: low} for name, (low, high) in row.items() if low == high]
    ranges = [
        bound
        for name, (low, high) in row.items()
        if low != high
        for bound in ({"$gte": {name: low}}, {"$lte": {name: high}})
    ]
    tests: list[dict[str, Any]] = [{"t": _SUBJECT}, *exact, *ranges]
    return {"$and": tests} if len(tests) > 1 else tests[0]


__all__ = ["SecondEngine", "available"]
