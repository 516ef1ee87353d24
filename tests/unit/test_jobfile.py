"""Job files are read whole or refused with every mistake, and written so that they read back."""

from __future__ import annotations

import json
import os
import stat
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
import yaml

from engine.document import parse_document, read_document
from engine.errors import InputError, JobFileError, Place
from engine.facts import JobFacts, Told
from engine.jobfile import job_notes, job_text, parse_job, read_job, without_places, write_job
from tests.unit.sample import RULESET

BAD_JOBS = Path(__file__).parent / "bad_jobs"
SCHEMA = Path(__file__).parents[2] / "shared" / "schemas" / "job.schema.json"

JOB = """\
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC, relative-humidity: 55 %, spray-booth: yes, region: us}
car: {year: 1996, washed: yes, lead-test: negative}
panels:
  bonnet:
    part: original
    substrate: steel
    defects: [none]
    film: {gauge: magnetic, readings: [4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]}
"""


def parse(text: str) -> JobFacts:
    return parse_job(parse_document(text, "job.yaml"), RULESET)


def job(panel: str) -> str:
    return f"prepwright: job/1\njob: BM-7\npanels:\n  bonnet: {panel}\n"


# --- reading ------------------------------------------------------------------------------------


def test_a_job_is_read() -> None:
    facts = parse(JOB)
    assert facts.job == "BM-7"
    assert facts.shop["shop.air-temperature"].value == 21
    assert facts.shop["shop.spray-booth"].value == "yes"
    assert facts.car["car.year"].value == 1996
    bonnet = facts.panels["bonnet"]
    mil = Fraction("25.4")
    assert bonnet["film.readings"].value == (
        (Fraction("4.9") * mil,),
        (Fraction("5.1") * mil,),
        (5 * mil, Fraction("5.2") * mil, Fraction("5.1") * mil),
    )
    assert bonnet["film.readings"].place == Place("job.yaml", 10, 39)
    assert bonnet["defects"].value == frozenset({"none"})


def test_json_is_read_as_yaml_is() -> None:
    data = {
        "prepwright": "job/1",
        "job": "BM-7",
        "shop": {
            "air-temperature": "21 degC",
            "relative-humidity": "55 %",
            "spray-booth": "yes",
            "region": "us",
        },
        "car": {"year": 1996, "washed": "yes", "lead-test": "negative"},
        "panels": {
            "bonnet": {
                "part": "original",
                "substrate": "steel",
                "defects": ["none"],
                "film": {
                    "gauge": "magnetic",
                    "readings": ["4.9 mil", "5.1 mil", ["5.0 mil", "5.2 mil", "5.1 mil"]],
                },
            }
        },
    }
    assert without_places(parse(json.dumps(data, indent=1))) == without_places(parse(JOB))


@pytest.mark.parametrize(
    "panel",
    [
        "{film: {gauge: magnetic, readings: 5 mil}}",
        "{film.gauge: magnetic, film.readings: 5 mil}",
        "{film.gauge: magnetic, film: {readings: 5 mil}}",
        "{film: {gauge: {value: magnetic}}, film.readings: {value: 5 mil}}",
    ],
)
def test_dotted_ids_nest_or_stand_flat_or_both(panel: str) -> None:
    told = parse(job(panel)).panels["bonnet"]
    assert {fact: one.value for fact, one in told.items()} == {
        "film.gauge": "magnetic",
        "film.readings": ((Fraction(127),),),
    }


@pytest.mark.parametrize(
    "car",
    [
        "{old.colour: red}",
        "{old: {colour: red}}",
        "{car.old.colour: red}",
        "{car: {old: {colour: red}}}",
    ],
)
def test_the_prefix_of_a_section_may_be_dropped(car: str) -> None:
    facts = parse(f"prepwright: job/1\njob: BM-7\ncar: {car}\npanels: {{roof: }}\n")
    assert facts.car["car.old.colour"].value == "red"
    assert facts.panels == {"roof": {}}


