"""The list of how many outside values are compared with is current, and DEVELOPERS.md says so."""

from __future__ import annotations

import re
from pathlib import Path

from counting import LIST, counted, page, total

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_the_list_is_current() -> None:
    """Where this fails: `python tests/published/counting.py`."""
    assert LIST.read_text("utf-8") == page()


def test_far_more_than_a_hundred_and_fifty_values_from_many_sources() -> None:
    by_file = {name: count for name, (_, count) in counted().items()}
    assert all(by_file.values())
    assert len(by_file) >= 20
    assert total() > 150
    largest = max(by_file.values())
    assert total() - largest > 150


def test_developers_are_told_how_many() -> None:
    told = re.search(r"([0-9]+) values", DEVELOPERS.read_text("utf-8"))
    assert told is not None
    assert int(told[1]) == total() // 100 * 100
