"""Rule sets are kept so that they can decide again, byte for byte."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from engine.errors import TrailError
from engine.ruleset.digest import digest_of
from engine.ruleset.load import load_ruleset
from engine.trail import EntryKind, Store, kept_ruleset, ruleset_folder, verify
from engine.trail.rulesets import digests, keep, keep_files, kept_files
from tests.unit.trail_sample import FILES, SetClock, keep_ruleset, tiny_digest, without_protection

RULES = Path(__file__).with_name("small_ruleset")


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as opened:
        yield opened


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(RULES, tmp_path / "rules")
    return tmp_path / "rules"


def test_a_kept_rule_set_is_the_same_when_its_folder_is_gone(store, folder):
    ruleset = keep_ruleset(store, folder, "Kim")
    there = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.yaml")}
    shutil.rmtree(folder)
    assert kept_files(store, ruleset.digest) == there
    again = kept_ruleset(store, ruleset.digest)
    assert again.digest == ruleset.digest
    assert list(again.rules.values()) == list(ruleset.rules.values())
    entry = next(store.entries())
    assert entry.kind is EntryKind.RULESET_KEPT
    assert entry.payload["name"] == ruleset.name
    assert entry.payload["files"].keys() == there.keys()
    assert verify(store).sound


def test_it_can_be_written_out_again(store, folder, tmp_path):
    ruleset = keep_ruleset(store, folder, "Kim")
    out = ruleset_folder(store, ruleset.digest, tmp_path / "out")
    assert load_ruleset(out).digest == ruleset.digest


def test_the_same_is_kept_once_and_what_two_share_is_stored_once(store, folder):
    first = keep_ruleset(store, folder, "Kim")
    keep_ruleset(store, folder, "Ada")
    assert store.count() == 1
    files = len(kept_files(store, first.digest))
    contents = "SELECT count(*) FROM contents"
    assert store.connection.execute(contents).fetchone() == (files,)
    about = folder / "ruleset.yaml"
    about.write_text(about.read_text("utf-8").replace('"1"', '"2"'), "utf-8")
    second = keep_ruleset(store, folder, "Kim")
    assert set(digests(store)) == {first.digest, second.digest}
    assert store.connection.execute(contents).fetchone() == (files + 1,)
    assert kept_ruleset(store, first.digest).version == "1"
    assert kept_ruleset(store, second.digest).version == "2"


def test_files_that_changed_meanwhile_are_not_kept(store, folder):
    ruleset = load_ruleset(folder)
    files = kept = {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.yaml")
    }
    with pytest.raises(TrailError, match="were changed while it was being kept"):
        keep_files(store, ruleset, {**files, "limits.yaml": b""}, "Kim")
    assert store.count() == 0
    keep_files(store, ruleset, kept, "Kim")
    assert digests(store) == (ruleset.digest,)


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"a.yaml": b"\xff"}, "`a.yaml` of the rule set is not UTF-8"),
        ({"a\x1b.yaml": b""}, "is no name for a file"),
        ({"a.yaml": b"x" * 10_000_001}, "larger than 10,000,000 bytes"),
    ],
)
def test_files_that_could_not_be_shown_are_not_kept(store, files, says):
    with pytest.raises(TrailError, match=says):
        keep(store, digest_of(files), files, {}, "Kim")
    assert store.count() == 0


def test_what_was_never_kept_is_told(store):
    with pytest.raises(TrailError, match="keeps no rule set `sha256:00`"):
        kept_files(store, "sha256:00")
    with pytest.raises(TrailError, match="half a character"):
        kept_files(store, "\udcff")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE contents SET packed = x'00'",
        "UPDATE contents SET packed = substr(packed, 1, 5)",
        "DELETE FROM contents",
        "UPDATE ruleset_files SET path = 'other.yaml' WHERE path = 'ruleset.yaml'",
        "UPDATE ruleset_files SET path = CAST(x'ff' AS TEXT) WHERE path = 'ruleset.yaml'",
        "DELETE FROM ruleset_files WHERE path = 'ruleset.yaml'",
        "DELETE FROM ruleset_files",
        "UPDATE ruleset_files SET content = (SELECT max(content) FROM ruleset_files)",
    ],
)
def test_damage_to_what_is_kept_is_found(store, statement):
    digest = tiny_digest(store)
    assert verify(store).sound
    without_protection(store.connection, statement)
    assert not verify(store).sound
    with pytest.raises(TrailError):
        kept_files(store, digest)


def test_a_file_does_not_get_out_of_its_folder(store, tmp_path):
    for name in ("../evil.yaml", "/evil.yaml"):
        files = {name: b"x"}
        keep(store, digest_of(files), files, {}, "Kim")
        with pytest.raises(TrailError, match="outside its folder"):
            ruleset_folder(store, digest_of(files), tmp_path / "out")
    assert not (tmp_path / "evil.yaml").exists()


def test_a_kept_rule_set_that_loads_as_another_is_refused(store, folder):
    other = load_ruleset(folder)
    with pytest.raises(TrailError, match="loads as another one"):
        kept_ruleset(store, tiny_digest(store), load=lambda _: other)
    assert kept_files(store, tiny_digest(store)) == FILES
