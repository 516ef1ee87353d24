"""Rule sets named by folder, by git revision, or by the record."""

from __future__ import annotations

import shutil

import pytest

from engine.errors import RuleSetError, UsageError
from engine.impact import versions
from engine.ruleset import shop_files
from engine.ruleset.load import load_ruleset
from engine.ruleset.shop_folder import new_shop
from engine.trail import Store
from tests.unit.impact_edits import LIMIT_LOWER, RULES, a_job, edited, git
from tests.unit.trail_sample import SetClock, keep_ruleset

needs_git = pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")


@pytest.fixture
def repository(tmp_path):
    """Rules at two revisions: `first` with 12 mil, then 9 mil; one file has no line end."""
    top = tmp_path / "repository"
    rules = top / "our rules" / "paint"
    rules.parent.mkdir(parents=True)
    shutil.copytree(RULES, rules)
    (rules / "cases" / "note.txt").write_bytes(b"not a rule")
    git(top, "init", "-q")
    git(top, "add", ".")
    git(top, "commit", "-q", "-m", "first")
    git(top, "tag", "first")
    limits = rules / "limits.yaml"
    limits.write_text(limits.read_text("utf-8").replace("12 mil", "9 mil"), "utf-8")
    git(top, "commit", "-q", "-a", "-m", "second")
    return top


def limit(version):
    return version.ruleset.limits["film.limit"].written


@needs_git
def test_a_folder_as_it_stood_in_a_revision(repository, tmp_path):
    rules = repository / "our rules" / "paint"
    found = versions.since("first", rules, tmp_path / "old")
    assert (limit(found), found.ruleset.digest) == ("12 mil", load_ruleset(RULES).digest)
    assert limit(versions.since("HEAD", rules, tmp_path / "head")) == "9 mil"
    # What is changed and not committed is no revision's.
    (rules / "limits.yaml").write_text("film.limit: {value: 1 mil, source: {kind: memory}}\n")
    assert limit(versions.since("HEAD", rules, tmp_path / "again")) == "9 mil"
    assert found.named.startswith("first:./ (")


@needs_git
@pytest.mark.parametrize(
    ("path", "below"),
    [("our rules/paint", "."), ("./paint", "our rules"), ("../paint/", "our rules/paint")],
)
def test_a_path_counts_from_the_top_or_from_where_one_is(repository, tmp_path, path, below):
    found = versions.in_git("first", path, tmp_path / "old", where=repository / below)
    assert limit(found) == "12 mil"
    assert found.folder.is_relative_to(tmp_path)


@needs_git
def test_a_shop_is_laid_over_the_supplied_set_of_the_same_revision(
    repository, tmp_path, monkeypatch
):
    rules, shop = repository / "our rules" / "paint", repository / "shop"
    for module in (versions, shop_files):
        monkeypatch.setattr(module, "supplied_ruleset_folder", lambda name="small": rules)
    shop.mkdir()
    (shop / "shop.yaml").write_text(
        "prepwright: shop/1\nname: yard\ntitle: The yard\nbuilds-on: small\nshow-default: us\n",
        "utf-8",
    )
    git(repository, "add", ".")
    git(repository, "commit", "-q", "-m", "third")
    git(repository, "tag", "third")
    limits = rules / "limits.yaml"
    limits.write_text(limits.read_text("utf-8").replace("9 mil", "7 mil"), "utf-8")
    then = versions.since("third", shop, tmp_path / "then")
    assert limit(then) == "9 mil"
    assert then.named.endswith(")")
    assert limit(versions.in_folder(shop, tmp_path / "now")) == "7 mil"
    # A supplied set that the repository does not hold is the one of now, and that is said.
    outside = tmp_path / "outside"
    shutil.copytree(rules, outside)
    for module in (versions, shop_files):
        monkeypatch.setattr(module, "supplied_ruleset_folder", lambda name="small": outside)
    other = versions.since("third", shop, tmp_path / "other")
    assert limit(other) == "7 mil"
    assert other.named.endswith(") over the supplied set of now")


