"""A few spoilt inputs of every kind, and every input that once went wrong, end in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import pytest

from tests.fuzz.running import FOUND, Finding, feed, kept, run
from tests.fuzz.targets import TARGETS, Target, spoiler_for

INPUTS = 1_000
SLOW = {"chat": 15, "exports": 10, "rules": 60, "decisions": 60}


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_good_inputs_are_taken(target: Target) -> None:
    for seed in islice(target.seeds(), 20):
        assert feed(target, seed) is None


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_spoilt_inputs_end_in_words(target: Target) -> None:
    count = SLOW.get(target.name, round(INPUTS * target.share))
    assert [finding.signature for finding in run(target, count, seed=7)] == []


@pytest.mark.parametrize(
    "kept_input", list(kept()), ids=lambda pair: f"{pair[0].name}/{pair[1].name[:8]}"
)
def test_what_once_went_wrong_does_no_more(kept_input: tuple[Target, object]) -> None:
    target, path = kept_input
    assert path.parent.parent == FOUND
    assert feed(target, path.read_bytes()) is None


def test_the_same_seed_draws_the_same_inputs() -> None:
    target = TARGETS[0]
    one, same, other = (spoiler_for(target, seed) for seed in (1, 1, 2))
    drawn = [one() for _ in range(50)]
    assert drawn == [same() for _ in range(50)]
    assert drawn != [other() for _ in range(50)]


def test_an_exception_is_a_finding() -> None:
    def breaks(content: bytes) -> None:
        raise ValueError(content.decode())

    found = feed(replace(TARGETS[0], feed=breaks), b"why")
    assert found == Finding(TARGETS[0].name, b"why", "ValueError: why")


def test_what_hangs_is_a_finding() -> None:
    def hangs(content: bytes) -> None:
        while True:
            pass

    found = feed(replace(TARGETS[0], feed=hangs, seconds=0.2), b"")
    assert found is not None
    assert found.what.startswith("Hangs")
