"""From the bytes of a file to its text: what it is written in, and what is no text at all."""

from __future__ import annotations

import codecs
import hashlib
from dataclasses import dataclass
from pathlib import Path

from engine.errors import Place, Problem, ReadingsError
from engine.plaintext import forbidden_character

MAX_BYTES = 10_000_000

_BOMS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)
# Files of other kinds that people take for tables; each begins with the same bytes.
_OTHERS = (
    (b"PK\x03\x04", "a workbook or an archive"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
    (b"%PDF", "a PDF document"),
    (b"\x1f\x8b", "a compressed file"),
)
_AS_TEXT = "In the spreadsheet or the gauge's software, save or export it as CSV (UTF-8)."


@dataclass(frozen=True, slots=True)
class Source:
    """The text of a file, with lines ended by `\\n`, and the encoding it was read in.

    `digest` is the SHA-256 (FIPS 180-4) of its bytes. `guessed` says why it is that encoding, where
    the file itself does not tell.
    """

    name: str
    text: str
    encoding: str
    digest: str
    guessed: str | None = None


def read_source(raw: bytes | Path, name: str | None = None) -> Source:
    """The text of a file of readings, from its bytes or its path.

    Raises ReadingsError where there is no such file, it is too large, or it is no text.
    """
    if isinstance(raw, Path):
        name = name or str(raw)
        raw = _bytes(raw, name)
    name = name or "the file"
    top = Place(name, 1, 1)
    if len(raw) > MAX_BYTES:
        message = f"the file is larger than {MAX_BYTES:,} bytes, the most that is read"
        raise _refuse("file-too-large", message, top, "Check that it is the file you meant.")
    for start, what in _OTHERS:
        if raw.startswith(start):
            raise _refuse("not-a-table", f"this is {what}, not a table as text", top, _AS_TEXT)
    text, encoding, guessed = _decode(raw, top)
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise _refuse("empty-file", "the file holds nothing", top, "Export the readings again.")
    _check_characters(text, name)
    return Source(name, text, encoding, f"sha256:{hashlib.sha256(raw).hexdigest()}", guessed)


def _bytes(path: Path, name: str) -> bytes:
    top = Place(name, 1, 1)
    try:
        with path.open("rb") as file:
            # A device has no size to ask for and may never end.
            return file.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        fix = "Check the name and the folder."
        raise _refuse("no-such-file", "there is no such file", top, fix) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = f"the file cannot be read: {reason}"
        raise _refuse("unreadable-file", message, top, "Check the file.") from error


def _decode(raw: bytes, top: Place) -> tuple[str, str, str | None]:
    for mark, codec, shown in _BOMS:
        if raw.startswith(mark):
            try:
                return raw[len(mark) :].decode(codec), shown, None
            except UnicodeDecodeError as error:
                message = f"the file says it is {shown}, but it is not"
                raise _refuse("not-text", message, top, _AS_TEXT) from error
    wide = _without_mark(raw)
    if wide:
        return wide, "UTF-16", "every other byte is zero"
    if b"\0" in raw:
        raise _refuse("not-text", "the file holds bytes that are no text", top, _AS_TEXT)
    try:
        text = raw.decode("utf-8")
        return text, "ASCII" if raw.isascii() else "UTF-8", None
    except UnicodeDecodeError:
        pass
    try:
        return raw.decode("cp1252"), "Windows-1252", "it is not UTF-8"
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        place = Place(top.file, before.count(b"\n") + 1, error.start - before.rfind(b"\n"))
        message = f"byte 0x{raw[error.start]:02x} is neither UTF-8 nor Windows-1252 (Latin-1)"
        raise _refuse("not-text", message, place, _AS_TEXT) from error


def _without_mark(raw: bytes) -> str | None:
    """UTF-16 that lacks its byte order mark, as some gauges write it; None where it is not."""
    if len(raw) < 4 or len(raw) % 2:
        return None
    for zeros, codec in ((raw[1::2], "utf-16-le"), (raw[0::2], "utf-16-be")):
        if zeros.count(0) * 10 >= len(zeros) * 9 and raw.count(0) <= len(zeros):
            try:
                return raw.decode(codec)
            except UnicodeDecodeError:
                return None
    return None


def _check_characters(text: str, name: str) -> None:
    for number, line in enumerate(text.split("\n"), 1):
        if line.isascii() and line.isprintable():
            continue
        for column, char in enumerate(line, 1):
            # A soft hyphen or a lost byte order mark does nothing; a control character may.
            if char not in "\t\u00ad\ufeff\u200b\u2060" and forbidden_character(char):
                raise _refuse(
                    "control-character",
                    f"the file holds the character U+{ord(char):04X}",
                    Place(name, number, column),
                    "Export the readings again as plain text.",
                )


def _refuse(code: str, message: str, place: Place, fix: str) -> ReadingsError:
    return ReadingsError(Problem(code, message, place, fix))
