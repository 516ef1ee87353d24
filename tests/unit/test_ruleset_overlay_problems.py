"""Each folder of bad_shops spoils an empty shop over the small rule set in one way."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from engine.errors import RuleSetError
from engine.ruleset import load_ruleset

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"
BAD = sorted(path for path in (HERE / "bad_shops").iterdir() if path.is_dir())
BESIDE = {"expected.txt", "without.txt"}
HEAD = "prepwright: shop/1\nname: north-yard\nbuilds-on: small\n"


def spoil(bad: Path, folder: Path) -> Path:
    """A shop that changes nothing, with a copy of the small rule set, and the files of `bad`."""
    folder.mkdir()
    (folder / "shop.yaml").write_text(HEAD, "utf-8")
    if not (bad / "without.txt").exists():
        shutil.copytree(SMALL, folder / "supplied")
    for file in bad.rglob("*"):
        if file.is_file() and file.name not in BESIDE:
            target = folder / file.relative_to(bad)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(file, target)
    return folder


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.name)
def test_message_is_exactly_the_one_expected(bad: Path, tmp_path: Path) -> None:
    with pytest.raises(RuleSetError) as refused:
        load_ruleset(spoil(bad, tmp_path / "shop"))
    assert f"{refused.value.format_message()}\n" == (bad / "expected.txt").read_text("utf-8")


def test_a_shop_that_changes_nothing_loads(tmp_path: Path) -> None:
    (tmp_path / "nothing").mkdir()
    ruleset = load_ruleset(spoil(tmp_path / "nothing", tmp_path / "shop"))
    assert ruleset.shop is not None
    assert ruleset.shop.changes == ()
