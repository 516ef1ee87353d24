"""A consultation over the supplied rule set: asking, taking, going back, losing nothing."""

from __future__ import annotations

import io
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.chat.screen import Piped
from cli.chat.turns import Prompt
from engine.answers import show_value
from engine.errors import InputError
from engine.facts import JobFacts
from engine.jobfile import read_job, write_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


@pytest.fixture
def saved() -> list[JobFacts]:
    return []


@pytest.fixture
def talk(ruleset: RuleSet, saved: list[JobFacts]) -> Consultation:
    return Consultation(ruleset, JobFacts("BM-7"), saved.append)


def start(talk: Consultation, panels: str = "roof, front bumper, rear bumper") -> None:
    first = talk.prompt()
    assert first is not None
    assert first.spec is None
    talk.answer(first, panels)


def ask_until(talk: Consultation, fact: str, answers: dict[str, str]) -> Prompt:
    """Answer prompts from `answers`, others with don't know, until `fact` is asked."""
    for _ in range(60):
        prompt = talk.prompt()
        assert prompt is not None, f"{fact} was never asked"
        assert prompt.spec is not None
        if prompt.spec.id == fact:
            return prompt
        talk.answer(prompt, answers.get(prompt.spec.id, "don't know"))
    raise AssertionError(f"{fact} was not reached")


def test_the_same_question_is_put_for_all_panels_at_once(talk: Consultation) -> None:
    start(talk)
    prompt = ask_until(talk, "substrate", {"part": "original"})
    assert set(prompt.panels) == {"roof", "front bumper", "rear bumper"}
    talk.answer(prompt, "all steel; bumpers: plastic")
    told = {panel: sheet["substrate"].value for panel, sheet in talk.job.panels.items()}
    assert told == {"roof": "steel", "front bumper": "plastic", "rear bumper": "plastic"}


def test_rust_and_film_are_not_asked_of_plastic(talk: Consultation) -> None:
    start(talk)
    answers = {"part": "original", "substrate": "all steel; bumpers: plastic", "defects": "none"}
    rust = ask_until(talk, "rust", answers)
    assert rust.panels == ("roof",)


def test_the_gauge_is_asked_before_its_readings(talk: Consultation) -> None:
    start(talk, "roof")
    answers = {"part": "original", "substrate": "steel", "defects": "none", "rust": "none"}
    gauge = ask_until(talk, "film.gauge", answers)
    talk.answer(gauge, "magnetic")
    after = talk.prompt()
    assert after is not None
    assert after.spec is not None
    assert after.spec.id == "film.readings"


def test_every_accepted_answer_is_saved_before_it_is_shown(
    talk: Consultation, saved: list[JobFacts]
) -> None:
    start(talk)
    prompt = talk.prompt()
    assert prompt is not None
    with pytest.raises(InputError):
        talk.answer(prompt, "xyzzy")
    assert len(saved) == 1
    talk.answer(prompt, "don't know")
    assert saved[-1] == talk.job
    assert len(saved) == 2


def test_a_failed_save_takes_nothing(ruleset: RuleSet) -> None:
    def refuse(job: JobFacts) -> None:
        raise OSError("disk full")

    talk = Consultation(ruleset, JobFacts("BM-7"), refuse)
    first = talk.prompt()
    assert first is not None
    with pytest.raises(OSError, match="disk full"):
        talk.answer(first, "roof")
    assert not talk.job.panels
    assert not talk.turns


def test_back_restores_the_job_and_gives_the_answer_back(talk: Consultation) -> None:
    start(talk, "roof")
    prompt = ask_until(talk, "substrate", {})
    before = talk.job
    talk.answer(prompt, "alu")
    turn = talk.back()
    assert turn is not None
    assert (turn.text, talk.job) == ("alu", before)
    assert talk.prompt() == prompt


def test_words_of_the_trade_are_understood(talk: Consultation) -> None:
    start(talk, "roof")
    prompt = ask_until(talk, "defects", {"part": "factory", "substrate": "steel"})
    talk.answer(prompt, "clear coming off, stone chips")
    assert talk.job.panels["roof"]["defects"].value == frozenset({"peeling", "chips"})


def test_why_names_the_rules_and_what_is_still_possible(talk: Consultation) -> None:
    start(talk, "roof")
    prompt = ask_until(talk, "defects", {"part": "original", "substrate": "steel"})
    lines = talk.why(prompt)
    assert "rules wait for it" in lines[0]
    # Rules that bear on the treatment come before those that only bring steps.
    assert lines[1].startswith("  treatment ")
    assert any(rule in lines[1] for rule in prompt.rules)
    assert lines[-1].startswith("roof: still possible: sand, partial-strip, strip")


