"""Jobs, or the whole record, as one JSON file that proves itself on any machine.

    {"format": "prepwright/trail/1", "of": "BM-7",
     "chain": [{"sequence": 1, ...}, ["<hash of the content>", "<hash naming the job>"], ...],
     "rulesets": {"sha256:...": {"rules/film.yaml": "..."}}, "seal": {"full": ..., "short": ...}}

An export of one job holds its entries, and of all others only the two hashes the chain needs: they
show that nothing is missing and that none of them is about this job, and not what they say. (Who
already guesses the name of a job can see from its hash whether, and how often, it occurs.)
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

from engine.errors import DocumentError, Place, Problem, StoreError, TrailError, UsageError
from engine.plaintext import quoted
from engine.trail import rulesets
from engine.trail.canonical import canonical, parse
from engine.trail.chain import TrailReport, Walk
from engine.trail.entry import (
    Draft,
    EntryKind,
    Row,
    content_hash,
    entry_of,
    imported_payload,
    job_mark,
    unwrapped,
)
from engine.trail.jsonstream import JsonObject
from engine.trail.seal import PaperSeal, Seal, read_seal
from engine.trail.store import Store

FORMAT = "prepwright/trail/1"
_KEYS = ("format", "of", "chain", "rulesets", "seal")
_HASH_DIGITS = 64


def export_file(store: Store, path: Path, job: str | None = None) -> Seal:
    """Write one job, or without `job` the whole record, to a new file; returns the seal of it.

    Raises TrailError where there is no such job or an entry was changed, UsageError where the
    file is there already, StoreError where it cannot be written.
    """
    if job is not None and not store.last(job):
        raise TrailError(f"there is no job {quoted(job)} in the record")
    with store.reading(), _new_file(path) as file:
        head = store.head()
        if head is None:
            raise TrailError("the record is empty; there is nothing to export")
        file.write(f'{{"format":"{FORMAT}",\n"of":{json.dumps(job)},\n"chain":[')
        needed: set[str] = set()
        comma = "\n"
        for row in store.rows():
            entry_of(row)
            shown = job is None or row.job == job or row.kind == EntryKind.RULESET_KEPT
            file.write(comma + (_shown(row) if shown else _hidden(row)))
            if shown:
                needed.update(_decided_by(row))
            comma = ",\n"
        kept = sorted(needed) if job is not None else rulesets.digests(store)
        file.write('],\n"rulesets":{')
        for index, digest in enumerate(kept):
            files = {
                name: content.decode("utf-8")
                for name, content in rulesets.kept_files(store, digest).items()
            }
            file.write(",\n" if index else "\n")
            file.write(f"{json.dumps(digest)}:{canonical(files).decode('utf-8')}")
        seal = {"full": head.full, "short": str(head)}
        file.write(f'}},\n"seal":{json.dumps(seal)}}}\n')
    return head


def verify_export(path: Path, seal: str | None = None) -> TrailReport:
    """Verify an exported file by itself; `seal` is one kept elsewhere, as it is typed in.

    Raises DocumentError where the file cannot be read or is no export, UsageError where `seal` is
    no seal. All else that is wrong, half a file included, is in the findings.
    """
    given: list[tuple[PaperSeal | Seal, str]] = []
    if seal is not None:
        given.append((read_seal(seal), "the seal you gave"))
    walk = Walk(given)
    try:
        about = _members(path)
        _Export(path, about, walk).check()
    except TrailError as error:
        walk.found("not-whole", None, str(error))
    return walk.report()


def import_file(
    store: Store, path: Path, actor: str, *, as_job: str | None = None
) -> tuple[str, ...]:
    """Take the jobs in an exported file over into `store`; returns their names there.

    Every entry is kept as it was, inside an entry that tells who imported it. All are taken, or
    none. `as_job` gives the job of an export of one job another name. Raises TrailError where the
    file does not verify or a job of that name is there already, and as `verify_export`.
    """
    verify_export(path).refuse_broken()
    about = _members(path)
    if as_job is not None and about["of"] is None:
        raise UsageError("only an export of one job can be given another name")
    taken: dict[str, None] = {}
    with store.writing():
        for item in _chain(path):
            if not isinstance(item, dict):
                continue
            entry = entry_of(_row(item))
            if entry.kind is EntryKind.RULESET_KEPT:
                _keep(store, entry.payload, about["rulesets"], actor)
                continue
            job = entry.job if as_job is None or entry.job is None else as_job
            if job is not None and job not in taken:
                if store.last(job):
                    raise TrailError(
                        f"there is already a job {quoted(job)} here. Import it under another name."
                    )
                taken[job] = None
            store.append(Draft(EntryKind.IMPORTED, actor, imported_payload(entry), job))
    return tuple(taken)


def _keep(store: Store, told: dict[str, Any], files: dict[str, Any], actor: str) -> None:
    digest = told["digest"]
    if digest in files:
        content = {name: text.encode("utf-8") for name, text in files[digest].items()}
        about = {key: told[key] for key in told if key not in ("digest", "files")}
        rulesets.keep(store, digest, content, about, actor)


class _Export:
    def __init__(self, path: Path, about: dict[str, Any], walk: Walk) -> None:
        self._path = path
        self._job: str | None = about["of"]
        self._mark = job_mark(self._job)
        self._rulesets: dict[str, Any] = about["rulesets"]
        self._seal = about["seal"]
        self._kept: set[str] = set()
        self._walk = walk

    def check(self) -> None:
        for item in _chain(self._path):
            if isinstance(item, dict):
                self._shown(item)
            elif isinstance(item, list) and len(item) == 2 and _is_closed(item):
                self._hidden(*item)
            else:
                raise TrailError(f"what follows entry {self._walk.entries} is no entry")
        self._check_seal()
        for digest, files in self._rulesets.items():
            content = {name: text.encode("utf-8") for name, text in files.items()}
            if rulesets.digest_of(content) != digest:
                self._walk.found("ruleset", None, f"the files of the rule set {digest} are others")

    def _shown(self, item: dict[str, Any]) -> None:
        row = _row(item)
        if not self._walk.entry(row):
            return
        if row.kind == EntryKind.RULESET_KEPT:
            self._kept.add(str(item["payload"].get("digest")))
        elif self._job is not None and row.job != self._job:
            self._walk.found("other-job", row.sequence, "it is about another job than the file")
        missing = _decided_by(row) - self._rulesets.keys()
        if row.kind == EntryKind.DECISION:
            missing |= _decided_by(row) - self._kept
        for digest in sorted(missing):
            self._walk.found(
                "ruleset", row.sequence, f"the rule set it was decided by, {digest}, is missing"
            )

    def _hidden(self, content: str, mark: str | None) -> None:
        self._walk.hidden(content, mark)
        if self._job is None or mark == self._mark:
            self._walk.found(
                "withheld", self._walk.entries, "what it says is withheld, though it belongs here"
            )

    def _check_seal(self) -> None:
        head = self._walk.head
        if head is None:
            raise TrailError("it has no entry")
        if self._seal != {"full": head.full, "short": str(head)}:
            self._walk.found("other-seal", None, "the seal at its end is not that of its chain")


def _shown(row: Row) -> str:
    head = canonical(
        {
            "actor": row.actor,
            "at": row.at,
            "clock_set_back": bool(row.clock_set_back),
            "hash": row.hash,
            "instrument": row.instrument,
            "job": row.job,
            "kind": row.kind,
            "previous": row.previous,
            "sequence": row.sequence,
        }
    )
    return f'{head.decode("utf-8")[:-1]},"payload":{row.payload}}}'


def _hidden(row: Row) -> str:
    return json.dumps([content_hash(row), job_mark(row.job)])


def _row(item: dict[str, Any]) -> Row:
    """The row an exported entry stands for. Raises TrailError where it is none."""
    if item.keys() != set(Row._fields):
        raise TrailError("an entry in it has other parts than an entry has")
    back = item["clock_set_back"]
    payload = canonical(item["payload"]).decode("utf-8")
    if not isinstance(back, bool) or not isinstance(item["payload"], dict):
        raise TrailError("an entry in it holds values that no entry has")
    return Row._make(
        {**item, "clock_set_back": int(back), "payload": payload}[name] for name in Row._fields
    )


def _decided_by(row: Row) -> set[str]:
    """The digest of the rule set a decision was made by, itself imported or not."""
    kind, payload = row.kind, None
    if kind == EntryKind.IMPORTED:
        payload = parse(row.payload)
        while kind == EntryKind.IMPORTED:
            inner = unwrapped(payload)
            kind, payload = inner.kind, inner.payload
    if kind != EntryKind.DECISION:
        return set()
    ruleset = (payload or parse(row.payload)).get("ruleset")
    return {str(ruleset.get("digest"))} if isinstance(ruleset, dict) else set()


def _is_closed(item: list[Any]) -> bool:
    content, mark = item
    return (
        isinstance(content, str)
        and len(content) == _HASH_DIGITS
        and (mark is None or (isinstance(mark, str) and len(mark) == _HASH_DIGITS))
    )


def _members(path: Path) -> dict[str, Any]:
    """All but the chain."""
    found: dict[str, Any] = {}
    with _opened(path) as reader:
        for key in reader.members():
            if key == "chain":
                for _ in reader.items():
                    pass
                found[key] = None
            else:
                found[key] = reader.value()
            if key == "format" and found[key] != FORMAT:
                break
    if found.get("format") != FORMAT:
        raise DocumentError(
            Problem(
                "not-an-export",
                "this is no export of a record that is read here",
                Place(str(path), 1, 1),
                f"Such a file begins with the format `{FORMAT}`.",
            )
        )
    if set(found) != set(_KEYS):
        raise TrailError(f"it must have the parts {', '.join(_KEYS)}, and no others")
    if not isinstance(found["of"], str | None) or not _are_files(found["rulesets"]):
        raise TrailError("it does not say which job it is of, or its rule sets cannot be read")
    return found


def _are_files(kept: object) -> bool:
    return isinstance(kept, dict) and all(
        isinstance(files, dict) and all(isinstance(text, str) for text in files.values())
        for files in kept.values()
    )


def _chain(path: Path) -> Iterator[Any]:
    with _opened(path) as reader:
        for key in reader.members():
            if key == "chain":
                yield from reader.items()
            else:
                reader.value()


@contextmanager
def _opened(path: Path) -> Iterator[JsonObject]:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            yield JsonObject(file)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise DocumentError(
            Problem("unreadable-file", f"the file cannot be read: {reason}", Place(str(path), 1, 1))
        ) from error


@contextmanager
def _new_file(path: Path) -> Iterator[TextIO]:
    """A file that is there once it is whole and safely on the disk."""
    if path.exists():
        raise UsageError(f"{path} is there already; name another file")
    beside = path.with_name(f".prepwright-{secrets.token_hex(8)}.tmp")
    try:
        with beside.open("x", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        reason = error.strerror or type(error).__name__
        raise StoreError(f"{path} cannot be written: {reason}.") from error
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
