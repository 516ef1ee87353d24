"""Kept rule sets: the same as read anew, never of other bytes, never trusted from other hands."""

from __future__ import annotations

import os
import pickle
import shutil
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import pytest

from engine.errors import RuleSetError
from engine.ruleset import RuleSet, cache, load_ruleset
from engine.ruleset.cache import cached_ruleset
from engine.ruleset.packed import pack, unpack
from engine.supplied import supplied_ruleset_folder

SMALL = Path(__file__).parent / "small_ruleset"
SHOP = Path(__file__).parent / "small_shop"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PREPWRIGHT_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "rulesets"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(supplied_ruleset_folder(), tmp_path / "rules"))


def read_anew(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Notes every folder whose files are read and linked."""
    found: list[Path] = []
    real = cache._loaded

    def loaded(folder: Path, with_cases: bool) -> RuleSet:
        found.append(folder)
        return real(folder, with_cases)

    monkeypatch.setattr(cache, "_loaded", loaded)
    return found


def differing(one: RuleSet, other: RuleSet) -> list[str]:
    return [
        field.name
        for field in fields(one)
        if getattr(one, field.name) != getattr(other, field.name)
    ]


@pytest.mark.parametrize("with_cases", [False, True])
def test_packed_and_unpacked_is_the_same(with_cases: bool) -> None:
    ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=with_cases)
    again = unpack(pack(ruleset))
    assert differing(ruleset, again) == []
    assert list(again.rules) == list(ruleset.rules)
    assert list(again.facts) == list(ruleset.facts)


def test_second_time_is_read_from_what_was_kept(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = read_anew(monkeypatch)
    first, again = cached_ruleset(folder), cached_ruleset(folder)
    assert read == [folder]
    assert again is not first
    assert differing(first, again) == []
    assert len(list(home.iterdir())) == 1


def test_with_and_without_cases_are_kept_apart(home: Path, folder: Path) -> None:
    assert cached_ruleset(folder).cases == ()
    assert cached_ruleset(folder, with_cases=True).cases != ()
    assert cached_ruleset(folder).cases == ()


def test_one_byte_changed_is_read_anew(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = read_anew(monkeypatch)
    before = cached_ruleset(folder)
    limits = folder / "limits.yaml"
    stamps = limits.stat()
    limits.write_text(limits.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    os.utime(limits, ns=(stamps.st_atime_ns, stamps.st_mtime_ns))
    after = cached_ruleset(folder)
    assert len(read) == 2
    assert before.digest != after.digest


def test_problems_are_told_every_time(home: Path, folder: Path) -> None:
    cached_ruleset(folder)
    (folder / "rules" / "stray.yml").write_text("x", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(RuleSetError):
            cached_ruleset(folder)


def test_a_shop_is_read_anew_when_the_supplied_set_below_changes(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supplied = tmp_path / "supplied-sets" / "small"
    shutil.copytree(SMALL, supplied)
    for module in ("engine.ruleset.cache", "engine.ruleset.shop_files"):
        monkeypatch.setattr(f"{module}.supplied_ruleset_folder", lambda name="small": supplied)
    read = read_anew(monkeypatch)
    before = cached_ruleset(SHOP)
    assert cached_ruleset(SHOP).digest == before.digest
    assert len(read) == 1
    limits = supplied / "limits.yaml"
    limits.write_text(limits.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert cached_ruleset(SHOP).digest != before.digest
    assert len(read) == 2


def test_another_program_or_python_does_not_read_it(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = read_anew(monkeypatch)
    cached_ruleset(folder)
    monkeypatch.setattr(cache, "_program", lambda: b"another")
    cached_ruleset(folder)
    assert len(read) == 2


@pytest.mark.parametrize("spoil", ["cut", "bit", "empty", "other-pickle", "folder"])
def test_what_cannot_be_read_is_made_anew(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, spoil: str
) -> None:
    before = cached_ruleset(folder)
    (kept,) = home.iterdir()
    content = kept.read_bytes()
    if spoil == "folder":
        kept.unlink()
        kept.mkdir()
    else:
        middle = len(content) // 2
        spoilt = {
            "cut": content[:middle],
            "bit": content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1 :],
            "empty": b"",
            "other-pickle": _sealed(pickle.dumps({"rules": []})),
        }
        kept.write_bytes(spoilt[spoil])
    read = read_anew(monkeypatch)
    assert cached_ruleset(folder).digest == before.digest
    assert read == [folder]


def _sealed(packed: bytes) -> bytes:
    import hashlib

    return hashlib.sha256(packed).digest() + packed


def test_no_code_of_others_runs(home: Path, folder: Path, tmp_path: Path) -> None:
    class Harm:
        def __reduce__(self) -> tuple[object, ...]:
            return os.mkdir, (str(tmp_path / "harm"),)

    with pytest.raises(ValueError, match="no packed rule set"):
        unpack(pickle.dumps(Harm()))
    assert not (tmp_path / "harm").exists()


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs owners and modes")
@pytest.mark.parametrize("which", ["folder", "file"])
def test_what_others_may_write_is_left_alone(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    cached_ruleset(folder)
    (kept,) = home.iterdir()
    (home if which == "folder" else kept).chmod(0o777)
    read = read_anew(monkeypatch)
    cached_ruleset(folder)
    assert read == [folder]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs owners and modes")
def test_what_is_kept_is_for_its_owner_alone(home: Path, folder: Path) -> None:
    cached_ruleset(folder)
    assert home.stat().st_mode & 0o077 == 0
    (kept,) = home.iterdir()
    assert kept.stat().st_mode & 0o077 == 0


def test_a_place_that_cannot_be_used_is_no_error(
    tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    monkeypatch.setenv("PREPWRIGHT_CACHE", str(blocked))
    assert cached_ruleset(folder).rules


def test_without_a_home_nothing_is_kept(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PREPWRIGHT_CACHE")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: Path("~/.cache"))
    monkeypatch.chdir(tmp_path)
    assert cached_ruleset(folder).rules
    assert [path.name for path in tmp_path.iterdir()] == ["rules"]


def test_off_keeps_nothing(home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PREPWRIGHT_CACHE", "off")
    read = read_anew(monkeypatch)
    cached_ruleset(folder)
    cached_ruleset(folder)
    assert len(read) == 2
    assert not home.exists()


def test_files_changed_while_they_are_read_are_not_kept(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = cache._loaded

    def slowly(place: Path, with_cases: bool) -> RuleSet:
        ruleset = real(place, with_cases)
        limits = place / "limits.yaml"
        limits.write_text(limits.read_text(encoding="utf-8") + "\n", encoding="utf-8")
        return ruleset

    monkeypatch.setattr(cache, "_loaded", slowly)
    cached_ruleset(folder)
    assert not home.exists()


def test_only_the_last_few_are_kept(
    home: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cache, "_MOST_KEPT", 2)
    limits = folder / "limits.yaml"
    for _ in range(4):
        cached_ruleset(folder)
        limits.write_text(limits.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert len(list(home.iterdir())) == 2


def test_decisions_do_not_depend_on_it(home: Path, tmp_path: Path) -> None:
    """The same bytes from a rule set just read, one kept, and none kept."""
    script = "from cli.main import main; main()"
    answers = []
    for place in (str(home.parent), str(home.parent), "off"):
        done = subprocess.run(
            [sys.executable, "-c", script, "demo", "--json"],
            capture_output=True,
            env={**os.environ, "PREPWRIGHT_CACHE": place},
            check=True,
        )
        answers.append(done.stdout)
    assert answers[0] == answers[1] == answers[2]
    assert answers[0].startswith(b"{")
