"""Verifies a store: its file, every link of its chain, its seals and the rule sets it kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from engine.errors import StoreError
from engine.plaintext import printable, quoted
from engine.trail import rulesets, schema
from engine.trail.canonical import parse
from engine.trail.chain import TrailReport, Walk
from engine.trail.entry import EntryKind, Row
from engine.trail.seal import PaperSeal, Seal, read_seal
from engine.trail.sqlite import told_plainly
from engine.trail.store import Store

Progress = Callable[[int, int], None]
"""Told how many of how many are done."""

_EVERY = 500


def verify(store: Store, seal: str | None = None, progress: Progress | None = None) -> TrailReport:
    """Verify the whole record; `seal` is one kept outside the store, as it is typed in.

    Any entry that was changed, removed, put in or moved is named. A tail cut off is found against
    `seal` and against the seals the store recorded as printed. Raises UsageError where `seal` is
    no seal, StoreError where the file is too damaged to be read at all.
    """
    given: list[tuple[PaperSeal | Seal, str]] = []
    if seal is not None:
        given.append((read_seal(seal), "the seal you gave"))
    with store.reading():
        return _Verification(store, given).run(progress)


class _Verification:
    def __init__(self, store: Store, given: list[tuple[PaperSeal | Seal, str]]) -> None:
        self._store = store
        self._kept: dict[str, int] = {}
        self._printed: set[int] = set()
        self._noted = self._recorded_seals()
        recorded = ((seal, "the store's list of printed seals") for seal in self._noted)
        self._walk = Walk((*given, *recorded))

    def run(self, progress: Progress | None) -> TrailReport:
        walk, store = self._walk, self._store
        for problem in store.damage():
            walk.found("damaged-file", None, f"the file is damaged: {printable(problem, 200)}")
        total = 0
        with self._past_damage():
            self._check_protection()
            total = self._count() if progress else 0
        with self._past_damage():
            for row in store.rows():
                if walk.entry(row):
                    self._look_into(row)
                if progress and walk.entries % _EVERY == 0:
                    progress(walk.entries, total)
        self._check_seals()
        with self._past_damage():
            self._check_rulesets()
        if progress:
            progress(walk.entries, max(total, walk.entries))
        return walk.report()

    @contextmanager
    def _past_damage(self) -> Iterator[None]:
        """Takes down that a part of the file cannot be read, and goes on with the next."""
        try:
            yield
        except StoreError as error:
            self._walk.found("damaged-file", None, str(error))

    def _recorded_seals(self) -> list[Seal]:
        with told_plainly(self._store.path):
            rows = self._store.connection.execute("SELECT sequence, hash FROM seals")
            return [Seal(sequence, hash_) for sequence, hash_ in rows]

    def _count(self) -> int:
        with told_plainly(self._store.path):
            query = "SELECT count(*) FROM entries"
            return int(self._store.connection.execute(query).fetchone()[0])

    def _check_protection(self) -> None:
        with told_plainly(self._store.path):
            found = schema.definitions(self._store.connection)
        expected = schema.expected_definitions()
        for name in sorted(found.keys() | expected.keys()):
            if found.get(name) != expected.get(name):
                what = "missing" if name not in found else "not as prepwright made it"
                self._walk.found("unprotected", None, f"`{name}`, a part of the store, is {what}")

    def _look_into(self, row: Row) -> None:
        if row.kind == EntryKind.SEAL_PRINTED:
            self._printed.add(row.sequence)
        elif row.kind == EntryKind.RULESET_KEPT:
            payload = parse(row.payload)
            self._kept[str(payload.get("digest"))] = row.sequence
            for problem in rulesets.problems(self._store, payload):
                self._walk.found("ruleset", row.sequence, problem)
        elif row.kind == EntryKind.DECISION:
            self._check_decision(row.sequence, parse(row.payload))

    def _check_decision(self, sequence: int, payload: Any) -> None:
        ruleset = payload.get("ruleset")
        digest = ruleset.get("digest") if isinstance(ruleset, dict) else None
        if digest not in self._kept:
            self._walk.found(
                "ruleset", sequence, "the rule set it was decided by was not kept before it"
            )

    def _check_seals(self) -> None:
        listed = {seal.sequence for seal in self._noted}
        for sequence in sorted(self._printed - listed):
            self._walk.found(
                "seal-record", sequence, "it printed a seal that the store's list of seals lacks"
            )

    def _check_rulesets(self) -> None:
        for digest in rulesets.digests(self._store):
            if digest not in self._kept:
                self._walk.found(
                    "ruleset", None, f"no sound entry tells of the rule set {quoted(digest)}"
                )
