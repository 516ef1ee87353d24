"""The chat as a desk: free words, what remains, why, back, and faults after spraying."""

from __future__ import annotations

import io
from itertools import pairwise
from pathlib import Path

import pytest

from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.chat.screen import Piped
from cli.output.style import Style
from engine.facts import JobFacts
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


def hold_talk(
    ruleset: RuleSet, lines: str, job: JobFacts | None = None, width: int = 80
) -> tuple[Consultation, str]:
    said: list[str] = []
    talk = Consultation(ruleset, job or JobFacts("BM-7"), lambda _: None)
    Chat(talk, Piped(io.StringIO(lines).readline, said.append), width).run()
    return talk, "\n".join(said)


def test_all_panels_an_answer_told_something_of_are_echoed(ruleset: RuleSet) -> None:
    panels = {name: {} for name in ("roof", "bonnet")}
    lines = "change roof material: roof: steel; bonnet: alu\nchange roof area: idk\n"
    _, said = hold_talk(ruleset, lines, JobFacts("BM-7", panels=panels))
    assert "  roof: Material: steel" in said
    assert "  bonnet: Material: aluminium" in said
    assert "once it is found out: `change roof area to paint`" in said


def test_readings_told_before_their_gauge_say_what_they_wait_for(ruleset: RuleSet) -> None:
    from cli.output.film_strip import film_strip

    lines = "roof\nchange roof film readings: 5 5.1 5 mil\n"
    talk, said = hold_talk(ruleset, lines)
    assert "taken once these are known: Material." in " ".join(said.split())
    assert "taken once known: Material" in film_strip(talk.evaluation, "roof", Style(200))
    lines += "change roof material: alu\nchange roof film gauge: magnetic\n"
    talk, _ = hold_talk(ruleset, lines)
    said = film_strip(talk.evaluation, "roof", Style(200))
    assert said.startswith("roof: the readings told are set aside. A gauge of the kind magnetic")


def test_a_file_that_is_there_is_not_written_over_unasked(ruleset: RuleSet, tmp_path: Path) -> None:
    path = tmp_path / "other.yaml"

    def typed(*lines: str) -> str:
        said: list[str] = []
        talk = Consultation(ruleset, JobFacts("BM-7", panels={"roof": {}}), lambda _: None)
        screen = Piped(io.StringIO("\n".join(lines) + "\n").readline, said.append)
        Chat(talk, screen, 80, lambda name, _: Path(name).write_text("new", "utf-8") and None).run()
        return "\n".join(said)

    path.write_text("old", "utf-8")
    assert "Write over it?" in typed(f"write {path}", "no")
    assert path.read_text("utf-8") == "old"
    typed(f"write {path}", "yes")
    assert path.read_text("utf-8") == "new"
    assert "Write over it?" not in typed(f"write {tmp_path / 'fresh.yaml'}")


# --- free words --------------------------------------------------------------------------------


def test_free_words_are_taken_only_when_confirmed(ruleset: RuleSet) -> None:
    asked = "roof\nchange roof defects\nclear is flaking on the edge\n"
    talk, said = hold_talk(ruleset, asked)
    assert "Do you mean peeling" in said
    assert "defects" not in talk.job.panels["roof"]
    talk, _ = hold_talk(ruleset, f"{asked}no\n")
    assert "defects" not in talk.job.panels["roof"]
    talk, _ = hold_talk(ruleset, f"{asked}yes\n")
    assert talk.job.panels["roof"]["defects"].value == frozenset({"peeling"})


def test_other_words_take_the_place_of_what_was_asked_back(ruleset: RuleSet) -> None:
    lines = "roof\nchange roof defects\nflaking off everywhere\nstone chips\nyes\n"
    talk, _ = hold_talk(ruleset, lines)
    assert talk.job.panels["roof"]["defects"].value == frozenset({"chips"})


# --- what may still come -----------------------------------------------------------------------


