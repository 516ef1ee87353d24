"""Every fault after spraying, told the way an apprentice would tell it."""

from __future__ import annotations

import io

import pytest

from cli.chat import trouble
from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.chat.screen import Piped
from engine.choices import choices_of
from engine.facts import JobFacts
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder

# Common talk of paint shops, no source.
TOLD = {
    "fisheyes": ["fisheyes in the clear", "fish eyes", "little round holes, paint pulled away"],
    "runs": ["paint ran down on the roof", "runs in the clear", "sagging"],
    "solvent-pop": ["solvent pop", "pin holes in the clear after baking", "the clear boiled"],
    "orange-peel": ["orange peel", "looks like orange skin", "rough texture in the clear"],
    "dry-spray": ["dry spray", "feels gritty"],
    "nibs": ["dust in the clear", "bits in the paint", "specks of dust"],
    "dieback": ["lost its gloss after a day", "gloss went off overnight"],
    "imprint": ["tape marks in the clear", "paper marks"],
    "overspray": ["overspray", "spray dust on it"],
    "water-spots": ["water marks", "rain spots in the clear", "water spotting"],
    "blushing": ["clear went milky", "white haze", "blooming"],
    "peeling": ["clear is peeling off", "new paint flaking", "delamination"],
    "blistering": ["blisters", "bubbles under the paint"],
    "polished-through": ["burnt through with the polisher", "polished through"],
    "dull": ["dull patches", "no shine", "matt"],
    "mottle": ["cloudy metallic", "tiger stripes", "mottled"],
    "poor-hiding": ["primer shows through", "it doesn't cover", "you can see the ground"],
    "colour-off": ["wrong colour", "colour doesn\u2019t match", "color mismatch"],
    "chalking": ["chalky", "fading already"],
    "pinholes": ["pinholes in the filler", "pin holes over filler"],
    "sand-scratches": ["sanding scratches show through", "scratch swelling"],
    "edge-mapping": ["ring around the repair", "repair edge shows", "mapping"],
    "bleeding": ["red bleeding through", "yellow stain over filler"],
    "chips": ["stone chips", "chipped"],
    "lifting": ["paint is wrinkling", "lifting", "it fried up"],
    "crazing": ["crazing", "fine cracks like a net"],
    "cracking": ["cracks", "splits in the paint"],
    "soft": ["still soft", "won't harden", "tacky after two days"],
    "rust-bubbles": ["rust coming through", "rust bubbles"],
}
JOB = JobFacts("BM-7", panels={"roof": {}, "bonnet": {}})


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def understood(ruleset: RuleSet, text: str) -> dict[str, str]:
    found = trouble.understood(ruleset, JOB, text)
    return {spec.id: value for spec, value in found.answers} if found else {}


@pytest.mark.parametrize(
    ("said", "panels"),
    [
        ("fisheyes in the clear, bonnet", ("bonnet",)),
        ("fisheyes in the clear", ()),
        ("fisheyes in the clear on the left side", ("left side with the painted story",)),
        ("fisheyes, sill below the book steps", ("sill below the book steps",)),
    ],
)
def test_words_that_only_bind_name_no_panel(
    ruleset: RuleSet, said: str, panels: tuple[str, ...]
) -> None:
    names = ("left side with the painted story", "bonnet", "sill below the book steps")
    found = trouble.understood(ruleset, JobFacts("BM-7", panels={name: {} for name in names}), said)
    assert found is not None
    assert found.panels == panels


def test_the_table_leaves_no_fault_out(ruleset: RuleSet) -> None:
    spec = trouble.fault_fact(ruleset)
    assert spec is not None
    assert set(TOLD) == {choice.id for choice in choices_of(spec)} - {spec.alone}


@pytest.mark.parametrize(("fault", "said"), [(name, said) for name in TOLD for said in TOLD[name]])
def test_a_fault_is_understood(ruleset: RuleSet, fault: str, said: str) -> None:
    assert understood(ruleset, f"{said} roof")["finish.defects"] == fault


@pytest.mark.parametrize(
    ("said", "more"),
    [
        ("fisheyes in the clear", {"finish.depth": "clear"}),
        ("dry spray", {}),
        ("tacky after two days", {}),
        ("primer shows through", {}),
        ("no cracks", None),
        ("runs in the base, still wet", {"finish.depth": "base", "finish.state": "wet"}),
    ],
)
def test_words_that_name_the_fault_tell_nothing_else(
    ruleset: RuleSet, said: str, more: dict[str, str] | None
) -> None:
    found = understood(ruleset, said)
    assert bool(found) is (more is not None)
    found.pop("finish.defects", None)
    assert found == (more or {})


@pytest.mark.parametrize("fault", TOLD)
def test_every_fault_ends_in_cause_way_back_and_remedy(ruleset: RuleSet, fault: str) -> None:
    """Whatever is answered first, in no more than five questions."""
    spec = trouble.fault_fact(ruleset)
    assert spec is not None
    for answer in range(3):
        talk = Consultation(ruleset, JOB, lambda _: None)
        found = trouble.understood(ruleset, JOB, f"{TOLD[fault][0]} roof")
        assert found is not None
        talk.take_trouble(found)
        asked = 0
        while (prompt := talk.trouble_prompt()) is not None:
            asked += 1
            assert asked <= 5, prompt.text
            assert prompt.spec is not None
            choices = choices_of(prompt.spec)
            talk.answer(prompt, choices[answer % len(choices)].id if choices else "2 mil")
        lines, (kept,) = talk.diagnoses()
        said = "\n".join(lines)
        assert "Why:" in lines
        assert "How far back: " in said
        assert "What to do, and how to keep from it:" in said
        assert "common practice" in said
        assert fault in kept


def test_words_that_may_mean_two_faults_are_asked_back(ruleset: RuleSet) -> None:
    said: list[str] = []
    talk = Consultation(ruleset, JOB, lambda _: None)
    lines = io.StringIO("trouble cloudy roof\nno\ntrouble cloudy metallic roof\n")
    Chat(talk, Piped(lines.readline, said.append), 80).run()
    assert any(line.startswith("Are these all there? ") for line in said)
    assert talk.job.panels["roof"]["finish.defects"].value == frozenset({"mottle"})