def test_a_fact_is_found_by_any_of_its_words(talk: Consultation) -> None:
    start(talk)
    prompt = talk.prompt_for("rear bumper material")
    assert prompt.spec is not None
    assert (prompt.spec.id, prompt.panels) == ("substrate", ("rear bumper",))
    assert talk.prompt_for("soap").panels == ()
    with pytest.raises(InputError, match="nothing is called `colour of the sky`"):
        talk.prompt_for("colour of the sky")


def test_refused_readings_are_asked_again_with_their_gauge(talk: Consultation) -> None:
    start(talk, "loan counter flap")
    for words, value in [
        ("part", "original"),
        ("material", "alu"),
        ("visible defects", "none"),
        ("film gauge", "magnetic"),
        ("film readings", "8.5 8.4 8.6 mil"),
    ]:
        talk.answer(talk.prompt_for(f"loan counter flap {words}"), value)
    gauge = ask_until(talk, "film.gauge", {})
    assert gauge.how[0].startswith("Set aside on loan counter flap: A gauge of the kind magnetic")
    talk.answer(gauge, "eddy-current")
    assert "film.readings" not in talk.job.panels["loan counter flap"]
    readings = ask_until(talk, "film.readings", {})
    talk.answer(readings, "8.5 8.4 8.6 mil")
    assert talk.treatments() == {"loan counter flap": "sand"}


def demo_answers(ruleset: RuleSet) -> tuple[JobFacts, Callable[[Prompt], str]]:
    job = read_job(demo_folder() / "bookmobile.yaml", ruleset)

    def answer(prompt: Prompt) -> str:
        if prompt.spec is None:
            return ", ".join(job.panels)
        spec = prompt.spec

        def text(panel: str | None) -> str:
            told = job.sheet(str(spec.about), panel).get(spec.id)
            return show_value(spec, told.value) if told else "don't know"

        if not prompt.panels:
            return text(None)
        groups: dict[str, list[str]] = {}
        for panel in prompt.panels:
            groups.setdefault(text(panel), []).append(panel)
        return "; ".join(f"{', '.join(panels)}: {value}" for value, panels in groups.items())

    return job, answer


def test_the_demo_van_is_decided_in_chat_as_from_its_file(ruleset: RuleSet) -> None:
    job, answer = demo_answers(ruleset)
    talk = Consultation(ruleset, JobFacts(job.job), lambda _: None)
    prompts = 0
    while (prompt := talk.prompt()) is not None:
        prompts += 1
        talk.answer(prompt, answer(prompt))
    for panel, sheet in job.panels.items():
        if "panel.refinish" in sheet:
            talk.answer(talk.prompt_for(f"{panel} refinishing"), "no")
    decided = decide(ruleset, talk.job)
    expected = decide(ruleset, job)
    assert {name: panel.treatment for name, panel in decided.panels.items()} == {
        name: panel.treatment for name, panel in expected.panels.items()
    }
    told = [spec for spec in ruleset.facts.values() if spec.told and spec.asked and not spec.assume]
    one_by_one = sum(len(job.panels) if spec.about == "panel" else 1 for spec in told)
    assert prompts < 40 < one_by_one


# --- the loop, over a pipe ---------------------------------------------------------------------


def converse(ruleset: RuleSet, lines: str, job: JobFacts | None = None) -> tuple[Consultation, str]:
    said: list[str] = []
    talk = Consultation(ruleset, job or JobFacts("BM-7"), lambda _: None)
    Chat(talk, Piped(io.StringIO(lines).readline, said.append), 80).run()
    return talk, "\n".join(said)


def test_a_wrong_answer_is_explained_and_asked_again(ruleset: RuleSet) -> None:
    talk, said = converse(ruleset, "roof\nsteam\ncombustion\n")
    assert "`steam` is not a value of `Drive`." in said
    assert talk.job.car["car.drive"].value == "combustion"


def test_a_slip_of_typing_is_asked_back_and_taken_with_yes(ruleset: RuleSet) -> None:
    talk, said = converse(ruleset, "roof\nkombustion\n")
    assert "Do you mean combustion (Combustion engine)? (yes / no" in said
    assert "car.drive" not in talk.job.car
    talk, _ = converse(ruleset, "roof\nkombustion\nyes\n")
    assert talk.job.car["car.drive"].value == "combustion"


def test_a_percentage_without_its_sign_is_asked_back(ruleset: RuleSet) -> None:
    asked = "roof\nchange relative humidity: 80\n"
    talk, said = converse(ruleset, asked)
    assert "Do you mean 80 %?" in said
    assert "shop.relative-humidity" not in talk.job.shop
    talk, _ = converse(ruleset, f"{asked}yes\n")
    assert talk.job.shop["shop.relative-humidity"].value == 80


