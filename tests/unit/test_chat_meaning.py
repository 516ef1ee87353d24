"""Free words taken for a choice: always a guess to be confirmed, never one against a denial."""

from __future__ import annotations

import pytest

from cli.chat.bulk import Part
from cli.chat.meaning import meant, proposal
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


@pytest.mark.parametrize(
    ("fact", "text", "found"),
    [
        ("defects", "clear is flaking on the edge", ("peeling",)),
        ("defects", "it flakes, and there are stone chips", ("chips", "peeling")),
        ("defects", "the paint has some blisters and it is fading", ("fading", "blistering")),
        ("defects", "no flaking at all", ()),
        ("defects", "it isn't peeling", ()),
        ("defects", "all lovely", ()),
        ("defects", "", ()),
        ("car.drive", "plain petrol hybrid I think", ("hybrid",)),
        ("film.readings", "five mil of chips", ()),
    ],
)
def test_the_words_of_the_rule_set_are_found(
    ruleset: RuleSet, fact: str, text: str, found: tuple[str, ...]
) -> None:
    spec = ruleset.facts[fact]
    if fact == "car.drive":
        assert "hybrid" in meant(spec, text)
    else:
        assert meant(spec, text) == found


def test_every_word_of_a_choice_leads_to_it_from_within_a_sentence(ruleset: RuleSet) -> None:
    spec = ruleset.facts["defects"]
    for choice in spec.choices:
        for word in choice.also:
            if choice.id == "none" or "no" in word.split() or "nothing" in word:
                continue
            assert choice.id in meant(spec, f"there is {word} in two places"), word


def test_a_proposal_keeps_what_was_understood_for_other_panels(ruleset: RuleSet) -> None:
    parts = (Part(("roof",), "flaking badly"), Part(("bonnet", "tailgate"), "none"))
    found = proposal(ruleset.facts["defects"], parts)
    assert found is not None
    assert found.text == "roof: peeling; bonnet, tailgate: none"
    assert found.meant.startswith("peeling (")


def test_two_choices_are_no_answer_to_a_question_that_takes_one(ruleset: RuleSet) -> None:
    spec = ruleset.facts["substrate"]
    assert len(meant(spec, "half steel half plastic")) == 2
    assert proposal(spec, (Part(("roof",), "half steel half plastic"),)) is None


def test_what_reads_as_it_stands_needs_no_proposal(ruleset: RuleSet) -> None:
    assert proposal(ruleset.facts["defects"], (Part(("roof",), "peeling"),)) is None
