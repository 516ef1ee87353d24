"""The seal: the head of the record in a form short enough to print on paper and to type back.

    212-KQ7M-ABCD-EFGH-IJKL-MNOP-QR34

First the number of the last entry, then 110 bits of its hash in base32 (RFC 4648, chapter 6), then
two characters that catch a slip of the pen. The letters never include 0, 1 and 8, so a reader who
writes those means O, I and B.
"""

from __future__ import annotations

import re
from base64 import b32encode
from hashlib import sha256

from engine.errors import UsageError
from engine.plaintext import quoted
from engine.records import dataclass

_BODY = 22
_CHECK = 2
_GROUP = 4
_FULL = re.compile(r"\s*([1-9][0-9]{0,14})\s*:\s*(?:sha256:)?([0-9a-fA-F]{64})\s*", re.ASCII)
_SHORT = re.compile(r"\s*([1-9][0-9]{0,14})[\s-]+([0-9A-Za-z\s-]+)", re.ASCII)
_MISREAD = str.maketrans("018", "OIB")


@dataclass(frozen=True, slots=True)
class Seal:
    """The last entry of a record: its number and its hash."""

    sequence: int
    hash: str

    def __str__(self) -> str:
        whole = _letters(self.sequence, self.hash)
        groups = (whole[start : start + _GROUP] for start in range(0, len(whole), _GROUP))
        return f"{self.sequence}-{'-'.join(groups)}"

    @property
    def full(self) -> str:
        """The seal with the whole hash: `212:sha256:...`."""
        return f"{self.sequence}:sha256:{self.hash}"


@dataclass(frozen=True, slots=True)
class PaperSeal:
    """A seal as it was typed in: a whole hash, or the letters of the short form."""

    sequence: int
    hash: str | None
    letters: str | None

    def pins(self, found: str) -> bool:
        """Whether this is the seal of a record whose entry of that number has this hash."""
        return found == self.hash or _letters(self.sequence, found) == self.letters


def read_seal(text: str) -> PaperSeal:
    """The seal a person typed, short or full. Raises UsageError where it is none, or misspelt."""
    full = _FULL.fullmatch(text)
    if full:
        return PaperSeal(int(full[1]), full[2].lower(), None)
    short = _SHORT.fullmatch(text)
    if not short:
        raise UsageError(
            f"{quoted(text)} is no seal. A seal is a number, a hyphen and six groups of four "
            "letters and digits, as printed on a report."
        )
    letters = re.sub(r"[\s-]", "", short[2]).upper().translate(_MISREAD)
    if len(letters) != _BODY + _CHECK:
        raise UsageError(
            f"the seal {quoted(text)} has {len(letters)} letters and digits after its number; "
            f"it should have {_BODY + _CHECK}."
        )
    sequence = int(short[1])
    if _check(sequence, letters[:_BODY]) != letters[_BODY:]:
        raise UsageError(
            f"the seal {quoted(text)} is misspelt: its last two letters do not fit the others. "
            "Compare it with the paper, letter by letter."
        )
    return PaperSeal(sequence, None, letters)


def _letters(sequence: int, hash_: str) -> str:
    try:
        body = b32encode(bytes.fromhex(hash_)).decode("ascii")[:_BODY]
    except ValueError:
        return ""
    return body + _check(sequence, body)


def _check(sequence: int, body: str) -> str:
    text = f"prepwright seal {sequence} {body}"
    return b32encode(sha256(text.encode("ascii")).digest()).decode("ascii")[:_CHECK]
