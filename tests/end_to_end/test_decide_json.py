"""`prepwright decide --json`: the contract a program relies on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from engine.supplied import schema_folder

SCHEMA = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))


def checked(output: bytes) -> dict[str, Any]:
    decision: dict[str, Any] = json.loads(output.decode("utf-8"))
    Draft202012Validator(SCHEMA).validate(decision)
    return decision


def test_the_schema_is_a_schema_and_refuses_what_is_not_a_decision():
    Draft202012Validator.check_schema(SCHEMA)
    validator = Draft202012Validator(SCHEMA)
    assert not validator.is_valid({})
    assert not validator.is_valid({"format": "prepwright/decision/1"})


def test_a_complete_decision_needs_every_treatment(prepwright, sample):
    decision = checked(prepwright("decide", sample, "--json").stdout)
    decision["panels"]["bonnet"]["treatment"] = None
    assert not Draft202012Validator(SCHEMA).is_valid(decision)


def test_the_sound_panel_is_sanded(prepwright, sample):
    result = prepwright("decide", sample, "--json")
    assert (result.returncode, result.stderr) == (0, b"")
    decision = checked(result.stdout)
    assert decision["job"] == "BM-7"
    assert decision["complete"] is True
    bonnet = decision["panels"]["bonnet"]
    assert bonnet["treatment"] == "sand"
    assert bonnet["because"]
    assert {other["treatment"] for other in bonnet["instead_of"]} == {
        "leave", "partial-strip", "strip", "renew"
    }  # fmt: skip
    # Three spots: 4.9, 5.1 and the mean of 5.0, 5.2, 5.1. The middle one is 5.1 mil, which is
    # 129.54 um since an inch is 25.4 mm (international yard and pound agreement, 1959).
    typical = bonnet["facts"]["film.typical"]
    assert typical == {"value": 129.54, "unit": "um", "text": "5.1 mil"}


def test_facts_of_shop_and_air_stand_under_the_car(prepwright, sample):
    car = checked(prepwright("decide", sample, "--json").stdout)["car"]
    assert car["facts"]["shop.air-temperature"]["value"] == 21
    assert car["facts"]["shop.air-temperature"]["unit"] == "degC"
    # Dew point of 21 degC at 55 % by the Magnus formula (WMO-No. 8, annex 4.B): 11.6 degC.
    assert car["facts"]["air.dew-point"]["value"] == pytest.approx(11.6, abs=0.1)


def test_an_open_panel_has_no_treatment_and_its_question_is_asked(prepwright, undecided):
    result = prepwright("decide", undecided, "--json")
    assert result.returncode == 0
    decision = checked(result.stdout)
    assert decision["complete"] is False
    assert decision["panels"]["bonnet"]["treatment"] is None
    assert len(decision["panels"]["bonnet"]["possible"]) > 1
    asked = {(each["about"], each["fact"]): each for each in decision["open_questions"]}
    film = asked["bonnet", "film.readings"]
    assert "treatment" in film["bears_on"]
    assert film["how"]


def test_the_same_job_gives_the_same_bytes(prepwright, sample, undecided):
    for job in (sample, undecided):
        outputs = {
            prepwright("decide", job, "--json", PYTHONHASHSEED=str(seed)).stdout
            for seed in (0, 1, 42)
        }
        assert len(outputs) == 1


def test_locale_does_not_change_the_json(prepwright, tmp_path, sample):
    named = tmp_path / "named.yaml"
    named.write_text(sample.read_text("utf-8").replace("  bonnet:", "  Kühlerhaube:"), "utf-8")
    plain = prepwright("decide", named, "--json").stdout
    assert "Kühlerhaube".encode() in plain
    other = prepwright("decide", named, "--json", PYTHONIOENCODING="ascii", LC_ALL="C").stdout
    assert plain == other


def test_a_job_in_json_decides_like_the_same_job_in_yaml(prepwright, tmp_path, sample):
    data = yaml.load(sample.read_text("utf-8"), Loader=yaml.BaseLoader)
    file = tmp_path / "BM-7.json"
    file.write_text(json.dumps(data), "utf-8")
    from_yaml = prepwright("decide", sample, "--json").stdout
    assert prepwright("decide", file, "--json").stdout == from_yaml


def test_both_engines_are_named_and_one_can_be_left_out(prepwright, sample):
    from engine.reasoning import second

    both = checked(prepwright("decide", sample, "--json").stdout)
    alone = checked(prepwright("decide", sample, "--json", "--one-engine").stdout)
    assert alone.pop("engines") == ["evaluator"]
    engines = both.pop("engines")
    assert engines[0] == "evaluator"
    assert len(engines) == (2 if second.available() is None else 1)
    assert both == alone


def test_measured_values_keep_who_measured_them(prepwright, tmp_path, sample):
    text = sample.read_text("utf-8").replace(
        "substrate: steel", "substrate: {value: steel, by: Ada, at: 2024-03-01, with: magnet}"
    )
    file = tmp_path / "told.yaml"
    file.write_text(text, "utf-8")
    decision = checked(prepwright("decide", file, "--json").stdout)
    substrate = decision["panels"]["bonnet"]["facts"]["substrate"]
    assert (substrate["by"], substrate["at"], substrate["with"]) == ("Ada", "2024-03-01", "magnet")


def test_a_rule_set_of_ones_own_decides(prepwright, tmp_path, sample):
    from shutil import copytree

    from engine.supplied import supplied_ruleset_folder

    own: Path = copytree(supplied_ruleset_folder(), tmp_path / "own")
    limits = own / "limits.yaml"
    supplied = limits.read_text("utf-8")
    changed = supplied.replace("value: 12 mil", "value: 5 mil").replace(
        "value: 10 mil", "value: 4 mil"
    )
    assert changed != supplied
    limits.write_text(changed, "utf-8")
    before = checked(prepwright("decide", sample, "--json").stdout)
    after = checked(prepwright("decide", sample, "--json", "--ruleset", own).stdout)
    assert before["panels"]["bonnet"]["treatment"] == "sand"
    assert after["panels"]["bonnet"]["treatment"] == "partial-strip"
    assert before["ruleset"]["digest"] != after["ruleset"]["digest"]