def test_slips_in_several_defects_are_asked_back_together(ruleset: RuleSet) -> None:
    talk, said = converse(ruleset, "roof\nchange roof defects: chips, fadding, pealing\nyes\n")
    assert "Do you mean chips" in said
    assert talk.job.panels["roof"]["defects"].value == {"chips", "fading", "peeling"}


def test_a_slip_in_a_panel_name_is_no_fault_after_spraying(ruleset: RuleSet) -> None:
    asked = "bonnet, roof\nchange defects\nbonet: chips, fading; roof: chalking\n"
    talk, said = converse(ruleset, asked)
    assert "Did you mean `bonnet`?" in said
    assert "fault after spraying" not in said
    assert not talk.job.panels["roof"]


def test_back_asks_again_what_was_taken_back_walking_by_panel(ruleset: RuleSet) -> None:
    asked = "bonnet, roof\nchange roof rust: surface\nby panel\nback\npitted\n"
    talk, said = converse(ruleset, asked)
    assert "Taken back: Rust: surface" in said
    assert talk.job.panels["roof"]["rust"].value == "pitted"


def test_change_takes_a_value_in_the_same_line(ruleset: RuleSet) -> None:
    talk, _ = converse(ruleset, "roof, tailgate\nchange tailgate refinishing: no\n")
    assert talk.job.panels["tailgate"]["panel.refinish"].value == "no"
    assert talk.treatments()["tailgate"] == "leave"


def test_change_alone_asks_with_the_earlier_answer(ruleset: RuleSet) -> None:
    talk, said = converse(ruleset, "roof\nchange soap\nsilicone-free\nchange soap\n")
    assert said.count("Which kind of soap") == 2
    assert talk.job.car["car.wash-soap"].value == "silicone-free"


def test_a_bare_reading_is_asked_back_with_units(ruleset: RuleSet) -> None:
    _, said = converse(ruleset, "roof\nchange roof film readings: 4.8 5.1\n")
    assert "`4.8 5.1` has no unit" in said
    assert "`4.8 5.1 mil` or `4.8 5.1 um`" in said


def test_readings_in_mixed_spellings_are_exact(ruleset: RuleSet) -> None:
    talk, _ = converse(ruleset, "roof\nchange roof film readings: 12 mil, 304.8 µm\n")
    spots = talk.job.panels["roof"]["film.readings"].value
    assert spots == ((Fraction("304.8"),), (Fraction("304.8"),))


def test_help_show_and_stop(ruleset: RuleSet) -> None:
    _, said = converse(ruleset, "roof\nhelp\nchange soap: silicone free\nshow\nstop\nignored\n")
    assert "Several panels in one line" in said
    assert "roof: open" in said
    assert "ignored" not in said


def test_hostile_text_changes_nothing(ruleset: RuleSet) -> None:
    talk, said = converse(ruleset, "roof\n\x1b[2J\u202e\n" + "x" * 100_000 + "\n:\n;;;\n:::;\n\n")
    assert talk.job.panels == {"roof": {}}
    answered = [line for line in said.splitlines() if not line.startswith("> ")]
    assert max(map(len, answered)) <= 100


def test_a_job_goes_on_where_its_file_ends(ruleset: RuleSet, tmp_path: Path) -> None:
    path = tmp_path / "BM-7.yaml"
    talk = Consultation(ruleset, JobFacts("BM-7"), lambda job: write_job(path, job, ruleset))
    Chat(talk, Piped(io.StringIO("roof\ncombustion\n").readline, lambda _: None), 80).run()
    again = Consultation(ruleset, read_job(path, ruleset), lambda _: None)
    assert again.job.car["car.drive"].value == "combustion"
    assert again.prompt() == talk.prompt()


class Answering:
    """A screen on which every question of the chat is answered from a job that is known."""

    prefills = False

    def __init__(self, talk: Consultation, answer: Callable[[Prompt], str]) -> None:
        self._talk, self._answer = talk, answer
        self.bottoms: list[str] = []

    def ask(self, prompt: str, words: object, default: str, bottom: str) -> str:
        self.bottoms.append(bottom)
        asked = self._talk.prompt()
        assert asked is not None
        return self._answer(asked)

    def say(self, text: str = "") -> None:
        pass


def test_the_demo_van_takes_less_than_forty_prompts_of_the_chat(ruleset: RuleSet) -> None:
    """Counted as they are put, and the line at the bottom counts them down truly."""
    job, answer = demo_answers(ruleset)
    talk = Consultation(ruleset, JobFacts(job.job), lambda _: None)
    screen = Answering(talk, answer)
    chat = Chat(talk, screen, 200)
    chat.run()
    assert talk.prompt() is None
    assert chat.prompts < 40
    for place, bottom in enumerate(screen.bottoms[1:], 1):
        left = bottom.split(" | ")[2].split(" question")[0].split(" to ")
        assert int(left[0]) <= chat.prompts - place <= int(left[-1])