def test_panels_keep_their_order() -> None:
    names = ["tailgate", "bonnet", "a roof", "1"]
    text = "prepwright: job/1\njob: BM-7\npanels:\n" + "".join(
        f"  {name}: {{}}\n" for name in names
    )
    assert list(parse(text).panels) == names


def test_notes_are_kept_apart_from_facts() -> None:
    document = parse_document(JOB + "notes: [mind the roof, 'two']\n", "job.yaml")
    assert job_notes(document) == ("mind the roof", "two")
    assert without_places(parse_job(document, RULESET)) == without_places(parse(JOB))


@pytest.mark.parametrize(
    "path", [each for each in sorted(BAD_JOBS.iterdir()) if each.suffix != ".expected"], ids=str
)
def test_every_mistake_is_named_with_its_place(path: Path) -> None:
    with pytest.raises(InputError) as error:
        parse_job(read_document(path, shown_as=path.name), RULESET)
    expected = path.with_suffix(".expected").read_text(encoding="utf-8")
    assert error.value.format_message() == expected.rstrip("\n")
    assert error.value.exit_code == 3


def test_problems_past_a_hundred_are_counted() -> None:
    lines = "".join(f"  p{number}: {{substrate: wood}}\n" for number in range(120))
    with pytest.raises(JobFileError) as error:
        parse(f"prepwright: job/1\njob: BM-7\npanels:\n{lines}")
    assert len(error.value.problems) == 101
    assert "and 20 more from here on" in str(error.value.problems[-1])


def test_read_job_names_the_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"gone\.yaml:1:1: there is no such file"):
        read_job(tmp_path / "gone.yaml", RULESET)


# --- writing ------------------------------------------------------------------------------------

