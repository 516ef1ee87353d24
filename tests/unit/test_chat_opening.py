"""Which job is talked through, and what a person chose the last time."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest

from cli.chat.consultation import Consultation
from cli.chat.keeping import StoreKeeper
from cli.chat.loop import Chat
from cli.chat.opening import ask_name, jobs_there, written_alike
from cli.chat.screen import Piped
from cli.chat.settings import Settings
from cli.output.style import Style
from engine.facts import JobFacts
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder
from engine.trail import Store


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@pytest.fixture
def shop(tmp_path: Path, ruleset: RuleSet) -> Path:
    path = tmp_path / "shop.db"
    with Store.open(path) as store:
        for name in ("BM-7", "BM-8"):
            StoreKeeper(store, name, ruleset, "Robin").save(JobFacts(name, panels={"roof": {}}))
    return path


def asked(path: Path, typed: str) -> tuple[str, str]:
    said: list[str] = []
    name = ask_name(Piped(io.StringIO(typed).readline, said.append), Style(80), path)
    return name, "\n".join(said)


def test_the_jobs_there_are_offered_before_a_new_one(shop: Path) -> None:
    name, said = asked(shop, "BM-8\n")
    assert name == "BM-8"
    assert "  BM-7: not decided yet" in said
    assert "Type its name to go on with it" in said


def test_without_a_store_only_a_new_name_is_asked_for(tmp_path: Path) -> None:
    name, said = asked(tmp_path / "none.db", "BM-9\n")
    assert name == "BM-9"
    assert "An order number or any short name" in said


def test_enter_alone_never_takes_up_a_job_that_is_there(shop: Path, ruleset: RuleSet) -> None:
    first, _ = asked(shop, "\n")
    with Store.open(shop) as store:
        StoreKeeper(store, first, ruleset, "Robin").save(JobFacts(first, panels={"roof": {}}))
    second, _ = asked(shop, "\n")
    assert second != first
    assert second.startswith(first)


@pytest.mark.parametrize(
    ("name", "found"), [("bm7", "BM-7"), ("BM 8", "BM-8"), ("BM-7", None), ("BM-9", None)]
)
def test_a_name_that_differs_in_marks_alone_is_noticed(name: str, found: str | None) -> None:
    assert written_alike(name, ["BM-7", "BM-8"]) == found


def test_the_way_of_walking_is_kept_for_each_person(tmp_path: Path) -> None:
    path = tmp_path / "settings" / "chat.json"
    robin, sam = Settings(path, "Robin"), Settings(path, "Sam")
    assert not robin.by_panel
    robin.walk(by_panel=True)
    sam.walk(by_panel=False)
    assert Settings(path, "Robin").by_panel
    assert not Settings(path, "Sam").by_panel
    robin.walk(by_panel=False)
    assert not Settings(path, "Robin").by_panel


@pytest.mark.parametrize(
    "text", ["", "[]", '{"walk": 3}', '{"walk": {"Robin": ["panel"]}}', "[" * 9999]
)
def test_settings_that_make_no_sense_are_left_alone(tmp_path: Path, text: str) -> None:
    path = tmp_path / "chat.json"
    path.write_text(text, "utf-8")
    assert not Settings(path, "Robin").by_panel


def test_settings_that_cannot_be_written_stop_nothing() -> None:
    settings = Settings(Path(os.devnull) / "chat.json", "Robin")
    settings.walk(by_panel=True)
    assert not settings.by_panel


def test_by_panel_in_the_chat_is_handed_on_to_be_kept(ruleset: RuleSet, tmp_path: Path) -> None:
    settings = Settings(tmp_path / "chat.json", "Robin")
    talk = Consultation(ruleset, JobFacts("BM-7", panels={"roof": {}}), lambda _: None)
    screen = Piped(io.StringIO("by panel\n").readline, lambda _: None)
    Chat(talk, screen, 80, walk=settings.walk).run()
    assert talk.by_panel
    assert settings.by_panel


def test_by_alone_says_how_it_is_walked(ruleset: RuleSet) -> None:
    said: list[str] = []
    talk = Consultation(ruleset, JobFacts("BM-7", panels={"roof": {}}), lambda _: None)
    Chat(talk, Piped(io.StringIO("by panel\nby\n").readline, said.append), 80).run()
    assert said.count("Panel by panel.") == 2
    assert "`by panel` and `by question` choose." in said
    assert talk.by_panel


def test_job_alone_lists_the_jobs(shop: Path, ruleset: RuleSet) -> None:
    said: list[str] = []
    talk = Consultation(ruleset, JobFacts("BM-7", panels={"roof": {}}), lambda _: None)
    screen = Piped(io.StringIO("job\njob BM-7\njob BM-8\n").readline, said.append)
    chat = Chat(talk, screen, 80, jobs=lambda: jobs_there(shop))
    chat.run()
    assert "  BM-7: this one, not decided yet" in said
    assert "This is BM-7." in said
    assert chat.switch_to == "BM-8"
