"""Opens the store's file and turns what SQLite says into messages a person can act on."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from engine.errors import StoreError, TrailError
from engine.plaintext import printable
from engine.trail import schema

_PAUSE = 0.02
_OURS = "SELECT count(*) FROM sqlite_master"

_FULL = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_TOOBIG)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_CLOSED = (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH)


class _OlderFormat(StoreError):
    """The store wants a migration and is open for reading alone."""


@contextmanager
def told_plainly(path: Path) -> Iterator[None]:
    """Errors of SQLite become StoreError, those of the append-only triggers TrailError."""
    try:
        yield
    except sqlite3.Error as error:
        raise _plain(error, path) from error
    except UnicodeDecodeError as error:
        # The message of SQLite itself repeats bytes of a damaged file.
        raise _damaged(path, "it holds bytes that are no text") from error


def connect(path: Path, *, read_only: bool, create: bool, wait: float) -> sqlite3.Connection:
    """A connection to the store at `path`, its tables up to date.

    `wait` is how many seconds to wait for another program that is writing. Raises StoreError.
    """
    if sqlite3.sqlite_version_info < schema.LEAST_SQLITE:
        raise StoreError(
            f"the record needs SQLite {_dotted(schema.LEAST_SQLITE)} or later; this Python has "
            f"{sqlite3.sqlite_version}. Install a newer Python."
        )
    _check_path(path, create=create and not read_only)
    with told_plainly(path):
        if read_only:
            return _to_read(path, wait)
        connection = _open(path, "rwc" if create else "rw", wait)
        try:
            _prepare(connection, path, wait)
        except BaseException:
            connection.close()
            raise
        return connection


def damage(connection: sqlite3.Connection) -> list[str]:
    """What SQLite finds wrong with the file itself; empty where nothing is."""
    try:
        found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(20)")]
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        return [str(error)]
    return [] if found == ["ok"] else found


def _check_path(path: Path, *, create: bool) -> None:
    try:
        if path.is_dir():
            raise StoreError(f"{path} is a folder; name the store's file.")
        if not path.exists():
            if not create:
                raise StoreError(
                    f"there is no store at {path} yet. Begin one with `prepwright chat MY-JOB`, or "
                    "check the name and the folder."
                )
            path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise StoreError(f"the store at {path} cannot be used: {reason}.") from error


def _open(path: Path, mode: str, wait: float, *more: str) -> sqlite3.Connection:
    where = "&".join((f"file:{quote(str(path.resolve()))}?mode={mode}", *more))
    connection = sqlite3.connect(where, uri=True, timeout=wait, isolation_level=None)
    # Bytes that are no text must reach verification, which names their entry, not stop it.
    connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    return connection


def _to_read(path: Path, wait: float) -> sqlite3.Connection:
    """A connection that only reads; a store of an older format is brought up to date first."""
    connection = _open(path, "ro", wait)
    try:
        return _ready_to_read(connection, path, wait)
    except _OlderFormat as older:
        connection.close()
        try:
            with closing(_open(path, "rw", wait)) as writing:
                _prepare(writing, path, wait)
        except sqlite3.OperationalError as error:
            if _code(error) not in (sqlite3.SQLITE_READONLY, *_CLOSED):
                raise
            raise older from error
        return _to_read(path, wait)
    except BaseException:
        connection.close()
        raise


def _ready_to_read(connection: sqlite3.Connection, path: Path, wait: float) -> sqlite3.Connection:
    try:
        connection.execute(_OURS).fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        if _code(error) not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
            raise
        # A disk that cannot be written to holds no lock files either; then nobody writes to it.
        log = Path(f"{path.resolve()}-wal")
        if log.exists() and log.stat().st_size:
            raise StoreError(
                f"the last entries of the store are still in {log.name}, which cannot be read "
                "where nothing may be written. Copy both files to a folder you may write to and "
                "open the copy."
            ) from error
        connection = _open(path, "ro", wait, "immutable=1")
    try:
        _check_version(connection, path, may_migrate=False)
    except BaseException:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection, path: Path, wait: float) -> None:
    if _check_version(connection, path, may_migrate=True) < len(schema.MIGRATIONS):
        _in_wal_mode(connection, wait)
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another program may have got here first.
            done = _check_version(connection, path, may_migrate=True)
            if done < len(schema.MIGRATIONS):
                schema.migrate(connection, done)
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
    connection.execute("PRAGMA synchronous = FULL")


def _in_wal_mode(connection: sqlite3.Connection, wait: float) -> None:
    # SQLite does not wait by itself for this change.
    until = time.monotonic() + wait
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if _code(error) not in _BUSY or time.monotonic() > until:
                raise
            time.sleep(_PAUSE)


def _check_version(connection: sqlite3.Connection, path: Path, *, may_migrate: bool) -> int:
    """How many migrations the store has gone through. Raises StoreError where it cannot be used."""
    mark, version, tables = connection.execute(
        "SELECT (SELECT application_id FROM pragma_application_id), "
        f"(SELECT user_version FROM pragma_user_version), ({_OURS})"
    ).fetchone()
    known = len(schema.MIGRATIONS)
    if (mark, version, tables) == (0, 0, 0) and may_migrate:
        return 0
    if mark != schema.APPLICATION_ID:
        raise StoreError(f"{path} is not a store of prepwright. Name another file.")
    if version > known:
        raise StoreError(
            f"the store at {path} was written by a newer prepwright: it has format {version}, "
            f"and this one knows up to {known}. Update prepwright."
        )
    if version < known and not may_migrate:
        raise _OlderFormat(
            f"the store at {path} has the older format {version}, and it may only be read here. "
            "Open it once where it may be written to."
        )
    return int(version)


def _plain(error: sqlite3.Error, path: Path) -> Exception:
    code = _code(error)
    if code == sqlite3.SQLITE_CONSTRAINT:
        return TrailError(f"the store refused an entry: {error}. Nothing was added.")
    if code in _BUSY:
        return StoreError(
            f"another program is writing to the store at {path} and has not finished. "
            "Nothing was added. Try again."
        )
    if code in _FULL:
        return StoreError(
            f"there is no room left for the store at {path}. Nothing was added. "
            "Free some space and try again."
        )
    if code in _DAMAGED:
        return _damaged(path, str(error))
    if code == sqlite3.SQLITE_READONLY:
        return StoreError(f"the store at {path} may only be read. Nothing was added.")
    if code in _CLOSED:
        return StoreError(
            f"the store at {path} cannot be opened ({error}). "
            "Check that you may read and write the file and its folder."
        )
    if code == sqlite3.SQLITE_IOERR:
        return StoreError(
            f"the disk failed while the store at {path} was used ({error}). Nothing was added. "
            "Check that the disk has room and is sound."
        )
    return StoreError(f"the store at {path} cannot be used ({printable(str(error), 200)}).")


def _damaged(path: Path, why: str) -> StoreError:
    return StoreError(
        f"the file of the store at {path} is damaged, or none ({printable(why, 200)}). Keep a copy "
        "of it as it is, do not add to it, and go back to the last export or backup that verifies."
    )


def _code(error: sqlite3.Error) -> int:
    code = getattr(error, "sqlite_errorcode", None)
    # The low byte is the error, the rest its finer cause.
    return code & 0xFF if isinstance(code, int) else sqlite3.SQLITE_ERROR


def _dotted(version: tuple[int, ...]) -> str:
    return ".".join(str(part) for part in version)


def home(given: Path | None = None) -> Path:
    """Where the store is: as given, by the variable PREPWRIGHT_STORE, or the user's data folder."""
    named = os.environ.get("PREPWRIGHT_STORE")
    if given is not None or named:
        return given if given is not None else Path(str(named))
    from platformdirs import user_data_path

    return user_data_path("prepwright", appauthor=False) / "shop.db"
