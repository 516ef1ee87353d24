"""JSON as it is written: UTF-8, fixed order, nothing in it that a terminal would act on."""

from __future__ import annotations

import json
import re
import sys
from typing import Any

from engine.plaintext import forbidden_character

# Most of a text is plain ASCII; only the rest is worth a look, one by one.
_LOOKED_AT = re.compile(r"[^\n -~]")


def json_text(data: Any) -> str:
    """`data` as JSON; control and direction characters stand as `\\u` escapes."""
    text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False)
    return _LOOKED_AT.sub(_escaped, text) + "\n"


def _escaped(found: re.Match[str]) -> str:
    char = found.group()
    if not forbidden_character(char):
        return char
    units = char.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[start : start + 4]}" for start in range(0, len(units), 4))


def write_json(data: Any) -> None:
    """Write to standard output as UTF-8 whatever the locale says."""
    sys.stdout.flush()
    sys.stdout.buffer.write(json_text(data).encode("utf-8"))
    sys.stdout.buffer.flush()
