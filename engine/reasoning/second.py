"""durable-rules as a second engine, which has to agree with the evaluator rule by rule.

It forward-chains the rules of each level over the flat states the evaluator worked out for a
subject, and what it fires is compared with what the evaluator holds true. Only what was measured
to be safe in that library is used: flat facts of whole numbers under generated names, one row a
conjunction, few rows a ruleset, no joins, one quiet host a process, a row in each ruleset that
fires for every fact, one session a ruleset at a time, few facts a session, one after the other,
and every session deleted once that row has run. The library is imported when the first engine is
made.

Sessions of all engines share one host and take turns by a lock, so engines may be used from
several threads.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import compress, count, groupby
from operator import itemgetter
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any

from engine.errors import ReasoningDisagreement
from engine.reasoning.evaluate import Subject, Watch
from engine.reasoning.program import CompiledRule, Level, Program
from engine.reasoning.second_rows import Attributes, Line, Row, RowWriter, Texts, state_text

DISTRIBUTION = "durable-rules"
ROWS = 49
"""Rows one ruleset of the library is given, besides the one that always fires; above 64 it loses
facts."""

FACTS = 12
"""Facts one session of the library is given. To begin a session takes longer than to match a fact,
since the library clears memory for every row of the ruleset; it makes room for some 15 facts."""

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


class _Batch:
    """Rows that run together as one ruleset of the library, and the session it has open, if any.

    `owners` tells what each row is of, `reads` the attributes and parts the rows read, in one
    order for all.
    """

    def __init__(
        self, handle: int, owners: Mapping[str, int | str], reads: tuple[str, ...]
    ) -> None:
        self.reads = reads
        self.handle = handle
        self._owners = owners
        self._session: str | None = None
        self._facts = 0

    def fire(self, states: Iterable[str | None]) -> list[int | str]:
        """What the rows fire for a fact of these states, each as it is written out.

        Raises whatever goes wrong in the library; the session is given up then.
        """
        if self._session is None:
            self._session = f"s{next(_NUMBERS)}"
        self._facts += 1
        told = ", ".join((f'"t": "{_SUBJECT}"', *filter(None, states)))
        fact = f'{{"id": {self._facts}, "sid": "{self._session}", {told}}}'
        rows: list[str] = []
        try:
            rows.extend(_matched(self.handle, fact))
            if rows.count(_SEEN) != 1:
                raise RuntimeError("the fact was not seen exactly once")
        except BaseException:
            # What was not run to its end must not turn up with the next fact.
            self._give_up(ran=bool(rows) or self._facts > 1)
            raise
        if self._facts == FACTS:
            self.close()
        return [self._owners[row] for row in rows if row != _SEEN]

    def close(self) -> None:
        """Delete the session that is open."""
        if self._session is not None:
            self._give_up(ran=True)

    def _give_up(self, *, ran: bool) -> None:
        session, self._session, self._facts = self._session, None, 0
        # Deleting a session in which nothing ran ends the process.
        if ran:
            _core().delete_state(self.handle, session)


_REMEMBERED = 50_000
"""Batches whose outcome is kept, so that panels alike and answers given later run once."""

_LOOKS = 5_000
"""Subjects, each at one level, whose firings are kept."""

_SUBJECT = "subject"
_SEEN = "seen"
_NOT_TAKEN = (1, 2)
"""What the core answers where no row reads a fact, or it was asserted before."""

_Pick = Callable[[Sequence[Any]], tuple[Any, ...]]
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
        self._batches: list[_Batch] = []
        self._levels: dict[tuple[int, bool], _Stages] = {}
        self._remembered: dict[Hashable, list[int | str]] = {}
        self._indices: dict[tuple[int, bool], tuple[int, ...]] = {}
        self._truths: dict[tuple[int, bool], _Pick] = {}
        self._states: dict[tuple[int, bool], _Pick] = {}
        self._texts: dict[str, Texts] = {}
        self._read: dict[tuple[int, bool], tuple[tuple[str, int, Texts], ...]] = {}
        self._seen: dict[Hashable, frozenset[int]] = {}
        with _LOCK:
            for number, level in enumerate(program.levels):
                for of_car, rules in ((True, level.car_rules), (False, level.panel_rules)):
                    stages = self._levels[number, of_car] = self._translate(rules)
                    self._read[number, of_car] = self._attributes_of(stages)
                    read = frozenset[int]().union(*(rule.reads for rule in rules))
                    self._states[number, of_car] = _picking(sorted(read))
                    indices = self._indices[number, of_car] = tuple(rule.index for rule in rules)
                    self._truths[number, of_car] = _picking(indices)

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
            held = set(compress(indices, self._truths[number, where is None](subject.truths)))
            if fired != held:
                raise ReasoningDisagreement(self._disagreement(fired, held, where))

        return check

    def fires(self, number: int, subject: Subject, where: str | None) -> frozenset[int]:
        """The indices of the rules of one level that fire for a subject, by this engine alone."""
        level = number, where is None
        with _LOCK:
            # States that are exactly those of before need not even be coded again.
            key = (level, self._states[level](subject.vector))
            found = self._seen.get(key)
            if found is None:
                if len(self._seen) >= _LOOKS:
                    self._seen.clear()
                found = self._seen[key] = self._fires(level, subject, where)
            return found

    def _fires(
        self, level: tuple[int, bool], subject: Subject, where: str | None
    ) -> frozenset[int]:
        vector = subject.vector
        states = {name: texts[vector[slot]] for name, slot, texts in self._read[level]}
        found: set[int] = set()
        for stage in self._levels[level]:
            for batch in stage:
                for owner in self._run(batch, states, where):
                    if isinstance(owner, str):
                        states[owner] = state_text(owner, 1)
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
            for batch in self._batches:
                batch.close()
            self._batches.clear()
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
        read = dict.fromkeys(attribute for line in lines for attribute in line.row)
        batch = _Batch(_host().get_ruleset(name)._handle, owners, tuple(read))
        self._batches.append(batch)
        return batch

    def _attributes_of(self, stages: _Stages) -> tuple[tuple[str, int, Texts], ...]:
        read = {name for stage in stages for batch in stage for name in batch.reads}
        return tuple(
            (each.name, each.slot, self._texts.setdefault(each.name, Texts(each)))
            for each in self._attributes
            if each.name in read
        )

    # --- running -------------------------------------------------------------------------------

    def _run(
        self, batch: _Batch, states: Mapping[str, str | None], where: str | None
    ) -> list[int | str]:
        """What the rows of a batch fire for a subject."""
        told = tuple(map(states.get, batch.reads))
        key = batch.handle, told
        found = self._remembered.get(key)
        if found is None:
            if len(self._remembered) >= _REMEMBERED:
                self._remembered.clear()
            try:
                found = self._remembered[key] = batch.fire(told)
            except Exception as error:
                message = self._failure(f"failed on {_subject(where)}: {error}")
                raise ReasoningDisagreement(message) from error
        return found

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


def _picking(places: Sequence[int]) -> _Pick:
    """What picks the items at these places out of a list, as a tuple."""
    if len(places) > 1:
        return itemgetter(*places)
    return lambda items: tuple(items[place] for place in places)


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
