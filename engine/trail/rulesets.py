"""Keeps the very files of every rule set that decided something, so that it can decide again."""

from __future__ import annotations

import hashlib
import sqlite3
import tempfile
import zlib
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from engine.errors import PrepwrightError, TrailError
from engine.plaintext import quoted
from engine.trail.canonical import canonical
from engine.trail.entry import Draft, Entry, EntryKind
from engine.trail.sqlite import told_plainly
from engine.trail.store import Store

if TYPE_CHECKING:
    from engine.ruleset.model import RuleSet

Load = Callable[[Path], "RuleSet"]
"""Loads the rule set in a folder."""


def keep_files(store: Store, ruleset: RuleSet, files: Mapping[str, bytes], actor: str) -> None:
    """Keep the files of a rule set, as `files_of` gives them, where they are not kept already.

    For a shop's changes the supplied set they are built on is among them.
    Raises TrailError where they are not the files its digest was taken of.
    """
    if digest_of(files) != ruleset.digest:
        raise TrailError(
            f"the files of the rule set `{ruleset.name}` were changed while it was being kept, "
            "or a file lies in its folder that does not belong to it. Try again."
        )
    about = {"name": ruleset.name, "title": ruleset.title, "version": ruleset.version}
    keep(store, ruleset.digest, files, about, actor)


def keep(
    store: Store, digest: str, files: Mapping[str, bytes], about: Mapping[str, str], actor: str
) -> None:
    """Keep files whose digest is `digest`; `about` goes into the entry beside it."""
    named = {path: _hash(content) for path, content in sorted(files.items())}
    for path, content in files.items():
        _check_file(path, content)
    with store.writing():
        if digest in digests(store):
            return
        for path, content in files.items():
            _keep_content(store.connection, named[path], content)
            store.connection.execute(
                "INSERT INTO ruleset_files (digest, path, content) VALUES (?, ?, ?)",
                (digest, path, named[path]),
            )
        payload = {**about, "digest": digest, "files": named}
        store.append(Draft(EntryKind.RULESET_KEPT, actor, payload))


def note_change(store: Store, ruleset: RuleSet, actor: str) -> Entry | None:
    """Record that decisions are now taken by other rules than the last under the same name.

    Returns the entry, None where nothing changed. Both rule sets must be kept: the entry names
    the files that differ.
    """
    with store.writing():
        before = last_used(store, ruleset.name)
        if before is None or before["digest"] == ruleset.digest:
            return None
        old, new = kept_files(store, before["digest"]), kept_files(store, ruleset.digest)
        both = old.keys() & new.keys()
        payload = {
            "name": ruleset.name,
            "version": ruleset.version,
            "digest": ruleset.digest,
            "before": {"version": before["version"], "digest": before["digest"]},
            "files": {
                "changed": sorted(path for path in both if old[path] != new[path]),
                "new": sorted(new.keys() - old.keys()),
                "gone": sorted(old.keys() - new.keys()),
            },
        }
        return store.append(Draft(EntryKind.RULESET_CHANGE, actor, payload))[0]


def last_used(store: Store, name: str, *, kept_at_least: int = 2) -> dict[str, str] | None:
    """The rule set of that name by which a decision was taken here last.

    None where fewer than `kept_at_least` of that name were kept.
    """
    kept = store.entries(kinds=(EntryKind.RULESET_KEPT,))
    if sum(entry.payload.get("name") == name for entry in kept) < kept_at_least:
        # Nothing of that name came before; looking for it would go through all decisions.
        return None
    for entry in store.entries(kinds=(EntryKind.DECISION,), backwards=True):
        used = entry.payload["ruleset"]
        if used.get("name") == name:
            return {"version": str(used.get("version")), "digest": str(used.get("digest"))}
    return None


def digests(store: Store) -> tuple[str, ...]:
    """The digests of all rule sets kept."""
    with told_plainly(store.path):
        query = "SELECT DISTINCT digest FROM ruleset_files ORDER BY digest"
        return tuple(str(row[0]) for row in store.connection.execute(query))


def kept_files(store: Store, digest: str) -> dict[str, bytes]:
    """The files of a kept rule set by their relative paths.

    Raises TrailError where it was not kept, or not one byte for byte as it was.
    """
    canonical(digest)
    files = dict(_contents(store, digest))
    if not files:
        raise TrailError(f"the record keeps no rule set {quoted(digest)}")
    broken = sorted(path for path, content in files.items() if content is None)
    sound = {path: content for path, content in files.items() if content is not None}
    if broken or digest_of(sound) != digest:
        which = f": {quoted(broken[0])} is not as it was" if broken else ""
        raise TrailError(f"the kept rule set {digest} is damaged{which}")
    return sound