@needs_git
@pytest.mark.parametrize(
    ("revision", "path", "says"),
    [
        ("third", "our rules/paint", "there is no revision `third` in the git repository at"),
        ("--all", "our rules/paint", "there is no revision `--all`"),
        ("", "our rules/paint", "there is no revision ``"),
        ("first", "our rules/pain", "`our rules/pain` is no folder with files in revision `first`"),
        ("first", "our rules", "`our rules` holds no rule set in revision `first`"),
        ("first", "../..", "`../..` leads out of the git repository"),
    ],
)
def test_what_is_not_there_in_git_is_said(repository, tmp_path, revision, path, says):
    with pytest.raises(UsageError) as refused:
        versions.in_git(revision, path, tmp_path / "old", where=repository)
    assert says in str(refused.value)


@needs_git
def test_a_folder_in_no_repository_has_no_revisions(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path))
    rules = edited(tmp_path / "rules")
    with pytest.raises(UsageError, match="is in no git repository"):
        versions.since("HEAD", rules, tmp_path / "old")


def test_without_git_folders_can_still_be_named(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    rules = edited(tmp_path / "rules")
    with pytest.raises(UsageError, match="git command is not installed"):
        versions.since("HEAD", rules, tmp_path / "old")
    assert limit(versions.in_folder(rules, tmp_path / "new")) == "12 mil"


def test_a_folder_is_copied_so_that_later_edits_do_not_show(tmp_path):
    rules = edited(tmp_path / "rules", LIMIT_LOWER)
    found = versions.in_folder(rules, tmp_path / "new")
    shutil.rmtree(rules)
    assert load_ruleset(found.folder).digest == found.ruleset.digest
    assert found.named == str(rules)


def test_a_shops_folder_is_copied_with_the_set_it_builds_on(tmp_path):
    new_shop(tmp_path / "north-yard")
    found = versions.in_folder(tmp_path / "north-yard", tmp_path / "new")
    assert (found.folder / "supplied" / "ruleset.yaml").is_file()
    assert found.ruleset.digest == load_ruleset(tmp_path / "north-yard").digest
    before = versions.before(found, None, tmp_path / "old")
    assert before.ruleset.name == "refinish"
    assert before.named == "the supplied set it builds on"


def test_problems_say_which_of_the_two_rule_sets_has_them(tmp_path):
    rules = edited(tmp_path / "rules", ("limits.yaml", "12 mil", "12 mli"))
    with pytest.raises(RuleSetError) as refused:
        versions.in_folder(rules, tmp_path / "new")
    assert refused.value.problems[0].place.file == f"{rules}/limits.yaml"
    with pytest.raises(RuleSetError, match="does not exist"):
        versions.in_folder(tmp_path / "nothing", tmp_path / "other")


@pytest.mark.parametrize(
    ("named", "found"),
    [
        ("HEAD~2:rulesets/refinish", ("HEAD~2", "rulesets/refinish")),
        ("v1:", ("v1", "")),
        ("rulesets/refinish", None),
    ],
)
def test_a_name_with_a_colon_is_a_revision_and_a_path(named, found):
    assert versions.git_name(named) == found


def test_a_folder_that_is_there_is_no_revision(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a:b").mkdir()
    assert versions.git_name("a:b") is None


def test_old_rules_of_cases_are_those_used_last_under_the_name(tmp_path):
    from engine.reasoning.decide import decide
    from engine.trail import opening
    from engine.trail.deciding import record_decision

    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        new = versions.in_folder(edited(tmp_path / "rules", LIMIT_LOWER), tmp_path / "new")
        assert versions.before(new, store, tmp_path / "first").ruleset.name == "refinish"
        ruleset = keep_ruleset(store, RULES, "Kim")
        job = a_job(ruleset, {"roof": "5 mil"})
        store.append(opening(job, "Kim"))
        record_decision(store, ruleset, job, decide(ruleset, job), "Kim")
        before = versions.before(new, store, tmp_path / "second")
        assert (limit(before), before.named) == ("12 mil", "the store, used last")
        assert before.ruleset.cases