HOSTILE = [
    "no", "on", "Off", "y", "n", "null", "~", "true", "12:30", "1_000", "1e3", "0o17", "0x1f", ".5",
    "2026-03-02", "2026-03-02T10:00:00Z", "=", "<<", "- a", "a: b", "a #b", "&a", "*a", "!!str a",
    "{a: 1}", "[a]", "'", '"', "\\", "\\x1b", "%a", "@a", "`a`", "|", ">", "?", "? a", "--- a",
    "...", "a\n---\nb", "tab\there", "Tür", "日本", "😀", "a\u200db", "190:20:30", "0b1", "+1",
    ".inf", "NaN", "1.5", "0777", "x" * 2_000, "a, b", "é\u00a0x",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_survives_every_reader(text: str) -> None:
    fits_a_name = len(text) <= 80 and "\n" not in text and "\t" not in text
    name = text if fits_a_name else "bonnet"
    facts = JobFacts(name, panels={name: {"remarks": Told(text, text, by="no", at="12:30")}})
    written = job_text(facts, RULESET, notes=[text])
    assert without_places(parse(written)) == facts
    for document in (
        yaml.safe_load(written),
        yaml.load(written, Loader=yaml.BaseLoader),
        parse_document(written, "").data,
    ):
        assert document["job"] == name
        assert document["notes"] == [text]
        told = document["panels"][name]["remarks"]
        assert told == {"value": text, "by": "no", "at": "12:30"}


def test_a_job_is_written_as_people_write_it() -> None:
    text = job_text(parse(JOB), RULESET)
    assert text == (
        "prepwright: job/1\n"
        "job: BM-7\n"
        "shop:\n"
        "  air-temperature: 21 degC\n"
        "  relative-humidity: 55 %\n"
        "  region: us\n"
        '  spray-booth: "yes"\n'
        "car:\n"
        "  year: 1996\n"
        '  washed: "yes"\n'
        "  lead-test: negative\n"
        "panels:\n"
        "  bonnet:\n"
        "    part: original\n"
        "    substrate: steel\n"
        "    defects: [none]\n"
        "    film:\n"
        "      gauge: magnetic\n"
        "      readings: [4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]\n"
    )


def test_typed_words_are_kept_beside_the_value() -> None:
    from engine.answers import read_answer

    facts = JobFacts("BM-7", panels={"bonnet": {}})
    for fact, typed in (("substrate", "galv"), ("defects", "flak + chi"), ("part", "dk")):
        facts = facts.tell("panel", "bonnet", fact, read_answer(RULESET.facts[fact], typed))
    text = job_text(facts, RULESET)
    assert "substrate: {value: galvanised-steel, written: galv}" in text
    assert "defects: {value: [chips, peeling], written: flak + chi}" in text
    assert "part: {value: unknown, written: dk}" in text
    assert without_places(parse(text)) == facts


def test_writing_goes_by_the_file_and_back(tmp_path: Path) -> None:
    path = tmp_path / "bm-7.yaml"
    facts = parse(JOB)
    write_job(path, facts, RULESET, notes=["mind the roof"])
    assert without_places(read_job(path, RULESET)) == without_places(facts)
    assert job_notes(read_document(path)) == ("mind the roof",)
    assert os.listdir(tmp_path) == ["bm-7.yaml"]


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bm-7.yaml"
    write_job(path, parse(JOB), RULESET)
    before = path.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(JobFileError, match="No space left on device"):
        write_job(path, parse(job("{substrate: plastic}")), RULESET)
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["bm-7.yaml"]


@pytest.mark.skipif(os.name != "posix", reason="file modes and links are those of POSIX systems")
def test_writing_keeps_the_mode_and_follows_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    write_job(real, parse(JOB), RULESET)
    real.chmod(0o640)
    link.symlink_to(real)
    write_job(link, parse(job("{substrate: plastic}")), RULESET)
    assert link.is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert read_job(real, RULESET).panels["bonnet"]["substrate"].value == "plastic"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match="cannot be written: No such file or directory"):
        write_job(tmp_path / "no" / "job.yaml", parse(JOB), RULESET)


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        (JobFacts("BM-7"), "unwritable-job"),
        (JobFacts("", panels={"bonnet": {}}), "unwritable-job"),
        (JobFacts("BM-7", panels={"Roof": {}, "roof": {}}), "unwritable-job"),
        (JobFacts("BM-7", panels={"roof": {"wings": Told("2", "2")}}), "unknown-fact"),
        (JobFacts("BM-7", panels={"roof": {"car.year": Told(None, "dk")}}), "unknown-fact"),
        (JobFacts("BM-7", panels={"roof": {"film.typical": Told(None, "dk")}}), "unknown-fact"),
        (JobFacts("BM-7", panels={"roof": {"remarks": Told("\x1b", "\x1b")}}), "unwritable-job"),
        (JobFacts("BM-7", panels={"roof": {"part": Told("old", "old")}}), "unwritable-job"),
    ],
)
def test_what_would_not_read_back_is_not_written(
    facts: JobFacts, code: str, tmp_path: Path
) -> None:
    with pytest.raises(JobFileError) as error:
        write_job(tmp_path / "job.yaml", facts, RULESET)
    assert error.value.problems[0].code == code
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("name", ["1043", "007", "12.50", "1e3", "0x1F", "-1"])
def test_a_number_names_a_job_as_it_was_written(name: str) -> None:
    facts = parse(f"prepwright: job/1\njob: {name}\npanels: {{roof: {{}}}}\n")
    assert facts.job == name
    assert f'job: "{name}"\n' in job_text(facts, RULESET)


# --- the schema for editors ---------------------------------------------------------------------


def schema() -> jsonschema.Draft202012Validator:
    data = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(data)
    return jsonschema.Draft202012Validator(data)


def test_the_schema_takes_what_is_read_and_written() -> None:
    validator = schema()
    for text in (JOB, job_text(parse(JOB), RULESET, ["mind the roof"]), job("")):
        parse(text)
        validator.validate(parse_document(text, "").data)


@pytest.mark.parametrize(
    "name",
    [
        "not-a-mapping", "no-format", "later-version", "no-job-name", "job-name-not-text",
        "no-panels", "empty-panels", "panels-a-list", "unknown-top-key", "nothing-given", "shapes",
        "provenance",
    ],
)  # fmt: skip
def test_the_schema_refuses_a_broken_frame(name: str) -> None:
    data = read_document(BAD_JOBS / f"{name}.yaml").data
    assert not schema().is_valid(data)
