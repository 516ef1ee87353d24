"""One entry of the record, and how it is hashed and chained.

    content   {actor, at, clock_set_back, instrument, job, kind, payload}
    link      {content: SHA-256 of the content, job: SHA-256 naming the job, previous, sequence}
    hash      SHA-256 of the link

Contents and links are hashed as canonical JSON. The link stands between content and chain so that
the entries of one job can be shown to somebody, and proved, while the others stay closed: of those
only the two hashes are shown, enough to see that none is missing and none is about the shown job.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, NamedTuple

from engine.errors import TrailError
from engine.plaintext import quoted
from engine.records import dataclass
from engine.trail.canonical import canonical, parse, sha256

GENESIS = "0" * 64
"""What the first entry has as the hash before it."""


class EntryKind(StrEnum):
    """What an entry records. The first five change what is known of a job."""

    JOB_OPENED = "job-opened"
    TOLD = "told"
    READING = "reading"
    FOUND = "found"
    WITHDRAWN = "withdrawn"
    DECISION = "decision"
    STEP_DONE = "step-done"
    HOLD_SIGNED = "hold-signed"
    NOTE = "note"
    RULESET_KEPT = "ruleset-kept"
    RULESET_CHANGE = "ruleset-change"
    GAUGE_CHECK = "gauge-check"
    SEAL_PRINTED = "seal-printed"
    IMPORTED = "imported"


_KINDS = frozenset(kind.value for kind in EntryKind)


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry yet to be added: `job` is None where it is about the whole shop.

    `actor` says who did it, `instrument` with what it was measured. `payload` is plain data, see
    `engine.trail.canonical`.
    """

    kind: EntryKind
    actor: str
    payload: Mapping[str, Any]
    job: str | None = None
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the record. `at` is UTC in ISO 8601.

    `clock_set_back`: when it was added, the clock stood earlier than the entry before it.
    `previous` is the hash of the entry before, `hash` its own.
    """

    sequence: int
    at: str
    actor: str
    instrument: str | None
    job: str | None
    kind: EntryKind
    clock_set_back: bool
    payload: dict[str, Any]
    previous: str
    hash: str

    @property
    def original(self) -> Original:
        """What was recorded, whatever record it was imported from."""
        found = Original(
            self.at, self.actor, self.instrument, self.job, self.kind, self.payload, self.sequence
        )
        while found.kind is EntryKind.IMPORTED:
            found = unwrapped(found.payload)
        return found


@dataclass(frozen=True, slots=True)
class Original:
    """What an entry recorded where it was first added; `sequence` is its number there."""

    at: str
    actor: str
    instrument: str | None
    job: str | None
    kind: EntryKind
    payload: dict[str, Any]
    sequence: int


class Row(NamedTuple):
    """An entry as it lies in the store, nothing about it trusted yet; `payload` is JSON text."""

    sequence: Any
    at: Any
    actor: Any
    instrument: Any
    job: Any
    kind: Any
    clock_set_back: Any
    payload: Any
    previous: Any
    hash: Any


def row_of(draft: Draft, sequence: int, at: str, *, set_back: bool, previous: str) -> Row:
    """The row that adds `draft` after the entry whose hash is `previous`."""
    text = canonical(draft.payload).decode("utf-8")
    bare = Row(
        sequence,
        at,
        draft.actor,
        draft.instrument,
        draft.job,
        draft.kind.value,
        int(set_back),
        text,
        previous,
        "",
    )
    return bare._replace(hash=hash_of(bare))


def hash_of(row: Row) -> str:
    """The hash a row should carry. Raises TrailError where its values are of the wrong types."""
    if type(row.clock_set_back) is not int or row.clock_set_back not in (0, 1):
        raise TrailError("it holds values that no entry has")
    if type(row.sequence) is not int or not isinstance(row.payload, str):
        raise TrailError("it holds values that no entry has")
    return link_hash(row.sequence, row.previous, job_mark(row.job), content_hash(row))


def content_hash(row: Row) -> str:
    """The hash of what a row says, taken over the payload as it stands there."""
    head = canonical(
        {
            "actor": row.actor,
            "at": row.at,
            "clock_set_back": bool(row.clock_set_back),
            "instrument": row.instrument,
            "job": row.job,
            "kind": row.kind,
        }
    )
    # `payload` sorts last, so the canonical form of the whole ends with the payload's own.
    try:
        return sha256(head[:-1] + b',"payload":' + row.payload.encode("utf-8") + b"}")
    except UnicodeEncodeError:
        raise TrailError("it holds bytes that are no text") from None


def link_hash(sequence: int, previous: str, job: str | None, content: str) -> str:
    """The hash that chains an entry to the one before."""
    link = {"content": content, "job": job, "previous": previous, "sequence": sequence}
    return sha256(canonical(link))


def job_mark(job: str | None) -> str | None:
    """A hash that stands for a job without telling its name to those who do not know it."""
    return None if job is None else sha256(canonical(["job", job]))


def entry_of(row: Row) -> Entry:
    """The entry in a row, once its own hash is found right. Raises TrailError where it is not."""
    try:
        right = hash_of(row) == row.hash
    except TrailError:
        right = False
    if not right:
        raise TrailError(
            f"entry {row.sequence} of the record was changed after it was added; "
            "verify the trail before anything rests on it"
        )
    if row.kind not in _KINDS:
        raise TrailError(
            f"entry {row.sequence} of the record is of the kind {quoted(row.kind)}, which is not "
            "known here. Update prepwright."
        )
    payload = parse(row.payload)
    if not isinstance(payload, dict):
        raise TrailError(f"the payload of entry {row.sequence} of the record is no mapping")
    return Entry(
        row.sequence,
        row.at,
        row.actor,
        row.instrument,
        row.job,
        EntryKind(row.kind),
        bool(row.clock_set_back),
        payload,
        row.previous,
        row.hash,
    )


def imported_payload(entry: Entry) -> dict[str, Any]:
    """The payload of the entry that takes `entry` over into another record."""
    return {
        "entry": {
            "actor": entry.actor,
            "at": entry.at,
            "clock_set_back": entry.clock_set_back,
            "instrument": entry.instrument,
            "job": entry.job,
            "kind": entry.kind.value,
            "payload": entry.payload,
        },
        "hash": entry.hash,
        "sequence": entry.sequence,
    }


def written_time(moment: datetime) -> str:
    """A moment as entries carry it: UTC, ISO 8601 with microseconds, `Z` at the end.

    Raises TrailError where the moment names no time zone.
    """
    if moment.tzinfo is None:
        raise TrailError("the clock gives a time without its time zone")
    return moment.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def unwrapped(payload: Mapping[str, Any]) -> Original:
    """The entry that an `imported` one took over. Raises TrailError where there is none in it."""
    try:
        inner = payload["entry"]
        original = Original(
            inner["at"],
            inner["actor"],
            inner["instrument"],
            inner["job"],
            EntryKind(inner["kind"]),
            inner["payload"],
            payload["sequence"],
        )
    except (KeyError, TypeError, ValueError):
        raise TrailError("an imported entry of the record holds no entry") from None
    texts = (original.at, original.actor)
    if not all(isinstance(text, str) for text in texts) or not isinstance(original.payload, dict):
        raise TrailError("an imported entry of the record holds no entry")
    return original
