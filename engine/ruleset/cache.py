"""Rule sets kept linked between runs, so that reading them again takes a moment.

A kept rule set is named by the exact bytes of its files together with the program, its source
files and the Python that linked it, so it is never one of other rules. It stands in the user's
cache folder, or where `PREPWRIGHT_CACHE` says (`off` keeps nothing), and may be deleted at any
time. A folder or file that somebody else owns or may write to is left alone, and whatever cannot
be read as what was written is as good as not there.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import NamedTuple

from engine.errors import UsageError
from engine.ruleset.model import RuleSet
from engine.supplied import schema_folder, supplied_ruleset_folder
from engine.words import LANGUAGES

_VARIABLE = "PREPWRIGHT_CACHE"
_OFF = ("off", "no", "0")
_MOST_KEPT = 16
_MOST_FILES = 5_000
_MOST_DEEP = 12
_LARGEST = 64 * 1024 * 1024
_SEAL = 32
_PACKAGE = Path(__file__).resolve().parents[1]


def cached_ruleset(folder: Path, *, with_cases: bool = False) -> RuleSet:
    """As `load_ruleset`, from what an earlier run kept where no byte differs since.

    Raises RuleSetError as it does; that nothing can be kept is no error.
    """
    home = _home()
    look = _look(folder, with_cases) if home is not None else None
    if home is None or look is None:
        return _loaded(folder, with_cases)
    kept = home / f"{look.name}.ruleset"
    found = _read(kept)
    if found is not None:
        return found
    ruleset = _loaded(folder, with_cases)
    # What changed while it was being read must not be kept under the name of what was there.
    if _look(folder, with_cases) == look:
        _write(kept, ruleset)
    return ruleset


def _loaded(folder: Path, with_cases: bool) -> RuleSet:
    from engine.ruleset.load import load_ruleset

    return load_ruleset(folder, with_cases=with_cases)


def _home() -> Path | None:
    named = os.environ.get(_VARIABLE)
    if named is not None and named.strip().lower() in _OFF:
        return None
    if named:
        return Path(named) / "rulesets"
    from platformdirs import user_cache_path

    home = user_cache_path("prepwright", appauthor=False)
    # Somebody without a home has it under a relative `~`, which would land in any folder.
    return home / "rulesets" if home.is_absolute() else None


# --- naming ---------------------------------------------------------------------------------------


class _Look(NamedTuple):
    """The name of what was seen in the files, and when each was written."""

    name: str
    written: tuple[int, ...]


def _look(folder: Path, with_cases: bool) -> _Look | None:
    """None where there is something that cannot be read, or no rule set of a usual size."""
    hasher = hashlib.sha256()
    written: list[int] = []

    def take(*parts: bytes) -> None:
        for part in parts:
            hasher.update(len(part).to_bytes(8, "big"))
            hasher.update(part)

    try:
        take(_program(), b"cases" if with_cases else b"")
        for root in _roots(folder):
            take(b"root")
            for name, found in _files(root):
                content = _content(found)
                take(name.encode("utf-8", "surrogateescape"), content)
                written.append(found.stat().st_mtime_ns)
    except (OSError, UsageError, _Unusual):
        return None
    return _Look(hasher.hexdigest(), tuple(written))


class _Unusual(Exception):
    """There is more in the folder than a rule set has."""


def _roots(folder: Path) -> Iterator[Path]:
    yield folder
    if (folder / "shop.yaml").is_file() and not (folder / "supplied").is_dir():
        yield supplied_ruleset_folder().parent


def _files(root: Path) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """The files whose names could make them part of a rule set, by name; hidden ones never are."""
    todo = [("", str(root), 0)]
    count = 0
    while todo:
        prefix, place, deep = todo.pop()
        with os.scandir(place) as listed:
            entries = sorted(listed, key=lambda entry: entry.name)
        for entry in entries:
            if entry.name.startswith("."):
                continue
            count += 1
            if count > _MOST_FILES or deep > _MOST_DEEP:
                raise _Unusual
            name = f"{prefix}{entry.name}"
            if entry.name == LANGUAGES and deep < 2:
                # Laid over a rule set once it is read.
                continue
            if entry.is_dir():
                todo.append((f"{name}/", entry.path, deep + 1))
            elif entry.name.endswith((".yaml", ".yml")):
                yield name, entry


def _content(found: os.DirEntry[str]) -> bytes:
    about = found.stat()
    if not stat.S_ISREG(about.st_mode) or about.st_size > _LARGEST:
        raise _Unusual
    with open(found.path, "rb", buffering=0) as file:
        return file.read()


@cache
def _program() -> bytes:
    """What tells this program and this Python apart from others."""
    parts = [str(sys.implementation.cache_tag), sys.version, sys.platform]
    for root, suffix in ((_PACKAGE, ".py"), (schema_folder(), ".json")):
        for place, folders, names in os.walk(root):
            folders[:] = sorted(name for name in folders if name not in ("__pycache__", "data"))
            for name in sorted(names):
                if name.endswith(suffix):
                    path = os.path.join(place, name)
                    about = os.stat(path)
                    parts.append(f"{path} {about.st_size} {about.st_mtime_ns}")
    return "\n".join(parts).encode("utf-8", "surrogateescape")


# --- keeping --------------------------------------------------------------------------------------


def _read(kept: Path) -> RuleSet | None:
    """The rule set kept there; None where there is none that can be trusted and read."""
    try:
        if not _ours(os.stat(kept.parent)):
            return None
        with open(kept, "rb") as file:
            about = os.fstat(file.fileno())
            if not _ours(about) or not stat.S_ISREG(about.st_mode) or about.st_size > _LARGEST:
                return None
            content = file.read()
    except OSError:
        return None
    seal, packed = content[:_SEAL], content[_SEAL:]
    if hashlib.sha256(packed).digest() != seal:
        return None
    from engine.ruleset.packed import unpack

    try:
        return unpack(packed)
    except ValueError:
        return None


def _write(kept: Path, ruleset: RuleSet) -> None:
    from engine.ruleset.packed import pack

    packed = pack(ruleset)
    with suppress(OSError):
        folder = kept.parent
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _ours(os.stat(folder)):
            return
        import tempfile

        handle, half = tempfile.mkstemp(dir=folder, suffix=".half")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(hashlib.sha256(packed).digest() + packed)
            os.replace(half, kept)
        except BaseException:
            with suppress(OSError):
                os.unlink(half)
            raise
        _tidy(folder)


def _tidy(folder: Path) -> None:
    """Keep the rule sets written last; take away the others, and what was left half written."""
    found = sorted(folder.glob("*.ruleset"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in found[_MOST_KEPT:]:
        path.unlink(missing_ok=True)
    oldest = min((path.stat().st_mtime for path in found[:_MOST_KEPT]), default=0.0)
    for path in folder.glob("*.half"):
        if path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)


def _ours(about: os.stat_result) -> bool:
    """Whether nobody else owns it or may write to it."""
    if not hasattr(os, "geteuid"):
        return True
    others = stat.S_IWGRP | stat.S_IWOTH
    return about.st_uid == os.geteuid() and not about.st_mode & others


__all__ = ["cached_ruleset"]
