"""`prepwright plan` and `prepwright next` through the installed command."""

from __future__ import annotations

import json
import re
import unicodedata
from shutil import copytree
from typing import Any

import pytest
from installed import SAMPLE
from jsonschema import Draft202012Validator
from rich.cells import cell_len
from test_endings import HOSTILE, is_harmless

from engine.supplied import demo_folder, schema_folder, supplied_ruleset_folder

DEMO = demo_folder() / "bookmobile.yaml"
OPEN = demo_folder() / "bookmobile-open.yaml"
SCHEMA = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))


def checked(output: bytes) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(output.decode("utf-8"))
    Draft202012Validator(SCHEMA).validate(found)
    return found


@pytest.fixture(scope="module")
def demo(prepwright):
    """The plan of the demonstration job, begun on a Monday, as JSON."""
    result = prepwright("plan", DEMO, "--json", "--start", "2026-11-30")
    assert (result.returncode, result.stderr) == (0, b"")
    return checked(result.stdout)


# --- text -------------------------------------------------------------------------------------


def test_the_plan_says_everything_a_crew_needs(prepwright, demo):
    result = prepwright("plan", DEMO, "--start", "2026-11-30")
    assert (result.returncode, result.stderr) == (0, b"")
    text = result.stdout.decode()
    flat = " ".join(text.split())
    for heading in ("Calendar", "Cautions", "Tasks in order", "Materials", "Hours", "Cost"):
        assert f"\n{heading}\n" in text
    assert "Monday 30 November 2026\n" in text
    for planned in demo["plan"]["tasks"]:
        assert f"{planned['number']}. " in flat
        assert planned["title"] in flat
        for hold in planned["holds"]:
            assert f"Hold, {hold['title']} (" in flat
            assert " ".join(hold["release"].split()) in flat
        for gear in planned["gear"]:
            assert gear["title"] in flat
    for step in {planned["text"] for planned in demo["plan"]["tasks"]}:
        assert f"How: {' '.join(step.split())}" in flat
    for entry in demo["calendar"]:
        if entry["what"] == "work" and entry["from"] != entry["to"]:
            span = f"{entry['from']['time']}-{entry['to']['time']}"
            assert f"{span} {entry['number']}. {entry['title']}" in flat
    for material in demo["materials"]:
        assert material["title"] in flat
    assert " ".join(demo["standing_caution"].split()) in flat


def test_every_note_stands_at_the_end(prepwright, demo):
    flat = " ".join(prepwright("plan", DEMO, "--start", "2026-11-30").stdout.decode().split())
    plan = demo["plan"]
    assert plan["assumptions"]
    for note in plan["assumptions"]:
        assert " ".join(note["text"].split()) in flat
    for note in plan["missing"]:
        assert " ".join(note["what"].split()) in flat
        assert note["why"][1:] in flat


@pytest.mark.parametrize("command", ["plan", "next"])
@pytest.mark.parametrize("width", [20, 40, 80])
def test_no_line_is_wider_than_asked_for(prepwright, command, width):
    result = prepwright(command, DEMO, "--width", width)
    assert result.returncode == 0
    widest = max(result.stdout.decode().splitlines(), key=cell_len)
    assert cell_len(widest) <= width, widest


@pytest.mark.parametrize("command", ["plan", "next"])
def test_plain_is_linear(prepwright, command):
    text = prepwright(command, DEMO, "--plain").stdout.decode()
    assert [char for char in text if "BOX DRAWINGS" in unicodedata.name(char, "")] == []
    assert " ! " not in text
    assert "\x1b" not in text
    assert not re.search(r"\S   +\S", text), "columns are drawn"


def test_panels_with_wide_letters_keep_to_the_width(prepwright, tmp_path):
    job = tmp_path / "job.yaml"
    job.write_text(SAMPLE.replace("  bonnet:", "  書架の扉書架の扉:"), "utf-8")
    text = prepwright("plan", job, "--width", 40).stdout.decode()
    assert "書架の扉" in text
    assert max(map(cell_len, text.splitlines())) <= 40


