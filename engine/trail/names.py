"""Names of jobs, found by the index that the entries have by job."""

from __future__ import annotations

import re
import sqlite3

_NEIGHBOURS = 200
"""How many names are looked at for one that is like another: there may be very many."""


def opened(connection: sqlite3.Connection) -> tuple[str, ...]:
    """All names, in the order in which the jobs were opened."""
    query = "SELECT job FROM entries WHERE job IS NOT NULL GROUP BY job ORDER BY min(sequence)"
    return tuple(str(row[0]) for row in connection.execute(query))


def changed(
    connection: sqlite3.Connection, words: str, most: int | None, skip: int
) -> tuple[tuple[tuple[str, int], ...], int]:
    """Names with `words` in them and their last entries, the latest first, and their count."""
    part = re.sub(r"([\\%_])", r"\\\1", words)
    held = "job IS NOT NULL AND (? = '' OR job LIKE ? ESCAPE '\\')"
    latest = (
        f"SELECT job, max(sequence) AS last FROM entries WHERE {held} GROUP BY job "
        "ORDER BY last DESC LIMIT ? OFFSET ?"
    )
    limits = (-1 if most is None else most, skip)
    rows = connection.execute(latest, (words, f"%{part}%", *limits)).fetchall()
    counted = f"SELECT count(DISTINCT job) FROM entries WHERE {held}"
    (total,) = connection.execute(counted, (words, f"%{part}%")).fetchone()
    return tuple((str(job), int(last)) for job, last in rows), int(total)


def beside(connection: sqlite3.Connection, job: str) -> list[str]:
    """Names that a mistyped one may be meant for: those next to it, and those in work."""
    found: list[str] = []
    for side, order in (("<", "DESC"), (">=", "ASC")):
        query = (
            f"SELECT DISTINCT job FROM entries WHERE job {side} ? "
            f"ORDER BY job {order} LIMIT {_NEIGHBOURS}"
        )
        found += (str(row[0]) for row in connection.execute(query, (job,)))
    latest, _ = changed(connection, "", _NEIGHBOURS, 0)
    return found + [name for name, _ in latest]
