"""A small record to try things on: a retired bookmobile van, a clock that can be set."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

from engine.errors import Place
from engine.facts import JobFacts, Told
from engine.ruleset import RuleSet
from engine.trail import Draft, EntryKind, Store, opening, telling, withdrawing
from engine.trail.rulesets import files_of, keep, keep_files, load_for_deciding
from engine.trail.store import Row

FILES = {"ruleset.yaml": b"name: tiny\n", "rules/film.yaml": "because: «zu dick»\n".encode()}


class SetClock:
    """A clock that goes on by a second a look, unless it is set."""

    def __init__(self) -> None:
        self.moment = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


def readings(*spots: tuple[int, ...]) -> Told:
    value = tuple(tuple(Fraction(reading, 3) for reading in spot) for spot in spots)
    return Told(value, "as read", by="Kim", at="2031-05-06", instrument="gauge 2", unit="um")


BOOKMOBILE = JobFacts(
    "BM-7",
    shop={"shop.region": Told("us", "us")},
    car={"car.year": Told(Fraction(1996), "1996", place=Place("bm7.yaml", 4, 9))},
    panels={
        "roof": {"film.readings": readings((380, 381), (402,))},
        "bonnet": {
            "defects": Told(frozenset(("chips", "fading")), "chips and fading", by="Ada"),
            "substrate": Told(None, "don't know"),
        },
        "left door": {},
    },
)


def tiny_digest(store: Store) -> str:
    """Keeps a few files as if they were a rule set."""
    from engine.ruleset.digest import digest_of

    digest = digest_of(FILES)
    keep(store, digest, FILES, {"name": "tiny", "version": "1"}, "Kim")
    return digest


def keep_ruleset(store: Store, folder: Path, actor: str) -> RuleSet:
    """Loads the rule set in a folder and keeps it, as recording a decision does."""
    ruleset = load_for_deciding(folder)
    keep_files(store, ruleset, files_of(folder), actor)
    return ruleset


def fill(store: Store) -> None:
    """A record with an entry of most kinds, two jobs, and a printed seal in the middle."""
    digest = tiny_digest(store)
    store.append(opening(BOOKMOBILE, "Kim"))
    store.append(opening(JobFacts("BM-8"), "Ada"))
    store.append(
        telling("BM-7", "Kim", [("panel", "bonnet", "substrate", Told("steel", "steel"))]),
        Draft(EntryKind.NOTE, "Ada", {"text": "waits for the booth"}, "BM-8"),
        Draft(
            EntryKind.GAUGE_CHECK, "Ada", {"foil": "125.0 um", "read": "126 um"}, None, "gauge 2"
        ),
        withdrawing("BM-7", "Kim", [("car", None, "car.year")]),
    )
    store.append(decision(digest, "BM-7", "sand"))
    store.print_seal("Kim", "report of BM-7", "BM-7")
    store.append(
        Draft(EntryKind.STEP_DONE, "Ada", {"step": "wash-car"}, "BM-7"),
        Draft(EntryKind.HOLD_SIGNED, "Lee", {"hold": "sign-off"}, "BM-7"),
        decision(digest, "BM-7", "partial-strip"),
    )


def decision(digest: str, job: str, treatment: str) -> Draft:
    payload = {"ruleset": {"digest": digest}, "outcome": {"bonnet": treatment, "film": 128.3}}
    return Draft(EntryKind.DECISION, "Kim", payload, job)


def filled(path: Path) -> Store:
    store = Store.open(path, clock=SetClock())
    fill(store)
    return store


def without_protection(connection: sqlite3.Connection, *statements: str | tuple) -> None:
    """Run statements as somebody who knows how to take the triggers away and put them back."""
    triggers = connection.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    ).fetchall()
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        if isinstance(statement, str):
            connection.execute(statement)
        else:
            connection.execute(*statement)
    for _, sql in triggers:
        connection.execute(sql)


def tables(connection: sqlite3.Connection) -> dict[str, list]:
    """Everything a store holds."""
    return {
        table: connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall()
        for table in ("entries", "seals", "ruleset_files", "contents")
    }


def rows(store: Store) -> list[Row]:
    return list(store.rows())


def codes(report) -> set[str]:
    return {found.code for found in report.findings}