def test_undecided_panels_are_named_and_only_settled_work_is_planned(prepwright):
    decision = json.loads(prepwright("decide", OPEN, "--json").stdout)
    undecided = [name for name, panel in decision["panels"].items() if panel["treatment"] is None]
    assert undecided
    for command in ("plan", "next"):
        flat = " ".join(prepwright(command, OPEN).stdout.decode().split())
        assert f"Still undecided: {undecided[0]}" in flat


@pytest.mark.parametrize(
    ("region", "units", "others"),
    [
        ("us", ("fl oz", "gal", "degF"), (" ml", "degC")),
        ("eu", (" ml", " L", "degC"), ("fl oz", " gal", "degF")),
        ("uk", (" ml", " L", "degC"), ("fl oz", " gal", "degF")),
    ],
)
def test_amounts_are_in_the_units_of_the_region(prepwright, tmp_path, region, units, others):
    job = tmp_path / "job.yaml"
    job.write_text(DEMO.read_text("utf-8").replace("region: us", f"region: {region}"), "utf-8")
    text = prepwright("plan", job).stdout.decode()
    amounts = " ".join(text[text.index("Tasks in order") :].split())
    for unit in units:
        assert unit in amounts
    for other in others:
        assert other not in amounts


# --- next -------------------------------------------------------------------------------------


def test_next_names_what_may_be_done_and_counts_every_other_task(prepwright, demo):
    result = prepwright("next", DEMO)
    assert (result.returncode, result.stderr) == (0, b"")
    flat = " ".join(result.stdout.decode().split())
    ready = [each["task"] for each in demo["plan"]["next"]["ready"]]
    titles = {planned["task"]: planned["title"] for planned in demo["plan"]["tasks"]}
    assert f"{len(ready)} task" in flat.splitlines()[0]
    for task in ready:
        assert titles[task] in flat
    more = re.search(r"(\d+) more tasks come after other work", flat)
    assert more
    numbers = {int(number) for number in re.findall(r"(?<![\w-])(\d+)\. [A-Z]", flat)}
    assert len(numbers) + int(more[1]) == len(demo["plan"]["tasks"])
    assert len(result.stdout.splitlines()) < 40


def test_done_work_and_signed_holds_move_what_is_next(prepwright, tmp_path, sample):
    """The record is kept in UTC; the plan is on the clock on the wall of the shop."""
    store = {"PREPWRIGHT_STORE": str(tmp_path / "shop.db"), "TZ": "America/Lima"}
    assert prepwright("decide", sample, "--save", **store).returncode == 0
    first = prepwright("next", "BM-7", **store).stdout.decode()
    assert "1. Record the vehicle" in first
    assert prepwright("done", "BM-7", "record-vehicle", **store).returncode == 0
    second = prepwright("next", "BM-7", **store)
    assert second.returncode == 0, second.stderr
    assert "Record the vehicle" not in second.stdout.decode()
    assert "1. Check the gauge" in second.stdout.decode()
    plan = prepwright("plan", "BM-7", "--start", "2026-11-30", **store)
    assert (plan.returncode, plan.stderr) == (0, b"")
    assert "Done already: 1 piece of work." in plan.stdout.decode()
    again = [prepwright("decide", "BM-7", "--json", **{**store, "TZ": zone}).stdout
             for zone in ("America/Lima", "Asia/Tokyo")]  # fmt: skip
    assert again[0] == again[1]
    assert checked(again[0])["plan"]["done"] == [{"step": "record-vehicle", "panel": None}]


def test_a_signed_hold_holds_nothing_up_in_the_decision(prepwright, tmp_path):
    store = {"PREPWRIGHT_STORE": str(tmp_path / "shop.db")}
    assert prepwright("decide", DEMO, "--save", **store).returncode == 0

    def whole_car() -> str:
        said = prepwright("decide", "BM-7", **store).stdout.decode()
        return said.split("The whole car")[1].split("Cautions")[0]

    assert "! Wash:" in whole_car()
    signed = prepwright("sign", "BM-7", "wash", "--record", "plain soap, by Robin", **store)
    assert signed.returncode == 0, signed.stderr
    assert "! Wash:" not in whole_car()
    assert "! Degrease:" in whole_car()
    assert "Released: Wash." in whole_car()


