"""`prepwright rules show`, `list`, `schema`, `new-shop` and `accept`, as a shop lead runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator


@pytest.fixture
def shop(prepwright, tmp_path: Path) -> Path:
    folder = tmp_path / "north-yard"
    assert prepwright("rules", "new-shop", folder).returncode == 0
    (folder / "limits.yaml").write_text(
        "film.overcoat-limit: {value: 11 mil, by: the shop lead, on: 2026-03-01, "
        "why: Two panels came back.}\n",
        "utf-8",
    )
    return folder


def test_a_rule_in_plain_english(prepwright):
    result = prepwright("rules", "show", "film-over-limit", "--plain")
    assert (result.returncode, result.stderr) == (0, b"")
    text = result.stdout.decode()
    assert "typical film is above 12 mil (film.overcoat-limit)" in text
    assert "treatment partial-strip" in text
    assert "It is beaten by panel-left-alone." in text
    assert "Worked cases that fire it" in text
    assert "Source: common practice." in text
    assert "Because: Typical film <typical film> is over 12 mil." in text


def test_a_limit_with_what_uses_it_and_what_the_shop_changed(prepwright, shop):
    result = prepwright("rules", "show", "film.overcoat-limit", "--ruleset", shop)
    text = result.stdout.decode()
    assert "Limit film.overcoat-limit: 11 mil" in text
    assert "The supplied set says 12 mil." in text
    assert "film-over-limit" in text
    assert "Changed by the shop lead, 2026-03-01: Two panels came back." in text


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("film-over-limit", "rule"),
        ("film.overcoat-limit", "limit"),
        ("film.readings", "fact"),
        ("air", "hold"),
        ("isocyanates", "caution"),
        ("strip", "treatment"),
        ("surfacer", "product"),
    ],
)
def test_any_part_as_data(prepwright, name, kind):
    found = json.loads(prepwright("rules", "show", name, "--json").stdout)["parts"]
    assert kind in [part["kind"] for part in found]
    assert {part["name"] for part in found} == {name}


def test_a_product_is_shown_with_its_price_and_who_uses_it(prepwright, tmp_path):
    shop = tmp_path / "yard"
    prepwright("rules", "new-shop", shop)
    (shop / "labour.yaml").write_text(
        "rest: supplied\nprices: {filler: {amount: 12 USD, per: 1 kg}}\n"
        "by: the shop lead\non: 2026-03-01\nwhy: The last delivery.\n",
        "utf-8",
    )
    (shop / "products.yaml").write_text(
        "products:\n  yard-wax: {title: Sill wax of the yard, kind: wax, by: the shop lead, "
        "on: 2026-03-01, why: Every sill gets it.}\n",
        "utf-8",
    )
    wax = prepwright("rules", "show", "yard-wax", "--ruleset", shop).stdout.decode()
    assert "Added by the shop lead, 2026-03-01: Every sill gets it." in wax
    said = prepwright("rules", "show", "filler", "--ruleset", shop).stdout.decode()
    assert "Product filler: Two-part polyester filler" in said
    assert " - price: $12 for 1000 g" in said
    assert "Steps that use it" in said
    listed = prepwright("rules", "list", "--products", "--ruleset", shop, "--json").stdout
    prices = {part["name"]: part["price"] for part in json.loads(listed)["products"]}
    assert prices.pop("filler") == "$12 for 1000 g"
    assert set(prices.values()) == {None}
    changed = {part["name"]: part["shop"] for part in json.loads(listed)["products"]}
    assert changed["yard-wax"]["by"] == "the shop lead"
    assert changed["filler"] is None


def test_a_name_that_is_not_there(prepwright):
    result = prepwright("rules", "show", "film-over-limt")
    assert (result.returncode, result.stdout) == (2, b"")
    assert b"Did you mean `film-over-limit`" in result.stderr


def test_the_rules_of_one_topic(prepwright):
    everything = json.loads(prepwright("rules", "list", "--json").stdout)["rules"]
    of_film = json.loads(prepwright("rules", "list", "--topic", "film", "--json").stdout)["rules"]
    assert {rule["topic"] for rule in of_film} == {"film"}
    assert 0 < len(of_film) < len(everything)
    text = prepwright("rules", "list", "--topic", "film", "--plain").stdout.decode()
    assert f"film: {len(of_film)} rules" in text
    for rule in of_film:
        assert rule["name"] in text


def test_a_topic_that_is_not_there(prepwright):
    result = prepwright("rules", "list", "--topic", "flim")
    assert result.returncode == 2
    assert b"Did you mean `film`" in result.stderr


def test_only_what_the_shop_changed(prepwright, shop):
    (shop / "retired.yaml").write_text(
        "rules: {chips-feathered: {by: the shop lead, on: 2026-03-01, why: We fill them.}}\n",
        "utf-8",
    )
    limits = prepwright("rules", "list", "--limits", "--shop", "--ruleset", shop, "--json")
    assert [limit["name"] for limit in json.loads(limits.stdout)["limits"]] == [
        "film.overcoat-limit"
    ]
    rules = prepwright("rules", "list", "--shop", "--ruleset", shop, "--plain").stdout.decode()
    assert "chips-feathered: We fill them. (the shop lead, 2026-03-01)" in rules
    assert prepwright("rules", "list", "--shop").returncode == 2


def test_schemas_are_written_with_the_names_there_are(prepwright, tmp_path):
    result = prepwright("rules", "schema", tmp_path / "schemas")
    assert result.returncode == 0
    assert b"# yaml-language-server: $schema=" in result.stdout
    schema = json.loads((tmp_path / "schemas" / "rules.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert "film.typical" in schema["$defs"]["condition"]["properties"]


def test_a_new_shop_checks_and_decides_without_more_ado(prepwright, shop, sample):
    assert prepwright("rules", "check", shop).returncode == 0
    decided = json.loads(prepwright("decide", sample, "--json", "--ruleset", shop).stdout)
    assert decided["ruleset"]["name"] == "north-yard"
    assert decided["panels"]["bonnet"]["treatment"] == "sand"


def test_what_other_cases_make_of_a_change_is_told_without_failing(prepwright, shop):
    result = prepwright("rules", "check", shop)
    assert result.returncode == 0
    assert b"[case-differs]" in result.stdout
    assert b"(shop limit, supplied 12 mil)" in result.stdout
    assert b"[supplied-not-copied]" in result.stdout
    accepted = prepwright("rules", "accept", shop)
    assert b"copies of 1 part" in accepted.stdout
    assert b"[supplied-not-copied]" not in prepwright("rules", "check", shop).stdout


def test_an_existing_folder_is_not_written_over(prepwright, shop):
    result = prepwright("rules", "new-shop", shop)
    assert result.returncode == 2
    assert b"holds something already" in result.stderr


def test_check_as_data(prepwright, shop):
    found = json.loads(prepwright("rules", "check", shop, "--json").stdout)
    assert found["format"] == "prepwright/check/1"
    assert found["ok"]
    assert "case-differs" in {finding["code"] for finding in found["findings"]}
    (shop / "limits.yaml").write_text("film.overcoat-limit: {value: 11}\n", "utf-8")
    result = prepwright("rules", "check", shop, "--json")
    assert result.returncode == 3
    refused = json.loads(result.stdout)
    assert not refused["ok"]
    assert {finding["file"] for finding in refused["findings"]} == {"limits.yaml"}


def test_a_command_that_is_not_there(prepwright):
    result = prepwright("rules", "chekc")
    assert result.returncode == 2
    assert b"Did you mean `check`" in result.stderr


def test_how_often_a_rule_fired_in_the_store(prepwright, sample, tmp_path):
    store = tmp_path / "shop.db"
    assert prepwright("decide", sample, "--save", "--store", store).returncode == 0
    show = ("rules", "show", "painted-metal-sanded", "--plain", "--width", "200")
    text = prepwright(*show, "--store", store).stdout.decode()
    assert "It fired in the last decision of 1 of 1 job on 1 panel, last on 20" in text
    never = prepwright("rules", "show", "film-over-limit", "--store", store).stdout.decode()
    assert "It fired in the last decision of none of 1 job." in never
    (found,) = json.loads(prepwright(*show[:3], "--json", "--store", store).stdout)["parts"]
    assert (found["fired"]["jobs"], found["fired"]["of_jobs"]) == (1, 1)
    assert found["fired"]["subjects"] == 1
    nowhere = prepwright(*show, PREPWRIGHT_STORE=tmp_path / "none.db").stdout.decode()
    assert "There is no store at" in nowhere
    assert "In the store" not in prepwright(*show, "--no-store").stdout.decode()
    listed = prepwright("rules", "list", "--fired", "--json", "--store", store).stdout
    fired = {rule["name"]: rule["fired"]["jobs"] for rule in json.loads(listed)["rules"]}
    assert fired["painted-metal-sanded"] == 1
    assert fired["film-over-limit"] == 0
    table = prepwright("rules", "list", "--topic", "film", "--fired", "--store", store)
    assert b"Fired: in the last decisions of how many jobs of the store, out of 1." in table.stdout
    lacking = prepwright("rules", "list", "--fired", PREPWRIGHT_STORE=tmp_path / "none.db")
    assert (lacking.returncode, lacking.stdout) == (2, b"")
    assert b"There is no store at" in lacking.stderr
