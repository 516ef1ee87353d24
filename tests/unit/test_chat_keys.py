"""The chat through prompt_toolkit's own pipe input: keys in, results out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.completion import CompleteEvent
from prompt_toolkit.document import Document
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput

from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.chat.screen import Terminal, _Words
from engine.facts import JobFacts
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder

CTRL_C, CTRL_D, BACKSPACE = "\x03", "\x04", "\x7f"


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


class Held:
    """A conversation on a dummy terminal."""

    def __init__(self, ruleset: RuleSet, keys: PipeInput, *, plain: bool) -> None:
        self.said: list[str] = []
        self.saved: list[JobFacts] = []
        self.talk = Consultation(ruleset, JobFacts("BM-7"), self.saved.append)
        screen = Terminal(self.said.append, plain=plain, input=keys, output=DummyOutput())
        self.chat = Chat(self.talk, screen, 80)


@contextmanager
def held(ruleset: RuleSet, keys: str, *, plain: bool = False) -> Iterator[Held]:
    with create_pipe_input() as pipe, create_app_session(input=pipe, output=DummyOutput()):
        pipe.send_text(keys)
        yield Held(ruleset, pipe, plain=plain)


@pytest.mark.parametrize("plain", [False, True])
def test_answers_are_typed_and_taken(ruleset: RuleSet, plain: bool) -> None:
    with held(ruleset, "roof, tailgate\rhybrid\rstop\r", plain=plain) as talk:
        talk.chat.run()
        assert list(talk.talk.job.panels) == ["roof", "tailgate"]
        assert talk.talk.job.car["car.drive"].value == "hybrid"


def test_a_refused_answer_comes_back_to_be_mended(ruleset: RuleSet) -> None:
    with held(ruleset, f"roof\rhxxxxxxxx\r{BACKSPACE * 8}ybrid\rstop\r") as talk:
        talk.chat.run()
        assert talk.talk.job.car["car.drive"].value == "hybrid"


def test_a_new_answer_is_typed_over_a_refused_one(ruleset: RuleSet) -> None:
    with held(ruleset, "roof\rsteam\relectric\rback\rhybrid\rstop\r") as talk:
        talk.chat.run()
        assert talk.talk.job.car["car.drive"].value == "hybrid"
        assert sum("type over it" in line for line in talk.said) == 1


def test_a_pasted_answer_takes_the_place_of_the_refused_one(ruleset: RuleSet) -> None:
    pasted = "\x1b[200~electric\x1b[201~"
    with held(ruleset, f"roof\rsteam\r{pasted}\rstop\r") as talk:
        talk.chat.run()
        assert talk.talk.job.car["car.drive"].value == "electric"


@pytest.mark.parametrize("keys", ["\x01hyb", "\x1b[Hhyb", "\x02" * 3 + "hyb"])
def test_arrows_and_editing_keys_change_what_stands_in_the_line(
    ruleset: RuleSet, keys: str
) -> None:
    with held(ruleset, f"roof\rrid\r{keys}\rstop\r") as talk:
        talk.chat.run()
        assert talk.talk.job.car["car.drive"].value == "hybrid"


def test_control_d_ends_even_where_an_answer_stands_in_the_line(ruleset: RuleSet) -> None:
    with held(ruleset, f"roof\rkombustion\r{CTRL_D}") as talk:
        talk.chat.run()
        assert not talk.talk.job.car


def test_back_gives_the_answer_to_be_mended(ruleset: RuleSet) -> None:
    with held(ruleset, f"roof\rhybrid\rback\r{BACKSPACE * 6}electric\rstop\r") as talk:
        talk.chat.run()
        assert talk.talk.job.car["car.drive"].value == "electric"


def test_control_d_ends_and_keeps_everything(ruleset: RuleSet) -> None:
    with held(ruleset, f"roof\rhybrid\r{CTRL_D}") as talk:
        talk.chat.run()
        assert talk.saved[-1] == talk.talk.job
        assert talk.talk.job.car["car.drive"].value == "hybrid"


def test_control_c_interrupts_after_everything_accepted_was_saved(ruleset: RuleSet) -> None:
    with held(ruleset, f"roof\rhybrid\relect{CTRL_C}") as talk:
        with pytest.raises(KeyboardInterrupt):
            talk.chat.run()
        assert talk.saved[-1].car["car.drive"].value == "hybrid"


def test_words_of_the_rule_set_and_panels_complete() -> None:
    completer = _Words(lambda: ["steel", "stainless", "roof"])

    def offered(text: str) -> list[str]:
        document = Document(text, len(text))
        return [each.text for each in completer.get_completions(document, CompleteEvent())]

    assert offered("st") == ["steel", "stainless", "stop"]
    assert offered("all steel; ro") == ["roof"]
    assert offered("") == []