def ruleset_folder(store: Store, digest: str, into: Path) -> Path:
    """Write the files of a kept rule set to a folder of their own inside `into`."""
    folder = into / digest.replace(":", "-")
    for path, content in kept_files(store, digest).items():
        inside = PurePosixPath(path)
        if inside.is_absolute() or ".." in inside.parts:
            raise TrailError(f"the kept rule set {digest} has a file outside its folder")
        target = folder.joinpath(*inside.parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return folder


def kept_ruleset(store: Store, digest: str, *, load: Load | None = None) -> RuleSet:
    """A kept rule set, loaded. Raises TrailError where it is not kept or no longer loads."""
    with tempfile.TemporaryDirectory(prefix="prepwright-") as place:
        ruleset = (load or load_for_deciding)(ruleset_folder(store, digest, Path(place)))
    if ruleset.digest != digest:
        raise TrailError(f"the kept rule set {digest} loads as another one, {ruleset.digest}")
    return ruleset


_MOST_LOADED = 8


class KeptRuleSets:
    """The rule sets by which decisions were taken; those needed last stay loaded."""

    def __init__(self, store: Store, load: Load | None = None) -> None:
        self._store = store
        self._load = load
        self._loaded: OrderedDict[str, RuleSet | str] = OrderedDict()

    def of(self, recorded: Mapping[str, Any]) -> RuleSet | str:
        """The rule set of a recorded decision, given its payload; or why it cannot be had."""
        about = recorded.get("ruleset")
        digest = str(about.get("digest")) if isinstance(about, dict) else "?"
        if digest not in self._loaded:
            if len(self._loaded) >= _MOST_LOADED:
                self._loaded.popitem(last=False)
            try:
                self._loaded[digest] = kept_ruleset(self._store, digest, load=self._load)
            except PrepwrightError as error:
                self._loaded[digest] = f"its rule set cannot be had: {error.format_message()}"
        self._loaded.move_to_end(digest)
        return self._loaded[digest]


def load_for_deciding(folder: Path) -> RuleSet:
    """Load a rule set without its worked cases."""
    from engine.ruleset.cache import cached_ruleset

    return cached_ruleset(folder)


def files_of(folder: Path) -> dict[str, bytes]:
    """The files of a rule set; for a shop's changes with the supplied set below them."""
    from engine.ruleset.shop_files import ruleset_files

    return ruleset_files(folder)


def digest_of(files: Mapping[str, bytes]) -> str:
    """The digest that names these files; see `engine.ruleset.digest`."""
    # Reading rules is much to import for somebody who looks at the record only.
    from engine.ruleset.digest import digest_of as digest

    return digest(files)


def problems(store: Store, payload: Mapping[str, Any]) -> Iterator[str]:
    """What is wrong with a kept rule set, given the payload of the entry that tells of it."""
    digest, named = payload.get("digest"), payload.get("files")
    if not isinstance(digest, str) or not isinstance(named, dict):
        yield "it does not say which rule set was kept"
        return
    try:
        files = kept_files(store, digest)
    except TrailError as error:
        yield str(error)
        return
    if {path: _hash(content) for path, content in files.items()} != named:
        yield f"the files kept for the rule set {digest} are not those it names"


def _check_file(path: str, content: bytes) -> None:
    if not path.isprintable():
        raise TrailError(f"{quoted(path)} is no name for a file of a rule set")
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        raise TrailError(f"{quoted(path)} of the rule set is not UTF-8 text") from None
    most = _most_bytes()
    if len(content) > most:
        raise TrailError(f"{quoted(path)} of the rule set is larger than {most:,} bytes")


def _keep_content(connection: sqlite3.Connection, hash_: str, content: bytes) -> None:
    there = connection.execute("SELECT 1 FROM contents WHERE hash = ?", (hash_,)).fetchone()
    if not there:
        connection.execute(
            "INSERT INTO contents (hash, packed) VALUES (?, ?)", (hash_, zlib.compress(content, 9))
        )


def _contents(store: Store, digest: str) -> Iterator[tuple[str, bytes | None]]:
    query = (
        "SELECT path, content, packed FROM ruleset_files LEFT JOIN contents "
        "ON contents.hash = ruleset_files.content WHERE digest = ? ORDER BY path"
    )
    with told_plainly(store.path):
        for path, hash_, packed in store.connection.execute(query, (digest,)):
            named = isinstance(path, str) and path.isprintable() and isinstance(hash_, str)
            yield str(path), _unpacked(packed, hash_) if named else None


def _unpacked(packed: object, hash_: str) -> bytes | None:
    """The content, or None where it is not what its hash says."""
    if not isinstance(packed, bytes):
        return None
    try:
        content = zlib.decompressobj().decompress(packed, _most_bytes() + 1)
    except zlib.error:
        return None
    return content if _hash(content) == hash_ else None


def _most_bytes() -> int:
    # As with `digest_of`: reading YAML is much to import.
    from engine.document import MAX_BYTES

    return MAX_BYTES


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