# --- JSON -------------------------------------------------------------------------------------


def test_decide_json_holds_the_plan_without_a_date(prepwright, demo):
    """The same work as the plan with a start: only the calendar knows the day."""
    decision = checked(prepwright("decide", DEMO, "--json").stdout)
    assert decision["materials"] == demo["materials"]
    assert decision["labour"] == demo["labour"]
    assert decision["plan"]["tasks"] == demo["plan"]["tasks"]
    assert decision["calendar"]
    assert {entry["from"]["date"] for entry in decision["calendar"]} == {None}
    assert decision["plan"]["finish"]["planned"]["date"] is None


def test_the_same_job_gives_the_same_bytes_anywhere(prepwright):
    outputs = {
        prepwright("decide", OPEN, "--json", PYTHONHASHSEED=seed, TZ=zone, LC_ALL=locale).stdout
        for seed, zone, locale in (("0", "UTC", "C"), ("1", "Asia/Tokyo", "C.UTF-8"))
    }
    assert len(outputs) == 1


def test_steps_name_their_task(demo):
    tasks = {planned["task"]: planned for planned in demo["plan"]["tasks"]}
    for name, panel in demo["panels"].items():
        for step in panel["steps"]:
            planned = tasks[step["task"]]
            assert planned["number"] == step["number"]
            assert name in planned["panels"] or not planned["panels"]


def test_dates_in_the_json_begin_on_the_start(demo):
    first = demo["calendar"][0]["from"]
    assert (first["day"], first["date"], first["time"]) == (1, "2026-11-30", "08:00")
    assert all(entry["from"]["date"] >= "2026-11-30" for entry in demo["calendar"])


def test_a_start_in_the_middle_of_a_day(prepwright):
    found = checked(prepwright("plan", DEMO, "--json", "--start", "2026-11-30T15:00").stdout)
    assert found["calendar"][0]["from"]["time"] == "15:00"


def test_a_start_on_a_closed_day_begins_on_the_next_open_one(prepwright):
    """2026-11-29 is a Sunday (ISO 8601 weekday 7), and the supplied shop works Monday to Friday."""
    found = checked(prepwright("plan", DEMO, "--json", "--start", "2026-11-29").stdout)
    assert found["calendar"][0]["from"]["date"] == "2026-11-30"


def test_more_people_end_no_later_and_cost_the_same_hours(prepwright, demo):
    more = checked(
        prepwright("plan", DEMO, "--json", "--start", "2026-11-30", "--people", 6).stdout
    )
    assert more["labour"]["people"] == 6
    assert more["labour"]["person_hours"] == demo["labour"]["person_hours"]
    ends = [found["plan"]["finish"]["planned"] for found in (more, demo)]
    assert (ends[0]["date"], ends[0]["time"]) < (ends[1]["date"], ends[1]["time"])


def test_no_booth_leaves_the_spraying_without_a_place_and_says_so(prepwright):
    found = checked(prepwright("plan", DEMO, "--json", "--booths", 0).stdout)
    assert found["plan"]["finish"]["whole"] is False
    assert any("the shop has none" in note["text"] for note in found["plan"]["conflicts"])
    flat = " ".join(prepwright("plan", DEMO, "--booths", 0).stdout.decode().split())
    assert "Without a place on the calendar: task" in flat
    assert "it needs a spray booth and the shop has none" in flat


# --- below a decision -------------------------------------------------------------------------


def test_decide_says_where_the_plan_is(prepwright, tmp_path):
    job = tmp_path / "van 7.yaml"
    job.write_text(SAMPLE, "utf-8")
    flat = " ".join(prepwright("decide", job, "--width", 400).stdout.decode().split())
    found = re.search(r"Planned: (.+? of work on (?:\d+ to )?\d+ days?); see `(.+?)`\.", flat)
    assert found
    assert found[2] == f"prepwright plan '{job}'"
    plan = " ".join(prepwright("plan", job, "--width", 400).stdout.decode().split())
    assert found[1] in plan


