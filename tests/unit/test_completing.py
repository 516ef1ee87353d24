"""What is offered to a shell, and that nothing ever breaks the line being typed."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from cli import completing
from cli.completing import Offers
from cli.main import prepwright
from engine.facts import JobFacts
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder
from engine.trail import Store, opening


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


def offered(offers: Offers, typed: str = "", **given: object) -> list[str]:
    context = click.Context(prepwright)
    context.params.update(given)
    found = offers(context, click.Argument(["job"]), typed)
    return [item.value for item in found if item.type == "plain"]


def test_names_are_those_of_the_rule_set_read_whole(ruleset: RuleSet) -> None:
    """The look line by line finds what reading the files finds."""
    assert set(offered(completing.fact_names)) == set(ruleset.facts)
    assert set(offered(completing.step_names)) == set(ruleset.steps)
    assert set(offered(completing.hold_names)) == set(ruleset.holds)
    assert set(offered(completing.treatment_names)) == set(ruleset.treatments)
    every = {*ruleset.facts, *ruleset.steps, *ruleset.holds, *ruleset.treatments}
    every |= {*ruleset.rules, *ruleset.limits, *ruleset.cautions, *ruleset.products}
    assert set(offered(completing.part_names)) == every


def test_letter_case_does_not_count(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as store:
        store.append(opening(JobFacts("BM-7", panels={"Roof": {}}), "Robin"), expected_last=0)
    assert offered(completing.job_names, "bm", store_path=path) == ["BM-7"]
    assert offered(completing.panel_names, "ro", store_path=path, job="BM-7") == ["Roof"]


def test_job_files_are_offered_beside_jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("van.yaml").write_text('panels: {roof: {}, "a\\u202Eb": {}}', "utf-8")
    assert offered(completing.job_names, "v", store_path=tmp_path / "none.db") == ["van.yaml"]
    # What would turn the line round is left out.
    assert offered(completing.panel_names, job="van.yaml") == ["roof"]


@pytest.mark.parametrize("text", ["", "panels: 3", "[", "\x00", "panels: [roof]"])
def test_a_file_that_cannot_be_read_offers_nothing_and_says_nothing(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "van.yaml"
    path.write_text(text, "utf-8")
    assert offered(completing.panel_names, job=str(path)) == []
    assert offered(completing.panel_names, job=str(tmp_path / "none.yaml")) == []
    assert offered(completing.job_names, "x", store_path=path) == []
    assert capsys.readouterr() == ("", "")
