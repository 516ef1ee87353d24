"""A job from first answer to finished record, through the installed command and one store."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Prepwright, Result

from engine.facts import JobFacts
from engine.trail import Store, opening


class Shop:
    """Runs commands on one store."""

    def __init__(self, prepwright: Prepwright, store: Path) -> None:
        self._prepwright, self.store = prepwright, store

    def __call__(self, *words: object, given: str = "") -> Result:
        return self._prepwright(*words, given=given.encode(), PREPWRIGHT_STORE=str(self.store))

    def say(self, *words: object, given: str = "") -> str:
        done = self(*words, given=given)
        assert done.returncode == 0, done.stderr.decode()
        return " ".join(done.stdout.decode().split())


@pytest.fixture
def shop(prepwright: Prepwright, tmp_path: Path) -> Shop:
    return Shop(prepwright, tmp_path / "store.db")


@pytest.fixture
def taken_in(shop: Shop, sample: Path) -> Shop:
    shop.say("decide", sample, "--save")
    return shop


def test_a_job_file_is_taken_into_the_store(taken_in: Shop) -> None:
    assert "BM-7 1 of 1 panels decided" in taken_in.say("jobs", "--width", 200)
    said = taken_in.say("trail", "show", "BM-7", "--width", 300)
    assert "job-opened by Robin" in said
    assert " - bonnet: part: original; substrate: steel" in said
    assert "decision by Robin: bonnet sand" in said


def test_a_stored_job_is_decided_explained_and_supposed_by_name(taken_in: Shop) -> None:
    assert "bonnet sand" in taken_in.say("decide", "BM-7")
    assert "Sand and repaint" in taken_in.say("why", "BM-7", "bonnet")
    assert "sand becomes renew" in taken_in.say("suppose", "BM-7", "bonnet rust: perforated")


def test_a_part_of_the_record_is_shown_under_the_seal_of_the_whole(taken_in: Shop) -> None:
    whole = taken_in.say("trail", "show")
    part = taken_in.say("trail", "show", "--from", 2, "--to", 3)
    assert "- 1. " not in part
    assert "- 2. " in part
    assert "- 3. " in part
    assert "- 4. " not in part
    assert part.rpartition("Seal: ")[2] == whole.rpartition("Seal: ")[2]
    assert taken_in("trail", "show", "--from", "0").returncode == 2


def test_a_step_is_refused_until_what_comes_before_it_is_done(taken_in: Shop) -> None:
    early = taken_in("done", "BM-7", "spray-basecoat")
    assert early.returncode == 1
    assert "not yet:" in early.stderr.decode()
    assert "Done: Record the vehicle" in taken_in.say("done", "BM-7", "record-vehicle")
    again = taken_in("done", "BM-7", "record-vehicle")
    assert (again.returncode, "already recorded" in again.stderr.decode()) == (2, True)
    assert taken_in("done", "BM-7", "spray-basecoat", "--anyway").returncode == 2
    assert "Done:" in taken_in.say(
        "done", "BM-7", "spray-basecoat", "--anyway", "--note", "sprayed on Friday already"
    )


def test_a_hold_is_signed_with_what_was_recorded(taken_in: Shop) -> None:
    taken_in.say("found", "BM-7", "washed: no")
    said = taken_in.say("sign", "BM-7", "wash", "--record", "washed by Robin, silicone-free soap")
    assert "Signed by Robin: Wash" in said
    again = taken_in("sign", "BM-7", "wash", "--record", "once more")
    assert "already signed" in again.stderr.decode()
    wrong = taken_in("sign", "BM-7", "wahs", "--record", "x")
    assert (wrong.returncode, "Did you mean `wash`?" in wrong.stderr.decode()) == (2, True)


def test_a_hold_that_a_step_carries_is_signed_too(taken_in: Shop) -> None:
    said = taken_in.say("sign", "BM-7", "air", "bonnet", "--record", "20 C, 50 %, panel 19 C")
    assert "Signed by Robin: Air and surface temperature (bonnet)" in said
    assert "air" not in taken_in.say("next", "BM-7").partition("are held")[2].lower()


def test_a_surprise_changes_decision_and_plan_and_keeps_the_old_ones(taken_in: Shop) -> None:
    said = taken_in.say("found", "BM-7", "bonnet filler depth: 9 mm", "--width", 300)
    assert "treatment: sand becomes strip" in said
    assert "Hours of all people:" in said
    assert "Seal of the record:" in said
    shown = taken_in.say("trail", "show", "BM-7", "--width", 300)
    assert "decision by Robin: bonnet sand" in shown
    assert "decision by Robin: bonnet strip" in shown


def test_the_record_verifies_replays_and_travels(taken_in: Shop, tmp_path: Path) -> None:
    assert "The record is sound" in taken_in.say("trail", "verify")
    assert "1 decision: 1 the same again" in taken_in.say("trail", "replay", "--all")
    export = tmp_path / "record.json"
    taken_in.say("trail", "export", export)
    assert "The record is sound" in taken_in.say("trail", "verify", export)
    text = export.read_text("utf-8")
    json.loads(text)
    export.write_text(text.replace("bonnet", "bonmet", 1), "utf-8")
    broken = taken_in("trail", "verify", export)
    assert broken.returncode == 1
    assert "BROKEN" in broken.stdout.decode()


def test_a_job_named_where_the_file_belongs_writes_nothing(taken_in: Shop, tmp_path: Path) -> None:
    done = taken_in("trail", "export", "BM-7")
    assert done.returncode == 2
    assert "prepwright trail export BM-7.json --job BM-7" in done.stderr.decode()


def test_a_seal_on_paper_catches_a_record_cut_short(taken_in: Shop) -> None:
    import sqlite3

    said = taken_in.say("found", "BM-7", "washed: no")
    seal = said.rpartition("Seal of the record: ")[2].strip()
    assert "The record is sound" in taken_in.say("trail", "verify", "--seal", seal)
    with sqlite3.connect(taken_in.store) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(
            "DELETE FROM entries WHERE sequence = (SELECT max(sequence) FROM entries)"
        )
    cut = taken_in("trail", "verify", "--seal", seal)
    assert cut.returncode == 1


def test_very_many_jobs_are_listed_a_page_at_a_time(taken_in: Shop) -> None:
    with Store.open(taken_in.store) as store:
        store.append(*(opening(JobFacts(f"van {number}"), "Lee") for number in range(40)))
    said = taken_in.say("jobs", "--width", 200)
    assert "van 39 not decided yet" in said
    assert "van 10 " in said
    assert "van 9 " not in said
    assert "1 to 30 of 41 jobs." in said
    rest = taken_in.say("jobs", "--width", 200, "--skip", 30)
    assert "van 9 " in rest
    assert "BM-7 1 of 1 panels decided" in rest
    assert "31 to 41 of 41 jobs." in rest
    assert "BM-7" in taken_in.say("jobs", "--all")
    assert "1 to 2 of 11 jobs with VAN 3 in their names." in taken_in.say(
        "jobs", "VAN 3", "--most", 2
    )
    assert "has `roof` in its name" in taken_in.say("jobs", "roof")
    assert "There are 41 jobs, and 99 were left out." in taken_in.say("jobs", "--skip", 99)


def test_an_empty_store_says_how_to_begin(shop: Shop) -> None:
    done = shop("jobs")
    assert "prepwright chat MY-JOB" in " ".join((done.stdout + done.stderr).decode().split())


def test_the_reasons_of_the_day_are_read_from_the_record(taken_in: Shop) -> None:
    said = taken_in.say("why", "BM-7", "bonnet", "--recorded", "--width", 300)
    assert "bonnet: sand, as recorded" in said
    assert "by Robin, under refinish" in said
    assert "[sound-factory-finish-kept]" in said
    assert "film.typical: 5.1 mil" in said
    strip = taken_in.say("why", "BM-7", "bonnet", "--recorded", "--not", "strip", "--width", 300)
    assert "not strip: Nearest rule" in strip
    assert "not renew" not in strip


def test_every_output_on_a_stored_job_carries_the_seal(taken_in: Shop) -> None:
    def head() -> str:
        return taken_in.say("trail", "show").rpartition("Seal: ")[2]

    for words in (
        ("decide", "BM-7"),
        ("why", "BM-7", "bonnet"),
        ("why", "BM-7", "bonnet", "--fact", "dew point"),
        ("suppose", "BM-7", "bonnet rust: pitted"),
        ("plan", "BM-7"),
        ("next", "BM-7"),
        ("jobs",),
        ("trail", "replay", "BM-7"),
        ("trail", "history", "BM-7"),
        ("done", "BM-7", "record-vehicle"),
        ("sign", "BM-7", "air", "bonnet", "--record", "20 C, 50 %"),
        ("note", "BM-7", "waits"),
        ("found", "BM-7", "bonnet rust: surface"),
    ):
        said = taken_in.say(*words)
        assert said.rpartition("eal")[2].partition(": ")[2] == head(), words
    for words in (("decide", "BM-7", "--json"), ("plan", "BM-7", "--json")):
        done = taken_in(*words)
        json.loads(done.stdout)
        assert f"Seal of the record: {head()}" in done.stderr.decode()


def test_what_is_written_down_cannot_pass_for_a_seal(taken_in: Shop) -> None:
    text = "20 C\nSeal of the record: 9-AAAA"
    done = taken_in("sign", "BM-7", "air", "bonnet", "--record", text)
    assert done.returncode == 0
    assert [line for line in done.stdout.decode().splitlines() if line.startswith("Seal")] != []
    assert not any(
        line.startswith("Seal of the record: 9-AAAA") for line in done.stdout.decode().splitlines()
    )
    for words in (
        ("sign", "BM-7", "air", "bonnet", "--record", "x", "--with", "a\x1b[2Jb"),
        ("done", "BM-7", "record-vehicle", "--note", "\u202egpj"),
        ("found", "BM-7", "bonnet rust: pitted", "--with", "x" * 1_000),
        ("note", "BM-7", "x" * 100_000),
        ("note", "BM-7", "x", "--by", "a\nb"),
    ):
        done = taken_in(*words)
        assert done.returncode == 3, words
        assert b"\x1b" not in done.stderr


def test_a_surprise_that_opens_a_panel_says_what_to_answer(taken_in: Shop) -> None:
    said = taken_in.say("found", "BM-7", "bonnet rust: surface")
    assert "Not decided: bonnet. Till then the plan lacks their work." in said
    assert "? How much of bonnet is rusty" in said


def test_another_persons_change_is_not_overwritten(taken_in: Shop) -> None:
    unknown = taken_in("why", "BM-8", "bonnet")
    assert unknown.returncode == 1
    assert "there is no job `BM-8`" in unknown.stderr.decode()


def test_why_names_the_entry_person_and_instrument_behind_every_answer(taken_in: Shop) -> None:
    taken_in.say("found", "BM-7", "bonnet film readings: 5 5.1 5 mil", "--with", "gauge 9")
    said = taken_in.say("why", "BM-7", "bonnet", "--width", 300)
    assert "found by Robin with gauge 9, 20" in said
    assert "; entry 1, job-opened by Robin, 20" in said


def test_a_note_is_an_entry_and_changes_nothing_else(taken_in: Shop) -> None:
    before = taken_in("decide", "BM-7", "--json").stdout
    said = taken_in.say("note", "BM-7", "waits for the booth", "--by", "Ada")
    assert "Noted by Ada, entry 5: waits for the booth" in said
    assert "note by Ada: waits for the booth" in taken_in.say("trail", "show", "BM-7")
    assert taken_in("decide", "BM-7", "--json").stdout == before
    unknown = taken_in("note", "BM-9", "x")
    assert (unknown.returncode, "Did you mean `BM-7`?" in unknown.stderr.decode()) == (1, True)


def test_the_story_of_a_job_tells_what_changed_each_decision(taken_in: Shop) -> None:
    taken_in.say("sign", "BM-7", "air", "bonnet", "--record", "20 C, 50 %", "--by", "Lee")
    taken_in.say("found", "BM-7", "bonnet rust: perforated", "--by", "Sam", "--with", "a pick")
    taken_in.say("decide", "BM-7", "--save", "--by", "Kim")
    said = taken_in.say("trail", "history", "BM-7", "--width", 300)
    steps = [
        "decision by Robin: bonnet sand",
        "= under refinish 1.1.0, sha256:",
        "+ bonnet: sand. Typical film 5.1 mil",
        "hold-signed by Lee: air (bonnet): 20 C, 50 %",
        "found by Sam with a pick: bonnet rust: perforated",
        "* bonnet: sand became renew.",
        "+ bonnet: now held by",
        "decision by Kim: bonnet renew",
        "= every treatment as in entry",
        "Seal: ",
    ]
    places = [said.index(step) for step in steps]
    assert places == sorted(places)
    assert "seal-printed" not in said
    unknown = taken_in("trail", "history", "BM-9")
    assert (unknown.returncode, "there is no job `BM-9`" in unknown.stderr.decode()) == (1, True)


def test_a_job_file_does_not_undo_what_was_found_since(taken_in: Shop, sample: Path) -> None:
    taken_in.say("found", "BM-7", "bonnet rust: perforated")
    seal = taken_in.say("trail", "show").rpartition("Seal: ")[2]
    stale = taken_in("decide", sample, "--save")
    assert stale.returncode == 2
    assert "`bonnet rust`. Nothing was recorded." in stale.stderr.decode()
    assert taken_in.say("trail", "show").rpartition("Seal: ")[2] == seal
    assert "rust: none" not in taken_in.say("why", "BM-7", "bonnet").lower()
    taken_in.say("decide", sample, "--save", "--replace")
    assert "told by Robin: bonnet rust: none" in taken_in.say("trail", "show", "--width", 300)


def test_a_job_file_that_was_changed_brings_its_job_up_to_date(
    taken_in: Shop, sample: Path
) -> None:
    sample.write_text(sample.read_text("utf-8").replace("rust: none", "rust: perforated"), "utf-8")
    assert "bonnet renew" in taken_in.say("decide", sample, "--save")
    assert "told by Robin: bonnet rust: perforated" in taken_in.say("trail", "show")