# --- endings ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--start", "30.11.2026"), "`30.11.2026` is no day to start on; write it as 2026-11-30"),
        (("--start", "2026-02-30"), "there is no `2026-02-30` in the calendar"),
        (("--start", ""), "is no day to start on"),
        (("--start", "\x1b[2Jtoday"), "is no day to start on"),
        (("--people", "0"), "0 is not in the range 1<=x<=1000"),
        (("--people", "two"), "'two' is not a valid integer"),
        (("--booths", "-1"), "-1 is not in the range"),
        (("--width", "3"), "3 is not in the range"),
        (("another.yaml",), "another.yaml"),
    ],
)
def test_wrong_calls_end_with_2_and_say_what_would_be_right(prepwright, sample, args, said):
    result = prepwright("plan", sample, *args)
    assert (result.returncode, result.stdout) == (2, b"")
    assert said in result.stderr.decode()
    assert is_harmless(result.stderr)
    assert b"Traceback" not in result.stderr


@pytest.mark.parametrize("command", ["plan", "next"])
def test_bad_files_end_with_3(prepwright, tmp_path, command):
    bad = tmp_path / "job.yaml"
    bad.write_text(SAMPLE.replace("substrate", "substrat"), "utf-8")
    for job in (bad, tmp_path / "nowhere.yaml"):
        result = prepwright(command, job)
        assert (result.returncode, result.stdout) == (3, b"")
        assert str(job) in result.stderr.decode()


@pytest.mark.parametrize("start", ["9999-12-30", "9999-12-31T23:59"])
@pytest.mark.parametrize("form", [(), ("--json",)])
def test_a_start_past_which_no_calendar_goes_is_refused(prepwright, sample, start, form):
    result = prepwright("plan", sample, "--start", start, *form)
    assert (result.returncode, result.stdout) == (3, b"")
    assert b"no working day is left" in result.stderr or b"go on past" in result.stderr


def test_people_and_booths_need_a_rule_set_with_labour(prepwright, tmp_path, sample):
    own = copytree(supplied_ruleset_folder(), tmp_path / "own")
    (own / "labour.yaml").unlink()
    result = prepwright("plan", sample, "--ruleset", own, "--people", 3)
    assert result.returncode == 2
    assert b"no labour.yaml" in result.stderr
    text = prepwright("plan", sample, "--ruleset", own).stdout.decode()
    assert "There is none: the rule set has no labour.yaml" in text
    found = checked(prepwright("plan", sample, "--ruleset", own, "--json").stdout)
    assert found["calendar"] == []
    assert found["plan"]["finish"] is None


def test_escape_sequences_in_rule_files_reach_no_terminal(prepwright, tmp_path, sample):
    own = copytree(supplied_ruleset_folder(), tmp_path / "own")
    hostile = json.dumps(HOSTILE)
    spoilt = 0
    for path in [*(own / "steps").glob("*.yaml"), own / "products.yaml", own / "gear.yaml",
                 own / "outcomes.yaml"]:  # fmt: skip
        text, times = re.subn(
            r"(?m)^( +)(title|text|release): (?![>|])[^{}\n]*(\n\1 +[^\n]*)*$",
            lambda found: f"{found[1]}{found[2]}: {hostile}",
            path.read_text("utf-8"),
        )
        path.write_text(text, "utf-8")
        spoilt += times
    assert spoilt > 100
    for command, *form in (("plan",), ("plan", "--plain"), ("plan", "--json"), ("next",)):
        result = prepwright(command, sample, "--ruleset", own, *form)
        assert (result.returncode, result.stderr) == (0, b"")
        assert is_harmless(result.stdout)
        shown = b"\\u001b[2J" if "--json" in form else b"\\x1b[2J"
        assert shown in result.stdout
