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
    """A place for one page, `-` for standard output. Raises UsageError where there is none, or a
    file that is no report."""

    def __init__(self, name: str) -> None:
        if not name:
            raise UsageError("the file to write the report to has no name")
        self.name = name
        # A link goes on leading to where it leads.
        self._path = None if name == _STANDARD_OUTPUT else Path(os.path.realpath(name))
        self._file: BinaryIO | None = None
        try:
            in_the_way = self._path is not None and _in_the_way(self._path)
        except OSError as error:
            raise self._refused(error) from error
        if in_the_way:
            raise UsageError(f"{quoted(name)} is already there and is no report; name another file")

    @contextmanager
    def opened(self) -> Iterator[None]:
        """Open it for writing; the page takes its place at the end, if nothing went wrong.

        Raises UsageError where no file can be made there.
        """
        if self._path is None:
            yield
            return
        try:
            # A short name of its own, for one that is as long as the system lets it be.
            handle, name = tempfile.mkstemp(".part", ".report-", self._folder())
        except OSError as error:
            raise self._refused(error) from error
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as self._file:
                yield
            part.chmod(0o666 & ~_umask())
            try:
                part.replace(self._path)
            except OSError as error:
                raise self._refused(error) from error
        finally:
            self._file = None
            part.unlink(missing_ok=True)

    def _refused(self, error: OSError) -> UsageError:
        why = (error.strerror or str(error)).lower()
        return UsageError(f"the report cannot be written to {quoted(self.name)}: {why}")

    @property
    def is_file(self) -> bool:
        """Whether it is a file, not standard output."""
        return self._path is not None

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


def _in_the_way(path: Path) -> bool:
    """Whether something is there that must not be written over."""
    try:
        path.stat()
    except FileNotFoundError:
        return False
    if not path.is_file():
        return True
    with path.open("rb") as file:
        return f'content="{MARKER}"'.encode() not in file.read(_HEAD)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
