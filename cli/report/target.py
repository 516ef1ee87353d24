"""Where a page is written: a file, whole or not at all, or standard output."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from cli.report.page import MARKER
from engine.errors import UsageError
from engine.plaintext import quoted

_STANDARD_OUTPUT = "-"
_HEAD = 1000


class Target:
    """A place for one page. Raises UsageError where a file is there that is no report."""

    def __init__(self, name: str) -> None:
        self._path = None if name == _STANDARD_OUTPUT else Path(name)
        self._file: BinaryIO | None = None
        if self._path is not None and self._path.exists() and not _is_report(self._path):
            raise UsageError(f"{quoted(name)} is already there and is no report; name another file")

    @contextmanager
    def opened(self) -> Iterator[None]:
        """Open it for writing; the page takes its place at the end, if nothing went wrong."""
        if self._path is None:
            yield
            return
        handle, name = tempfile.mkstemp(".part", f".{self._path.name}.", self._folder())
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as self._file:
                yield
            part.chmod(0o666 & ~_umask())
            part.replace(self._path)
        finally:
            self._file = None
            part.unlink(missing_ok=True)

    def write(self, text: str) -> None:
        """Write the page as UTF-8 whatever the locale says."""
        raw = text.encode("utf-8")
        if self._file is not None:
            self._file.write(raw)
            return
        sys.stdout.flush()
        sys.stdout.buffer.write(raw)
        sys.stdout.buffer.flush()

    def _folder(self) -> Path:
        assert self._path is not None
        folder = self._path.parent
        if not folder.is_dir():
            raise UsageError(f"there is no folder {quoted(str(folder))} to write the report to")
        return folder


def _is_report(path: Path) -> bool:
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return f'content="{MARKER}"'.encode() in file.read(_HEAD)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
