"""The chat as a desk: what remains, why, back, notes, faults, and work on a stored job."""

from __future__ import annotations

import io
import shutil
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from cli.chat.consultation import Consultation
from cli.chat.desk import Desk, changed_rules, named_on
from cli.chat.keeping import FileKeeper, StoreKeeper
from cli.chat.loop import Chat
from cli.chat.screen import Piped
from cli.output.style import Style
from cli.recording import record
from engine.facts import JobFacts
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import EntryKind, Store, history, verify


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


# --- work on a stored job ----------------------------------------------------------------------


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store.open(tmp_path / "shop.db")


def at_desk(ruleset: RuleSet, store: Store, lines: str) -> str:
    said: list[str] = []
    keeper = StoreKeeper(store, "BM-7", ruleset, "Robin")
    talk = Consultation(ruleset, keeper.load(), keeper.save)
    desk = Desk(store, "BM-7", ruleset, None, "Robin", Style(100))
    screen = Piped(io.StringIO(lines).readline, said.append)
    Chat(talk, screen, 100, catch_up=keeper.catch_up, orders=desk.orders, note=keeper.note).run()
    return "\n".join(said)


def keep_demo(ruleset: RuleSet, store: Store) -> JobFacts:
    job = read_job(demo_folder() / "bookmobile.yaml", ruleset)
    StoreKeeper(store, "BM-7", ruleset, "Robin").save(job)
    return job


def test_a_job_with_nothing_left_to_ask_takes_work(ruleset: RuleSet, store: Store) -> None:
    keep_demo(ruleset, store)
    said = at_desk(
        ruleset,
        store,
        "next\nsign sign-off roof: seen and taken by the lead\n"
        "found roof rust: perforated\nnote ladder brought\ndone no-such-step\nplan\nstop\n",
    )
    kinds = [entry.kind for entry in history(store, "BM-7")]
    assert EntryKind.FOUND in kinds
    assert EntryKind.NOTE in kinds
    assert EntryKind.DECISION in kinds
    assert "What it does to the plan" in said
    assert "No step `no-such-step` is due" in said
    assert "Seal of the record" in said


def test_a_hold_signed_in_chat_is_released_in_the_record(ruleset: RuleSet, store: Store) -> None:
    job = keep_demo(ruleset, store)
    decision = decide(ruleset, job, ask=False)
    panel, held = next(
        (name, found.found.holds[0].topic)
        for name, found in decision.panels.items()
        if found.found.holds
    )
    said = at_desk(ruleset, store, f"sign {held} {panel}: measured 0.4 % at six spots\nstop\n")
    assert f"Signed by Robin: {ruleset.holds[held].title} ({panel})" in said
    assert f"Seal of the record: {store.head()}" in said
    (signed,) = [one for one in history(store, "BM-7") if one.kind is EntryKind.HOLD_SIGNED]
    assert signed.payload == {
        "topic": held,
        "panel": panel,
        "recorded": "measured 0.4 % at six spots",
    }
    again = at_desk(ruleset, store, f"sign {held} {panel}: twice\nstop\n")
    assert "is already signed" in again


@pytest.mark.parametrize("words", ["next", "plan", "done record-vehicle"])
def test_what_the_chat_says_of_work_carries_the_seal(
    ruleset: RuleSet, store: Store, words: str
) -> None:
    keep_demo(ruleset, store)
    said = at_desk(ruleset, store, f"{words}\nstop\n")
    assert f"Seal of the record: {store.head()}" in said.splitlines()


def test_a_step_that_waits_is_refused_with_what_comes_first(ruleset: RuleSet, store: Store) -> None:
    keep_demo(ruleset, store)
    said = at_desk(ruleset, store, "done final-clean roof\nstop\n")
    assert "Not yet:" in said or "no step" in said.lower()
    assert all(one.kind is not EntryKind.STEP_DONE for one in history(store, "BM-7"))


def test_a_cause_found_stands_in_the_record(ruleset: RuleSet, store: Store) -> None:
    StoreKeeper(store, "BM-7", ruleset, "Robin").save(JobFacts("BM-7", panels={"roof": {}}))
    at_desk(ruleset, store, "trouble fisheyes in the clear\n")
    assert not [one for one in history(store, "BM-7") if one.kind is EntryKind.NOTE]
    at_desk(ruleset, store, "trouble roof\ncured\n")
    (note,) = [one for one in history(store, "BM-7") if one.kind is EntryKind.NOTE]
    assert note.payload == {
        "text": "Looked into faults of roof: fisheyes; back to: recoat-clear; "
        "rules: fault-in-clear-recleared, fisheye-found"
    }
    assert StoreKeeper(store, "BM-7", ruleset, "Robin").load().panels["roof"]["finish.depth"]


