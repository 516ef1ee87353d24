"""The store of one shop's record: entries are added at the end and never changed.

Every `append` is one transaction that is on the disk before it returns. Several programs on one
machine may use a store at once; a store does not belong on a network disk, whose locks cannot be
relied on.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from engine.errors import JobChangedError, StoreError, TrailError, did_you_mean
from engine.plaintext import quoted
from engine.trail import names
from engine.trail.canonical import canonical
from engine.trail.drafts import check_draft
from engine.trail.entry import (
    GENESIS,
    Draft,
    Entry,
    EntryKind,
    Row,
    entry_of,
    row_of,
    written_time,
)
from engine.trail.seal import Seal
from engine.trail.sqlite import connect, damage, home, told_plainly

WAIT = 10.0
"""How many seconds to wait for another program that is writing."""

_COLUMNS = ", ".join(Row._fields)
_LAST = f"SELECT {_COLUMNS} FROM entries ORDER BY sequence DESC LIMIT 1"

Clock = Callable[[], datetime]


def now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


class Store:
    """The record of one shop, in one file. Use it as a context manager, or `close` it."""

    def __init__(
        self, connection: sqlite3.Connection, path: Path, clock: Clock, *, read_only: bool
    ) -> None:
        self.path = path
        self.read_only = read_only
        self.connection = connection
        self._clock = clock
        self._writing = False

    @classmethod
    def open(
        cls,
        path: Path | None = None,
        *,
        clock: Clock = now,
        read_only: bool = False,
        create: bool = True,
        wait: float = WAIT,
    ) -> Store:
        """Open a store; without `path` the one PREPWRIGHT_STORE names, or the user's own.

        One that is not there is made, unless `create` is false or it is opened `read_only`.
        Raises StoreError where it cannot be used.
        """
        where = home(path)
        connection = connect(where, read_only=read_only, create=create, wait=wait)
        return cls(connection, where, clock, read_only=read_only)

    def close(self) -> None:
        self.connection.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # --- adding -------------------------------------------------------------------------------

    def append(self, *drafts: Draft, expected_last: int | None = None) -> tuple[Entry, ...]:
        """Add entries, all of them or none.

        `expected_last` is the number of the last entry the caller has seen of the job that all
        the drafts are about (0 for none): where there is a later one, somebody else changed the
        job meanwhile. Raises JobChangedError then, TrailError where an entry does not fit the
        record, StoreError where the store cannot take it. Nothing is added then.
        """
        for draft in drafts:
            check_draft(draft)
        with self.writing():
            if expected_last is not None:
                self._check_unchanged(drafts, expected_last)
            added: list[Entry] = []
            row = self._last_row()
            last = entry_of(row) if row is not None else None
            for draft in drafts:
                last = self._add(draft, last)
                added.append(last)
            return tuple(added)

    def print_seal(self, actor: str, on: str, job: str | None = None) -> Seal:
        """Record that a seal is printed, and return it: it seals that very entry as well.

        `on` names what it is printed on. Raises as `append`.
        """
        with self.writing():
            entry = self.append(Draft(EntryKind.SEAL_PRINTED, actor, {"on": on}, job))[0]
            seal = Seal(entry.sequence, entry.hash)
            self._list(seal)
        return seal

    def pin(self) -> Seal | None:
        """List the seal of the record as it stands among those printed, without an entry.

        None where the record is empty. Raises as `append`.
        """
        with self.writing():
            seal = self.head()
            if seal is not None:
                self._list(seal)
        return seal

    def _list(self, seal: Seal) -> None:
        # Kept outside the chain: cutting off its tail does not take this along.
        query = "SELECT hash FROM seals WHERE sequence = ?"
        listed = self.connection.execute(query, (seal.sequence,)).fetchone()
        if listed is None:
            self.connection.execute(
                "INSERT INTO seals (sequence, hash) VALUES (?, ?)", (seal.sequence, seal.hash)
            )
        elif listed[0] != seal.hash:
            raise TrailError(
                f"a seal printed earlier names another entry {seal.sequence}: the record was cut "
                "off or written anew since. Verify the trail before anything rests on it."
            )

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction; it is on the disk when the outermost block is left without an error."""
        if self.read_only:
            raise StoreError(f"the store at {self.path} is open for reading only.")
        if self._writing:
            yield
            return
        with told_plainly(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            self._writing = True
            try:
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                # SQLite itself rolls back where it runs out of room.
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise
            finally:
                self._writing = False

    def _add(self, draft: Draft, last: Entry | None) -> Entry:
        self._check_job(draft)
        if draft.kind is EntryKind.DECISION:
            self._check_ruleset(draft)
        at = written_time(self._clock())
        added = row_of(
            draft,
            sequence=last.sequence + 1 if last else 1,
            at=at,
            set_back=last is not None and at < last.at,
            previous=last.hash if last else GENESIS,
        )
        marks = ", ".join("?" * len(added))
        self.connection.execute(f"INSERT INTO entries ({_COLUMNS}) VALUES ({marks})", added)
        return entry_of(added)

    def _check_job(self, draft: Draft) -> None:
        if draft.job is None or draft.kind is EntryKind.IMPORTED:
            return
        known = self.last(draft.job)
        if draft.kind is EntryKind.JOB_OPENED:
            if known:
                raise TrailError(
                    f"there is already a job {quoted(draft.job)}. Go on with it, or give the new "
                    "one another name."
                )
        elif not known:
            near = self.near(draft.job)
            raise TrailError(f"there is no job {quoted(draft.job)}. {near or 'Open it first.'}")

    def _check_ruleset(self, draft: Draft) -> None:
        ruleset = draft.payload.get("ruleset")
        digest = ruleset.get("digest") if isinstance(ruleset, dict) else None
        query = "SELECT 1 FROM ruleset_files WHERE digest = ?"
        if not isinstance(digest, str) or not self.connection.execute(query, (digest,)).fetchone():
            raise TrailError(
                "a decision is recorded only where the rule set it was decided by is kept; "
                "keep the rule set first"
            )

    def _check_unchanged(self, drafts: tuple[Draft, ...], expected: int) -> None:
        for job in dict.fromkeys(draft.job for draft in drafts):
            last = self.last(job)
            if last == expected:
                continue
            found = self.entry(last) if last else None
            what = (
                f"entry {last}, {found.kind.value}, by {quoted(found.actor)} at {found.at}"
                if found
                else "it has no entry"
            )
            whose = f"the job {quoted(job)}" if job is not None else "the record of the shop"
            raise JobChangedError(
                f"{whose} was changed in the meantime: {what}. Nothing was added. "
                "Look at it again, then repeat what still holds."
            )

    # --- reading ------------------------------------------------------------------------------

    def entries(
        self,
        job: str | None = None,
        *,
        kinds: Iterable[EntryKind] = (),
        first: int | None = None,
        last: int | None = None,
        backwards: bool = False,
    ) -> Iterator[Entry]:
        """The entries in order, of one job or of all, of some kinds or of all, read one by one.

        `backwards` gives the last first. Raises TrailError at an entry that was changed after it
        was added.
        """
        for row in self.rows(job, kinds=kinds, first=first, last=last, backwards=backwards):
            yield entry_of(row)

    def rows(
        self,
        job: str | None = None,
        *,
        kinds: Iterable[EntryKind] = (),
        first: int | None = None,
        last: int | None = None,
        backwards: bool = False,
    ) -> Iterator[Row]:
        """As `entries`, unchecked."""
        where, wanted = _where(job, kinds, first, last)
        order = "sequence DESC" if backwards else "sequence"
        query = f"SELECT {_COLUMNS} FROM entries WHERE {where} ORDER BY {order}"
        with told_plainly(self.path):
            yield from map(Row._make, self.connection.execute(query, wanted))

    def numbers(
        self, job: str | None = None, *, kinds: Iterable[EntryKind] = (), last: int | None = None
    ) -> Iterator[int]:
        """The numbers of the entries that `entries` would give."""
        where, wanted = _where(job, kinds, None, last)
        query = f"SELECT sequence FROM entries WHERE {where} ORDER BY sequence"
        with told_plainly(self.path):
            for row in self.connection.execute(query, wanted):
                yield int(row[0])

    def count(self, job: str | None = None, *, kinds: Iterable[EntryKind] = ()) -> int:
        """How many entries `entries` would give."""
        where, wanted = _where(job, kinds, None, None)
        with told_plainly(self.path):
            query = f"SELECT count(*) FROM entries WHERE {where}"
            return int(self.connection.execute(query, wanted).fetchone()[0])

    def entry(self, sequence: int) -> Entry:
        """One entry. Raises TrailError where there is none of that number, or it was changed."""
        for entry in self.entries(first=sequence, last=sequence):
            return entry
        raise TrailError(f"the record has no entry {sequence}")

    def last(self, job: str | None = None) -> int:
        """The number of the last entry of a job, or about the whole shop; 0 where there is none."""
        with told_plainly(self.path):
            query = "SELECT ifnull(max(sequence), 0) FROM entries WHERE job IS ?"
            return int(self.connection.execute(query, (_name(job),)).fetchone()[0])

    def jobs(self) -> tuple[str, ...]:
        """The names of all jobs, in the order in which they were opened."""
        with told_plainly(self.path):
            return names.opened(self.connection)

    def changed_jobs(
        self, words: str = "", *, most: int | None = None, skip: int = 0
    ) -> tuple[tuple[tuple[str, int], ...], int]:
        """Jobs with `words` in their names, each with the number of its last entry.

        The one changed last comes first; `most` of them after the first `skip`. Second is how
        many there are in all.
        """
        with told_plainly(self.path):
            return names.changed(self.connection, words, most, skip)

    def near(self, job: str) -> str | None:
        """A suggestion naming jobs whose names are like `job`; None where none is."""
        canonical(job)
        with told_plainly(self.path):
            return did_you_mean(job, names.beside(self.connection, job))

    def head(self) -> Seal | None:
        """The seal of the record as it stands; None where it is empty."""
        row = self._last_row()
        return Seal(row.sequence, row.hash) if row is not None else None

    @contextmanager
    def reading(self) -> Iterator[None]:
        """One view of the store: what others add meanwhile is not seen."""
        with told_plainly(self.path):
            if self.connection.in_transaction:
                yield
                return
            self.connection.execute("BEGIN")
            try:
                yield
            finally:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")

    def damage(self) -> list[str]:
        """What is wrong with the file itself, whatever it says; empty where nothing is."""
        return damage(self.connection)

    def _last_row(self) -> Row | None:
        with told_plainly(self.path):
            found = self.connection.execute(_LAST).fetchone()
            return Row._make(found) if found else None


def _where(
    job: str | None, kinds: Iterable[EntryKind], first: int | None, last: int | None
) -> tuple[str, list[object]]:
    where: list[str] = []
    wanted: list[object] = []
    if first is not None:
        where.append("sequence >= ?")
        wanted.append(first)
    if last is not None:
        where.append("sequence <= ?")
        wanted.append(last)
    if job is not None:
        where.append("job = ?")
        wanted.append(_name(job))
    names = [kind.value for kind in kinds]
    if names:
        where.append(f"kind IN ({', '.join('?' * len(names))})")
        wanted.extend(names)
    return " AND ".join(where) or "TRUE", wanted


def _name(job: str | None) -> str | None:
    """A name that can be looked up. Raises TrailError where it is no text."""
    canonical(job)
    return job
