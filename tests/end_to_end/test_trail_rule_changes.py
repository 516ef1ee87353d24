"""A shop edits its rules: the change is an entry, and old decisions stand by the rules they had."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from conftest import Prepwright

from engine.supplied import supplied_ruleset_folder

SHOP = """\
prepwright: shop/1
name: north-yard
title: The rules of the north yard
version: "{}"
builds-on: refinish
"""
LIMIT = """\
film.overcoat-limit: {{value: {}, by: the shop lead, on: 2026-03-01, why: Two panels came back.}}
"""
TWELVE = "film.overcoat-limit:\n  value: 12 mil"
KEPT = "sound-factory-finish-kept"
FIVE = "film.overcoat-limit:\n  value: 5 mil"


class Shop:
    """Runs commands on one store with one rule set."""

    def __init__(self, prepwright: Prepwright, folder: Path) -> None:
        self._prepwright = prepwright
        self.store, self.rules = folder / "store.db", folder / "rules"
        shutil.copytree(supplied_ruleset_folder(), self.rules)

    def say(self, *words: object, code: int = 0) -> str:
        done = self._prepwright(*words, PREPWRIGHT_STORE=str(self.store))
        assert done.returncode == code, done.stderr.decode()
        return " ".join((done.stdout + done.stderr).decode().split())

    def edit(self, file: str, was: str, now: str) -> None:
        path = self.rules / file
        text = path.read_text("utf-8")
        assert was in text
        path.write_text(text.replace(was, now), "utf-8")


@pytest.fixture
def shop(prepwright: Prepwright, tmp_path: Path) -> Shop:
    return Shop(prepwright, tmp_path)


def test_edited_rules_are_recorded_and_old_decisions_replay_identical(
    shop: Shop, sample: Path
) -> None:
    rules = ("--ruleset", shop.rules)
    assert "bonnet sand" in shop.say("decide", sample, "--save", *rules)
    shop.say("decide", "BM-7", "--save", *rules)
    assert "ruleset-change" not in shop.say("trail", "show")
    # The sample reads 5.1 mil: over the new limit.
    shop.edit("limits.yaml", TWELVE, FIVE)
    assert "bonnet partial-strip" in shop.say("decide", "BM-7", "--save", *rules)
    shown = shop.say("trail", "show", "--width", 400)
    assert shown.count(": ruleset-change by") == 1
    assert "files changed: limits.yaml" in shown
    story = shop.say("trail", "history", "BM-7", "--width", 400)
    assert "the rules are others now: refinish" in story
    assert "bonnet: sand became partial-strip." in story
    # The folder itself may go: the record keeps the rules of every day.
    shutil.rmtree(shop.rules)
    assert "3 decisions: 3 the same again" in shop.say("trail", "replay", "--all")
    assert "The record is sound" in shop.say("trail", "verify")


def test_reasons_are_told_in_the_words_of_their_day(shop: Shop, sample: Path) -> None:
    rules = ("--ruleset", shop.rules)
    file = next(
        path.relative_to(shop.rules).as_posix()
        for path in (shop.rules / "rules").rglob("*.yaml")
        if f"rule: {KEPT}" in path.read_text("utf-8")
    )
    shop.say("decide", sample, "--save", *rules)
    told = shop.say("why", "BM-7", "bonnet", "--recorded", *rules)
    reason = next(
        part for part in told.split(" > ")[1:] if part.partition("[")[2].startswith(KEPT)
    ).partition(" [")[0]
    head, _, rest = (shop.rules / file).read_text("utf-8").partition(f"rule: {KEPT}")
    before, because, after = rest.partition("because: >-\n")
    indent = " " * (len(after) - len(after.lstrip(" ")))
    text = f"{head}rule: {KEPT}{before}{because}{indent}Other words now.\n{after}"
    (shop.rules / file).write_text(text, "utf-8")
    assert "Other words now." in shop.say("why", "BM-7", "bonnet", *rules)
    assert reason in shop.say("why", "BM-7", "bonnet", "--recorded", *rules)
    assert reason in shop.say("trail", "history", "BM-7")
    assert "Other words now." not in shop.say("trail", "history", "BM-7")
    assert "1 decision: 1 the same again" in shop.say("trail", "replay", "BM-7")


def test_the_same_rules_take_the_change_back(shop: Shop, sample: Path) -> None:
    rules = ("--ruleset", shop.rules)
    shop.say("decide", sample, "--save", *rules)
    shop.edit("limits.yaml", TWELVE, FIVE)
    shop.say("decide", "BM-7", "--save", *rules)
    shop.edit("limits.yaml", FIVE, TWELVE)
    shop.say("decide", "BM-7", "--save", *rules)
    shown = shop.say("trail", "show", "--width", 400)
    assert shown.count(": ruleset-kept by") == 2
    assert shown.count(": ruleset-change by") == 2
    assert "3 decisions: 3 the same again" in shop.say("trail", "replay", "BM-7")


def test_a_shops_own_changes_are_recorded_and_kept_with_what_they_build_on(
    shop: Shop, sample: Path, tmp_path: Path
) -> None:
    own = tmp_path / "north-yard"
    own.mkdir()
    for version, limit, decided in (("1", "11 mil", "sand"), ("2", "5 mil", "partial-strip")):
        (own / "shop.yaml").write_text(SHOP.format(version), "utf-8")
        (own / "limits.yaml").write_text(LIMIT.format(limit), "utf-8")
        said = shop.say("decide", sample, "--save", "--ruleset", own)
        assert f"bonnet {decided}" in said
    shown = shop.say("trail", "show", "--width", 400)
    assert "ruleset-change by Robin: north-yard 1 on refinish" in shown
    assert "became 2 on refinish" in shown
    shutil.rmtree(own)
    assert "2 decisions: 2 the same again" in shop.say("trail", "replay", "--all")
    assert "(shop limit, supplied 12 mil)" in shop.say("why", "BM-7", "bonnet", "--recorded")