def test_the_bottom_line_counts_down_and_fits(ruleset: RuleSet) -> None:
    bottoms: list[str] = []

    class Watched(Piped):
        def ask(self, prompt: str, words: object, default: str, bottom: str) -> str:
            bottoms.append(bottom)
            return super().ask(prompt, (), default, bottom)

    for width in (40, 200):
        talk = Consultation(ruleset, JobFacts("BM-7"), lambda _: None)
        lines = io.StringIO("roof, bonnet\ncombustion\nnegative\nus\n")
        Chat(talk, Watched(lines.readline, lambda _: None), width).run()
        assert max(map(len, bottoms)) <= width
    wide = bottoms[-1]
    assert "BM-7" in wide
    assert "0 of 2 panels decided" in wide
    assert "questions left" in wide


def test_what_remains_bounds_the_questions_that_matter(ruleset: RuleSet) -> None:
    """At least never passes the exhaustive count of facts that matter, at most never undercuts."""
    job = read_job(demo_folder() / "bookmobile.yaml", ruleset)
    talk = Consultation(ruleset, JobFacts("BM-7"), lambda _: None)
    for text in (", ".join(list(job.panels)[:3]), "combustion", "no"):
        prompt = talk.prompt()
        assert prompt is not None
        talk.answer(prompt, text if prompt.spec is None else "don't know")
        matter = {question.fact for question in decide(ruleset, talk.job).questions}
        left = talk.remaining()
        assert 1 <= left.least <= len(matter) <= left.most


