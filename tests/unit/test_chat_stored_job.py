"""The chat on a job of the store: work done, holds signed, causes found, rules that changed."""

from __future__ import annotations

import io
import re
import shutil
from dataclasses import replace
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


@pytest.mark.parametrize(
    ("command", "told"),
    [
        ("next", r"Still undecided: roof\. \d+ open questions may bring more work"),
        ("plan", r"roof: treatment.*; tell .*substrate"),
    ],
)
def test_what_is_due_says_how_much_is_still_asked(
    ruleset: RuleSet, store: Store, command: str, told: str
) -> None:
    said = " ".join(at_desk(ruleset, store, f"roof\n{command}\nstop\n").split())
    assert re.search(told, said)
    assert " 0 open questions" not in said


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


# --- why not, and work by its number ------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "panel", "treatment"),
    [
        ("why not strip the roof?", "roof", "strip"),
        ("why isn't the bonnet renewed", "bonnet", "renew"),
        ("why not bonnet partial-strip", "bonnet", "partial-strip"),
    ],
)
def test_why_not_answers_as_the_rules_do(
    ruleset: RuleSet, store: Store, words: str, panel: str, treatment: str
) -> None:
    from engine.reasoning.evaluate import evaluate
    from engine.reasoning.explain import Explainer
    from engine.reasoning.program import compile_ruleset

    job = keep_demo(ruleset, store)
    why = Explainer(evaluate(compile_ruleset(ruleset), job)).why_not(panel, treatment)
    said = at_desk(ruleset, store, f"{words}\nstop\n")
    assert f"{panel}: why not {treatment}" in said
    assert why in " ".join(said.split())


def test_a_task_is_done_by_its_number(ruleset: RuleSet, store: Store) -> None:
    keep_demo(ruleset, store)
    said = at_desk(ruleset, store, "done 9999\ndone 1\nstop\n")
    assert "There is no task 9999 in job BM-7. May be done now: 1 Record the vehicle." in said
    assert "numbered anew" in said
    (done,) = [one for one in history(store, "BM-7") if one.kind is EntryKind.STEP_DONE]
    assert done.payload["step"] == "record-vehicle"
