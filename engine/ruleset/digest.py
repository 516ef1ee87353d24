"""The digest that names the exact bytes of a rule set."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping


def digest_of(files: Mapping[str, bytes]) -> str:
    """`sha256:` and the SHA-256 (FIPS 180-4) over the files by their relative path.

    Each path and each content goes in behind its length, so that no two sets of files can run
    together into the same bytes. The order of `files` does not matter.
    """
    hasher = hashlib.sha256()
    for path, content in sorted(files.items()):
        for part in (path.encode("utf-8"), content):
            hasher.update(len(part).to_bytes(8, "big"))
            hasher.update(part)
    return f"sha256:{hasher.hexdigest()}"
