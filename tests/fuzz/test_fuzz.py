"""A few spoilt inputs of every kind, and every input that once went wrong, end in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import pytest

from tests.fuzz.running import FOUND, Finding, feed, kept, run
from tests.fuzz.target import Target
from tests.fuzz.targets import TARGETS, spoiler_for

INPUTS = 1_000
SLOW = {
    "chat": 15,
    "exports": 10,
    "imports": 10,
    "decisions": 40,
    "rules": 60,
    "shops": 30,
    "languages": 30,
}


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_good_inputs_end_in_words_or_are_taken(target: Target) -> None:
    fed = [feed(target, seed) for seed in islice(target.seeds(), 8)]
    assert [each for each in fed if isinstance(each, Finding)] == []
    assert True in fed


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_spoilt_inputs_end_in_words(target: Target) -> None:
    count = SLOW.get(target.name, round(INPUTS * target.share))
    fed = run(target, count, seed=7)
    assert [finding.signature for finding in fed.findings] == []
    assert fed.taken + fed.refused == count


@pytest.mark.parametrize("name", ["answers", "documents", "readings", "languages", "commands"])
def test_many_spoilt_inputs_are_taken_all_the_same(name: str) -> None:
    (target,) = (target for target in TARGETS if target.name == name)
    fed = run(target, 40, seed=3)
    assert fed.taken > 2


@pytest.mark.parametrize(
    "kept_input", list(kept()), ids=lambda pair: f"{pair[0].name}/{pair[1].name[:8]}"
)
def test_what_once_went_wrong_does_no_more(kept_input: tuple[Target, object]) -> None:
    target, path = kept_input
    assert path.parent.parent == FOUND
    assert isinstance(feed(target, path.read_bytes()), bool)


def test_the_same_seed_draws_the_same_inputs() -> None:
    target = TARGETS[0]
    one, same, other = (spoiler_for(target, seed) for seed in (1, 1, 2))
    drawn = [one() for _ in range(50)]
    assert drawn == [same() for _ in range(50)]
    assert drawn != [other() for _ in range(50)]


def test_an_exception_is_a_finding() -> None:
    def breaks(content: bytes) -> bool:
        raise ValueError(content.decode())

    found = feed(replace(TARGETS[0], feed=breaks), b"why")
    assert found == Finding(TARGETS[0].name, b"why", "ValueError: why")


def test_what_hangs_is_a_finding() -> None:
    def hangs(content: bytes) -> bool:
        while True:
            pass

    found = feed(replace(TARGETS[0], feed=hangs, seconds=0.2), b"")
    assert isinstance(found, Finding)
    assert found.what.startswith("Hangs")
