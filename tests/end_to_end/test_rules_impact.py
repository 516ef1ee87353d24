"""`prepwright rules impact` as a shop lead runs it: over a store, with git, for programs."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from installed import SAMPLE
from jsonschema import Draft202012Validator

from engine.supplied import schema_folder, supplied_ruleset_folder
from tests.unit.impact_edits import git

SCHEMA = json.loads((schema_folder() / "impact.schema.json").read_text("utf-8"))
READINGS = "[4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]"
LIMIT = (
    "film.overcoat-limit: {value: 11 mil, by: the shop lead, on: 2026-03-01, why: Two came back.}\n"
)
ELEVEN_AND_A_HALF = "[11.5 mil, 11.4 mil, 11.6 mil, 11.5 mil, 11.5 mil]"


@pytest.fixture(scope="module")
def store(prepwright, tmp_path_factory) -> Path:
    """Two jobs, decided by the supplied rules: a film of 5 mil, and one of 11.5 mil."""
    folder = tmp_path_factory.mktemp("store")
    path = folder / "shop.db"
    for name, readings in (("BM-7", READINGS), ("BM-8", ELEVEN_AND_A_HALF)):
        file = folder / f"{name}.yaml"
        text = SAMPLE.replace("job: BM-7", f"job: {name}").replace(READINGS, readings)
        file.write_text(text, "utf-8")
        saved = prepwright("decide", file, "--save", "--store", path)
        assert saved.returncode == 0, saved.stderr
    return path


@pytest.fixture
def shop(prepwright, tmp_path: Path) -> Path:
    """A shop that takes paint down over 11 mil."""
    folder = tmp_path / "north-yard"
    assert prepwright("rules", "new-shop", folder).returncode == 0
    (folder / "limits.yaml").write_text(LIMIT, "utf-8")
    return folder


def impact(prepwright, *args, code=0):
    result = prepwright("rules", "impact", *args, "--json")
    assert result.returncode == code, result.stderr
    assert result.stderr == b""
    found = json.loads(result.stdout)
    Draft202012Validator(SCHEMA).validate(found)
    return found


def test_a_limit_moved_from_12_to_11_mil(prepwright, store, shop):
    result = prepwright("rules", "impact", shop, "--store", store, "--width", "100")
    assert (result.returncode, result.stderr) == (0, b"")
    text = result.stdout.decode()
    assert "Impact of north-yard on refinish 1.1.0" in text
    assert "2 decisions: 1 changed, 1 the same, 0 not compared" in text
    assert " - sand -> partial-strip: 1 panel, because film-over-limit fires now\n" in text
    assert "BM-8 (entry " in text
    assert "no longer: hold" in text
    assert "strip-to-sound-layer" in text
    assert "Hours of all people: " in text
    assert " worked cases: " in text
    assert "would come out otherwise." in text
    assert "Seal of the record: " in text


def test_the_same_for_programs(prepwright, store, shop):
    found = impact(prepwright, shop, "--store", store)
    assert found["changed"]
    assert found["old"] is None
    assert found["old_of_cases"]["name"] == "refinish"
    assert found["new"]["name"] == "north-yard"
    stored = found["stored"]
    assert (stored["all"], stored["changed"], stored["same"]) == (2, 1, 1)
    (treated,) = stored["treatments"]
    assert (treated["was"], treated["now"]) == ("sand", "partial-strip")
    assert treated["because"] == [{"rule": "film-over-limit", "how": "fires"}]
    assert [(each["job"], each["panel"]) for each in treated["examples"]] == [("BM-8", "bonnet")]
    lost = {(each["what"], each["name"]) for each in treated["lost"]}
    assert ("hold", "sign-off") in lost
    work = stored["work"]
    assert work["changed"] == 1
    assert work["hours"]["before"]["low"] < work["hours"]["after"]["low"]
    assert {each["product"] for each in work["products"]} & {"surfacer", "epoxy-primer"}
    assert found["cases"]["changed"] > 0
    titles = [each["job"] for each in found["cases"]["treatments"][0]["examples"]]
    assert any("12 mil" in title for title in titles)


def test_what_decide_says_of_each_job_agrees(prepwright, store, shop):
    """The impact is the difference of what the command itself decides, job by job."""
    changed = {
        example["job"]
        for treated in impact(prepwright, shop, "--store", store)["stored"]["treatments"]
        for example in treated["examples"]
    }
    for job in ("BM-7", "BM-8"):
        decided = [
            json.loads(prepwright("decide", job, "--store", store, "--json", *more).stdout)
            for more in ((), ("--ruleset", shop))
        ]
        was, now = (each["panels"]["bonnet"]["treatment"] for each in decided)
        assert (was != now) is (job in changed)


def test_nothing_changes_by_the_same_rules(prepwright, store):
    found = impact(prepwright, "--store", store, "--fail-on-change")
    assert not found["changed"]
    assert found["stored"]["all"] == 2
    assert found["cases"]["changed"] == 0
    text = prepwright("rules", "impact", "--store", store).stdout.decode()
    assert "Nothing changes." in text


def test_a_change_can_be_made_to_fail(prepwright, store, shop):
    assert impact(prepwright, shop, "--store", store, "--fail-on-change", code=1)["changed"]


def test_a_store_is_not_needed_and_some_of_it_may_be_enough(prepwright, store, shop, tmp_path):
    alone = impact(prepwright, shop, "--cases-only")
    assert alone["stored"] is None
    one = impact(prepwright, shop, "--store", store, "--no-cases", "--job", "BM-7", "--every")
    assert (one["stored"]["all"], one["stored"]["changed"], one["cases"]) == (1, 0, None)
    nowhere = tmp_path / "none.db"
    text = prepwright("rules", "impact", shop, PREPWRIGHT_STORE=nowhere).stdout.decode()
    assert "There is no store at" in text
    assert "Worked cases" in text


@pytest.mark.parametrize(
    ("args", "code", "says"),
    [
        (["--old", "x", "--since", "y"], 2, "name what to compare with once"),
        (["--cases-only", "--every"], 2, "--cases-only leaves no stored decisions"),
        (["--job", "BM-77"], 1, "there is no job `BM-77` in the record. Did you mean `BM-7`"),
        (["nothing-here"], 3, "nothing-here:1:1: the rule set does not exist [no-rule-set]"),
    ],
)
def test_calls_that_make_no_sense(prepwright, store, args, code, says):
    result = prepwright("rules", "impact", *args, "--store", store)
    assert (result.returncode, result.stdout) == (code, b"")
    assert says in result.stderr.decode()


def test_a_store_that_was_named_has_to_be_there(prepwright, tmp_path):
    result = prepwright("rules", "impact", "--store", tmp_path / "none.db")
    assert result.returncode == 3
    assert b"there is no store at" in result.stderr


# --- git ------------------------------------------------------------------------------------------


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    if shutil.which("git") is None:
        pytest.skip("git is not installed")
    top = tmp_path / "repository"
    shutil.copytree(supplied_ruleset_folder(), top / "rules")
    git(top, "init", "-q")
    git(top, "add", ".")
    git(top, "commit", "-q", "-m", "As supplied")
    git(top, "tag", "as-supplied")
    limits = top / "rules" / "limits.yaml"
    text = limits.read_text("utf-8")
    assert "film.overcoat-limit: {value: 12 mil" in text.replace("\n  value", " {value")
    changed = text.replace("value: 12 mil", "value: 11 mil", 1)
    limits.write_text(changed, "utf-8")
    git(top, "commit", "-q", "-a", "-m", "Eleven")
    return top


def test_between_two_versions_in_git(prepwright, store, repository):
    rules = repository / "rules"
    since = impact(prepwright, rules, "--since", "as-supplied", "--store", store, "--no-cases")
    (treated,) = since["stored"]["treatments"]
    assert (treated["was"], treated["now"], treated["count"]) == ("sand", "partial-strip", 1)
    assert since["old"]["named"].startswith("as-supplied:./ (")
    same = impact(prepwright, rules, "--since", "HEAD", "--store", store, "--no-cases")
    assert not same["changed"]


def test_both_sides_may_be_revisions(repository, store):
    from installed import COMMAND, clean_environment

    done = subprocess.run(
        [COMMAND, "rules", "impact", "as-supplied:rules", "--old", "HEAD:rules", "--json",
         "--no-cases", "--store", store],
        cwd=repository,
        env=clean_environment(),
        capture_output=True,
        timeout=120,
        check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    (treated,) = json.loads(done.stdout)["stored"]["treatments"]
    assert (treated["was"], treated["now"]) == ("partial-strip", "sand")
    assert treated["because"] == [{"rule": "film-over-limit", "how": "quiet"}]


def test_a_revision_that_is_not_there(prepwright, store, repository):
    result = prepwright(
        "rules", "impact", repository / "rules", "--since", "spring", "--store", store
    )
    assert result.returncode == 2
    assert b"there is no revision `spring` in the git repository at" in result.stderr
