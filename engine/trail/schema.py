"""The tables of a store, and the steps that bring an older store up to date.

A migration is a tuple of statements; `user_version` counts those done. A released migration is
never edited: stores exist that have gone through it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from functools import cache

from engine.trail.entry import GENESIS

APPLICATION_ID = 0x50575254
"""Marks the file as ours in its header (SQLite `application_id`)."""

LEAST_SQLITE = (3, 37, 0)
"""The first SQLite with STRICT tables."""

_FIRST = (
    """
    CREATE TABLE entries (
        sequence INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        actor TEXT NOT NULL,
        instrument TEXT,
        job TEXT,
        kind TEXT NOT NULL,
        clock_set_back INTEGER NOT NULL,
        payload TEXT NOT NULL,
        previous TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX entries_by_job ON entries (job)",
    "CREATE INDEX entries_by_kind ON entries (kind)",
    """
    CREATE TABLE seals (
        sequence INTEGER PRIMARY KEY,
        hash TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE ruleset_files (
        digest TEXT NOT NULL,
        path TEXT NOT NULL,
        content TEXT NOT NULL,
        PRIMARY KEY (digest, path)
    ) STRICT, WITHOUT ROWID
    """,
    "CREATE TABLE contents (hash TEXT PRIMARY KEY, packed BLOB NOT NULL) STRICT",
    *(
        f"""
        CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END
        """
        for table in ("entries", "seals", "ruleset_files", "contents")
        for verb in ("UPDATE", "DELETE")
    ),
    # Without this INSERT OR REPLACE would pass by the triggers above.
    f"""
    CREATE TRIGGER entries_only_at_the_end BEFORE INSERT ON entries
    WHEN NEW.sequence IS NOT (SELECT ifnull(max(sequence), 0) + 1 FROM entries)
      OR NEW.previous IS NOT ifnull(
          (SELECT hash FROM entries ORDER BY sequence DESC LIMIT 1), '{GENESIS}')
    BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END
    """,
    *(
        f"""
        CREATE TRIGGER {table}_no_replacing BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END
        """
        for table, same in (
            ("seals", "sequence = NEW.sequence"),
            ("ruleset_files", "digest = NEW.digest AND path = NEW.path"),
            ("contents", "hash = NEW.hash"),
        )
    ),
)

MIGRATIONS: Sequence[Sequence[str]] = (_FIRST,)


def migrate(connection: sqlite3.Connection, done: int) -> None:
    """Run the migrations after the first `done`, inside the transaction that is open."""
    for statements in MIGRATIONS[done:]:
        for statement in statements:
            connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def definitions(connection: sqlite3.Connection) -> dict[str, str]:
    """The tables, indexes and triggers of a database, by name, as they were defined."""
    rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {str(name): " ".join(str(sql).split()) for name, sql in rows}


def expected_definitions() -> dict[str, str]:
    """The definitions of a store that nobody has tampered with."""
    return _expected(len(MIGRATIONS))


@cache
def _expected(_version: int) -> dict[str, str]:
    with sqlite3.connect(":memory:") as connection:
        migrate(connection, 0)
        found = definitions(connection)
    connection.close()
    return found