def test_why_says_what_each_answer_leaves(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\nchange roof material\nwhy\n")
    flat = " ".join(said.split())
    steels, others = flat.split("roof: steel or galvanised-steel would leave: ")[1].split(
        "roof: aluminium would leave: "
    )
    assert steels.startswith("sand or partial-strip or strip or renew")
    assert others.startswith("sand or partial-strip or strip.")
    assert "rules out caution: Aluminium dust" in steels
    _, said = hold_talk(ruleset, "roof\ncombustion\nchange lead test\nwhy\n")
    assert "positive would leave" in said
    assert "caution: Lead" in said


def test_why_tells_of_steps_where_nothing_else_differs(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\nchange shop region\nwhy\n")
    ends = [line for line in said.splitlines() if "would leave" in line]
    assert len(ends) > 1
    assert "step" in " ".join(said.split("would leave", 1)[1].split())


def test_why_is_right_about_every_answer(ruleset: RuleSet) -> None:
    """What an answer is said to leave is what is possible once it is given."""
    talk = Consultation(ruleset, JobFacts("BM-7", panels={"roof": {}}), lambda _: None)
    prompt = talk.prompt_for("roof material")
    said = "\n".join(talk.why(prompt))
    for material in ("steel", "plastic"):
        after = Consultation(ruleset, talk.job, lambda _: None)
        after.answer(after.prompt_for("roof material"), material)
        possible = " or ".join(after._settled("roof").possible)
        line = next(line for line in said.splitlines() if material in line.split("would")[0])
        assert f"would leave: {possible}" in line


def test_spans_of_numbers_are_those_that_lead_to_the_same(ruleset: RuleSet) -> None:
    """Rust over part of a panel: each span named leaves what every number tried in it leaves."""
    panels = {"roof": {}}
    talk = Consultation(ruleset, JobFacts("BM-7", panels=panels), lambda _: None)
    for words, value in (
        ("part", "original"),
        ("material", "steel"),
        ("defects", "none"),
        ("rust", "surface"),
    ):
        talk.answer(talk.prompt_for(f"roof {words}"), value)
    lines = [line for line in talk.why(talk.prompt_for("roof rust area")) if "would leave" in line]
    assert len(lines) > 1
    for line in lines:
        span, left = line.removeprefix("roof: ").split(" would leave: ")
        for number in span.replace("from ", "").replace(" to ", " or ").split(" or "):
            after = Consultation(ruleset, talk.job, lambda _: None)
            after.answer(after.prompt_for("roof rust area"), number)
            assert left.startswith(" or ".join(after._settled("roof").possible)), line


def test_a_mistyped_command_is_suggested(ruleset: RuleSet) -> None:
    talk, said = hold_talk(ruleset, "roof\nchnge roof material\n")
    assert "`change`? That is a command." in said
    assert not talk.job.car


def test_back_says_what_falls_with_the_answer(ruleset: RuleSet) -> None:
    lines = "roof, tailgate\nchange tailgate refinishing: no\nback\n"
    talk, said = hold_talk(ruleset, lines)
    assert "Falls with it: tailgate: leave is open again." in said
    assert talk.treatments()["tailgate"] is None


def test_walking_panel_by_panel_asks_one_panel_at_a_time(ruleset: RuleSet) -> None:
    talk = Consultation(
        ruleset, JobFacts("BM-7", panels={"roof": {}, "bonnet": {}}), lambda _: None
    )
    talk.by_panel = True
    seen: list[str] = []
    for _ in range(60):
        prompt = talk.prompt()
        if prompt is None:
            break
        if prompt.panels:
            assert len(prompt.panels) == 1
            seen += prompt.panels
        talk.answer(prompt, "don't know")
    changes = sum(before != after for before, after in pairwise(seen))
    assert set(seen) == {"roof", "bonnet"}
    assert changes == 1
    by_question = Consultation(ruleset, JobFacts("BM-7", panels=talk.job.panels), lambda _: None)
    assert not by_question.by_panel


# --- faults after spraying ---------------------------------------------------------------------


def test_a_fault_is_parted_named_and_told(ruleset: RuleSet) -> None:
    talk, said = hold_talk(ruleset, "roof, bonnet\ntrouble fisheyes in the clear, roof\ncured\n")
    flat = " ".join(said.split())
    sheet = talk.job.panels["roof"]
    assert sheet["finish.defects"].value == frozenset({"fisheyes"})
    assert sheet["finish.depth"].value == "clear"
    assert talk.job.panels["bonnet"] == {}
    assert "silicone, oil or water pushed the paint away" in flat
    assert "How far back: Sand and clear again." in flat
    assert "Deal with craters:" in flat
    assert "(common practice)" in flat


def test_another_coat_gives_another_way_back(ruleset: RuleSet) -> None:
    start = "roof\ntrouble fisheyes on the roof\n"
    ends = {}
    for depth in ("clear", "base", "ground", "substrate"):
        _, said = hold_talk(ruleset, f"{start}cured\n{depth}\n")
        if "How far back" not in said:
            _, said = hold_talk(ruleset, f"{start}{depth}\ncured\n")
        ends[depth] = said.split("How far back: ")[1].split(".")[0]
    assert ends == {
        "clear": "Sand and clear again",
        "base": "Back to the colour",
        "ground": "Back to the primer",
        "substrate": "Back to the bare panel",
    }


def test_a_fault_typed_as_an_answer_is_asked_back_first(ruleset: RuleSet) -> None:
    talk, said = hold_talk(ruleset, "roof\nfisheyes in the clear\n")
    assert "Is it a fault after spraying" in said
    assert talk.job.panels["roof"] == {}
    talk, _ = hold_talk(ruleset, "roof\nfisheyes in the clear\nyes\n")
    assert talk.job.panels["roof"]["finish.depth"].value == "clear"


def test_an_unknown_fault_names_the_known_ones(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\ntrouble gremlins\n")
    assert "No fault was understood in `gremlins`" in said
    assert "solvent-pop" in said


def test_a_job_file_takes_no_work(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\nnext\n")
    assert "Work is recorded for jobs of the store" in said


def test_why_not_without_a_panel_is_of_those_asked_about(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof, bonnet\nchange bonnet material\nwhy not strip?\n")
    assert "bonnet: why not strip" in said
    assert "roof: why not" not in said


def test_why_not_before_any_panel_says_so(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "why not strip?\nwhy not strip the roof?\n")
    assert "No panel is named yet." in said
    assert "No panel is called `roof`." in said


def test_why_not_what_is_no_treatment_or_panel_names_it(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\nwhy not gold\nwhy not strip gremlins\n")
    assert said.count("The treatments are leave, sand, partial-strip, strip, renew.") == 1
    assert "No panel is called `gremlins`." in said
    assert ": why not" not in said