def test_a_job_file_takes_no_work(ruleset: RuleSet) -> None:
    _, said = hold_talk(ruleset, "roof\nnext\n")
    assert "Work is recorded for jobs of the store" in said


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("mask up roof", ("mask up", "roof")),
        ("mask up rear door left", ("mask up", "rear door left")),
        ("mask up", ("mask up", None)),
        ("clean roof", ("clean roof", None)),
        ("unknown thing roof", ("unknown thing", "roof")),
    ],
)
def test_a_panel_is_taken_off_the_end(words: str, found: tuple[str, str | None]) -> None:
    names = ["mask up", "clean roof"]
    assert named_on(words, ["roof", "rear door left"], names) == found


def test_notes_stay_in_a_job_file(ruleset: RuleSet, tmp_path: Path) -> None:
    path = tmp_path / "BM-7.yaml"
    keeper = FileKeeper(path, "BM-7", ruleset)
    talk = Consultation(ruleset, keeper.load(), keeper.save)
    lines = io.StringIO("roof\nnote badge is kept\ncombustion\n")
    Chat(talk, Piped(lines.readline, lambda _: None), 80, note=keeper.note).run()
    again = FileKeeper(path, "BM-7", ruleset)
    again.save(again.load())
    assert "badge is kept" in path.read_text("utf-8")
    assert read_job(path, ruleset).car["car.drive"].value == "combustion"


def test_changed_rules_are_told_when_a_job_is_taken_up(ruleset: RuleSet, store: Store) -> None:
    job = keep_demo(ruleset, store)
    decision = decide(ruleset, job)
    record(store, None, ruleset, job, decision, "Robin")
    now = {name: panel.treatment for name, panel in decision.panels.items()}
    assert changed_rules(store, "BM-7", ruleset, now) == []
    newer = replace(ruleset, digest="sha256:" + "0" * 64)
    other = {**now, "roof": "renew"}
    lines = changed_rules(store, "BM-7", newer, other)
    assert "The rules changed since this job was decided" in lines[0]
    assert lines[1:] == [f"roof: was {now['roof']}, is renew."]


def test_changed_rules_are_told_of_a_job_never_decided(
    ruleset: RuleSet, store: Store, tmp_path: Path
) -> None:
    supplied = supplied_ruleset_folder()
    keeper = StoreKeeper(store, "BM-7", ruleset, "Robin", supplied)
    keeper.save(JobFacts("BM-7", panels={"roof": {}}))
    assert changed_rules(store, "BM-7", ruleset, {}) == []
    folder = tmp_path / "rules"
    shutil.copytree(supplied, folder)
    limits = folder / "limits.yaml"
    changed = limits.read_text("utf-8").replace("value: 12 mil", "value: 11 mil", 1)
    limits.write_text(changed, "utf-8")
    newer = load_ruleset(folder)
    (line,) = changed_rules(store, "BM-7", newer, {})
    assert line.startswith("The rules changed since this job was last told of")
    again = StoreKeeper(store, "BM-7", newer, "Robin", folder)
    again.save(replace(again.load(), panels={"roof": {}, "bonnet": {}}))
    assert changed_rules(store, "BM-7", newer, {}) == []
    assert verify(store).sound


def test_an_answer_is_kept_even_while_the_rules_are_being_changed(
    ruleset: RuleSet, store: Store, tmp_path: Path
) -> None:
    keeper = StoreKeeper(store, "BM-7", ruleset, "Robin", tmp_path / "gone")
    keeper.save(JobFacts("BM-7", panels={"roof": {}}))
    assert StoreKeeper(store, "BM-7", ruleset, "Robin").load().panels == {"roof": {}}


def records(store: Store) -> list[tuple[str, object]]:
    told = (EntryKind.STEP_DONE, EntryKind.HOLD_SIGNED, EntryKind.FOUND, EntryKind.DECISION)
    return [(one.kind.value, one.payload) for one in history(store, "BM-7") if one.kind in told]


def test_work_told_in_chat_leaves_what_the_commands_leave(ruleset: RuleSet, tmp_path: Path) -> None:
    from cli.main import run
    from cli.work import Workbench

    by_chat, by_command = (Store.open(tmp_path / name) for name in ("chat.db", "command.db"))
    for store in (by_chat, by_command):
        keep_demo(ruleset, store)
    bench = Workbench(by_chat, "BM-7", ruleset)
    planned = {task.key: task for task in bench.plan().tasks}
    holds = [hold for task in planned.values() for hold in task.holds if hold.subjects]
    hold = holds[0].topic.id
    ready = planned[bench.plan().next.ready[0].task]
    step, panel = ready.task.parts[0][0], ready.task.parts[0][1]
    on = f" {panel}" if panel else ""
    at_desk(
        ruleset,
        by_chat,
        f"done {step}{on}\nsign {hold}: seen by the lead\nfound roof rust: perforated\nstop\n",
    )
    common = ["--store", str(tmp_path / "command.db"), "--by", "Robin"]
    assert run(["done", "BM-7", step, *([panel] if panel else []), *common]) == 0
    assert run(["sign", "BM-7", hold, "--record", "seen by the lead", *common]) == 0
    assert run(["found", "BM-7", "roof rust: perforated", *common]) == 0
    assert {kind for kind, _ in records(by_chat)} == {
        "step-done",
        "hold-signed",
        "found",
        "decision",
    }
    assert records(by_chat) == records(by_command)
