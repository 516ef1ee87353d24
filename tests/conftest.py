"""What all tests share: a cache folder of their own, away from that of whoever runs them."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    before = os.environ.get("PREPWRIGHT_CACHE")
    os.environ["PREPWRIGHT_CACHE"] = str(tmp_path_factory.mktemp("cache"))
    yield
    if before is None:
        del os.environ["PREPWRIGHT_CACHE"]
    else:
        os.environ["PREPWRIGHT_CACHE"] = before
