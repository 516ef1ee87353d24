"""Turns good inputs into bad ones: bytes, tokens and lines changed, as accidents and malice do."""

from __future__ import annotations

import re
from collections.abc import Sequence
from random import Random

_WORDS = (
    # what YAML, JSON, CSV and the chat give a meaning to
    """: - ? | > & * ! % @ ` # , ; [ ] { } " ' \\ / = + ~ . .. ... --- <<""",
    # numbers at the edges
    "0 -0 1e999 -1e-999 1e22 NaN inf -inf 0x1F 0o17 1_000 1/0 1/3 1,5 1.234,5 12:30:45",
    # words with a meaning somewhere
    "null true yes no on unknown none all back why stop help change treatment steel mil um degC",
    "$film {p} __proto__ {panel.__class__} %s%n {0} $(id) <script> </svg> &amp;",
)
_OTHERS = (
    *("\t", "\n", "\r", "\r\n", "\x00", "\x1b[31m", "\x1b]0;x\x07", "\x7f", "\x85", " "),
    *("\u2028", "\u202e", "\ufeff", "\u200b", "\ufffe", "\u0301", "é", "日本", "🚐", "½", "µ", "−"),
    *("9" * 400, "1." + "0" * 300 + "1", "3 1/2", "don't know", "'; DROP TABLE entry;--"),
    *("[" * 300, "{a: " * 200, "- " * 400, "(" * 500),
)
TOKENS = tuple(
    token.encode() for token in (*(word for line in _WORDS for word in line.split()), *_OTHERS)
)


class Spoiler:
    """Draws bad inputs from good ones; the same seed draws the same."""

    def __init__(self, seeds: Sequence[bytes], random: Random) -> None:
        self._seeds = seeds
        self._random = random

    def draw(self) -> bytes:
        """One input: a seed changed in up to eight places, now and then two seeds run together."""
        random = self._random
        content = random.choice(self._seeds)
        if random.random() < 0.05:
            other = random.choice(self._seeds)
            content = (
                content[: random.randrange(len(content) + 1)]
                + other[random.randrange(len(other) + 1) :]
            )
        for _ in range(random.choice((0, 1, 1, 1, 2, 2, 3, 5, 8))):
            content = random.choice(_WAYS)(content, random)
        return content


def _token(content: bytes, random: Random) -> bytes:
    at = random.randrange(len(content) + 1)
    return content[:at] + random.choice(TOKENS) + content[at:]


def _word(content: bytes, random: Random) -> bytes:
    """Another word or a token in the place of one that stands there."""
    words = list(re.finditer(rb"[^\s:,;\[\]{}]+", content))
    if not words:
        return _token(content, random)
    chosen = random.choice(words)
    other = random.choice((random.choice(TOKENS), random.choice(words).group()))
    return content[: chosen.start()] + other + content[chosen.end() :]


def _byte(content: bytes, random: Random) -> bytes:
    at = random.randrange(len(content) + 1)
    return content[:at] + bytes([random.randrange(256)]) + content[at + random.randrange(2) :]


def _cut(content: bytes, random: Random) -> bytes:
    start, end = sorted(random.randrange(len(content) + 1) for _ in range(2))
    return content[:start] + content[end:]


def _end(content: bytes, random: Random) -> bytes:
    return content[: random.randrange(len(content) + 1)]


def _twice(content: bytes, random: Random) -> bytes:
    start, end = sorted(random.randrange(len(content) + 1) for _ in range(2))
    times = 40 if random.random() < 0.05 else 1
    return content[:end] + content[start:end] * times + content[end:]


def _lines(content: bytes, random: Random) -> bytes:
    """Two lines change places, one goes, or one is set further in."""
    lines = content.splitlines(keepends=True)
    if len(lines) < 2:
        return _token(content, random)
    one, other = random.randrange(len(lines)), random.randrange(len(lines))
    way = random.randrange(3)
    if way == 0:
        lines[one], lines[other] = lines[other], lines[one]
    elif way == 1:
        del lines[one]
    else:
        lines[one] = random.choice((b" ", b"  ", b"\t", b"    ")) + lines[one]
    return b"".join(lines)


_WAYS = (_token, _token, _word, _word, _byte, _cut, _end, _twice, _lines)
