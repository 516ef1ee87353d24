"""Starting a shop's folder, and noting the supplied set below it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from engine.errors import RuleSetError, UsageError
from engine.ruleset import load_ruleset
from engine.ruleset.check import check_ruleset
from engine.ruleset.shop_folder import accept, new_shop
from engine.supplied import new_shop_folder, supplied_ruleset_folder

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"


def over_small(folder: Path, head: str = "") -> Path:
    """The small shop over a copy of the small rule set, which can then be changed."""
    shutil.copytree(HERE / "small_shop", folder)
    shutil.copytree(SMALL, folder / "supplied")
    if head:
        (folder / "shop.yaml").write_text(head, "utf-8")
    return folder


def findings(folder: Path, *codes: str) -> list[str]:
    checked = check_ruleset(load_ruleset(folder))
    return [str(finding) for finding in checked.findings if finding.code in codes]


SHOP = ("supplied-changed", "supplied-part-changed", "supplied-not-noted", "supplied-not-copied")


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")


# --- a new shop ---------------------------------------------------------------------------------


def test_a_new_shop_loads_and_changes_nothing(tmp_path: Path) -> None:
    new_shop(tmp_path / "North Yard")
    ruleset = load_ruleset(tmp_path / "North Yard")
    supplied = load_ruleset(supplied_ruleset_folder())
    assert ruleset.name == "north-yard"
    assert ruleset.shop is not None
    assert ruleset.shop.changes == ()
    assert ruleset.shop.noted_digest == ruleset.shop.supplied_digest == supplied.digest
    assert list(ruleset.rules) == list(supplied.rules)
    assert {limit.amount for limit in ruleset.limits.values()} == {
        limit.amount for limit in supplied.limits.values()
    }


def test_every_example_in_its_files_is_a_change_that_works(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    for file in new_shop(folder):
        lines = file.read_text("utf-8").splitlines()[1:]
        used = [re.sub(r"^# ", "", line) for line in lines]
        file.write_text("\n".join(used) + "\n", "utf-8")
    ruleset = load_ruleset(folder)
    assert ruleset.shop is not None
    assert {change.what for change in ruleset.shop.changes} >= {
        "limit", "rule", "case", "fact", "step", "product", "caution",
    }  # fmt: skip
    own = [case for case in ruleset.cases if not case.file.startswith("supplied/")]
    assert len(own) == 3
    checked = check_ruleset(ruleset)
    assert [str(finding) for finding in checked.errors] == []


def test_every_file_of_a_new_shop_has_an_example(tmp_path: Path) -> None:
    for file in new_shop_folder().rglob("*.yaml"):
        if file.name != "shop.yaml":
            assert len(re.findall(r"^# ", file.read_text("utf-8"), re.M)) > 4, file


def test_the_name_can_be_chosen(tmp_path: Path) -> None:
    new_shop(tmp_path / "Werkstatt Süd", "south-yard")
    assert load_ruleset(tmp_path / "Werkstatt Süd").name == "south-yard"
    with pytest.raises(UsageError, match=r"cannot name a rule set.*--name"):
        new_shop(tmp_path / "Werkstatt Süd 2")
    assert not (tmp_path / "Werkstatt Süd 2").exists()


def test_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").touch()
    with pytest.raises(UsageError, match="holds something already"):
        new_shop(tmp_path)
    with pytest.raises(UsageError, match="holds something already"):
        new_shop(tmp_path / "notes.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_set_that_is_not_supplied(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"no rule set named `refinsh`.*`refinish`"):
        new_shop(tmp_path / "shop", builds_on="refinsh")


# --- noting the supplied set --------------------------------------------------------------------


def test_what_is_noted_is_not_told_again(tmp_path: Path) -> None:
    folder = over_small(tmp_path / "shop")
    assert [told[:16] for told in findings(folder, *SHOP)] == ["shop.yaml:1:1: w"]
    noted = accept(folder)
    assert noted.first_time
    assert noted.copies == 7
    assert findings(folder, *SHOP) == []
    assert not accept(folder).first_time


def test_accept_changes_one_line_of_the_file_people_edit(tmp_path: Path) -> None:
    folder = over_small(tmp_path / "shop")
    before = (folder / "shop.yaml").read_text("utf-8").splitlines()
    accept(folder)
    once = (folder / "shop.yaml").read_text("utf-8").splitlines()
    assert [line for line in once if line not in before] == [
        f"supplied-digest: {load_ruleset(SMALL).digest}"
    ]
    change(folder / "supplied" / "ruleset.yaml", 'version: "1"', 'version: "2"')
    accept(folder)
    twice = (folder / "shop.yaml").read_text("utf-8").splitlines()
    assert len(twice) == len(once) == len(before) + 1
    assert twice != once


def test_an_update_tells_which_changes_it_touches(tmp_path: Path) -> None:
    folder = over_small(tmp_path / "shop")
    accept(folder)
    change(folder / "supplied" / "limits.yaml", "12 mil", "11.5 mil")
    change(folder / "supplied" / "rules" / "car.yaml", "35 degC", "33 degC")
    change(folder / "supplied" / "facts" / "car.yaml", "Is it washed?", "Was it washed?")
    told = findings(folder, *SHOP)
    assert len(told) == 3
    limit, rule, whole = sorted(told)
    assert limit.startswith("limits.yaml:1:1: warning: the supplied limit `film.limit`, which")
    assert "\n    `value` was `12 mil`, and is `11.5 mil` now\n" in limit
    assert rule.startswith("retired.yaml:2:3: warning: the supplied rule `strip-work`, which the")
    assert "`when.shop.air-temperature.between` was `$air.coldest` and `35 degC`" in rule
    assert "`small` is not the one the shop last looked at [supplied-changed]" in whole


def test_an_update_that_touches_nothing_says_so(tmp_path: Path) -> None:
    folder = over_small(tmp_path / "shop")
    accept(folder)
    change(folder / "supplied" / "facts" / "car.yaml", "Is it washed?", "Was it washed?")
    (told,) = findings(folder, *SHOP)
    assert "nothing the shop changes is touched by it" in told


def test_a_part_taken_out_of_the_supplied_set_is_refused_where_it_is_changed(
    tmp_path: Path,
) -> None:
    folder = over_small(tmp_path / "shop")
    accept(folder)
    (folder / "supplied" / "facts" / "panel.yaml").write_text(
        (SMALL / "facts" / "panel.yaml").read_text("utf-8").replace("dents:", "bumps:"), "utf-8"
    )
    with pytest.raises(RuleSetError, match=r"facts/own.yaml:10:1: there is no fact `dents`"):
        load_ruleset(folder)


def test_copies_are_kept_as_they_are_written(tmp_path: Path) -> None:
    """Words that other YAML versions read as something else come back as they were."""
    folder = over_small(tmp_path / "shop")
    note = "yes, 0o17 and 012 and null and 1e3 and 12:30 and ~"
    for word in note.split():
        change(
            folder / "supplied" / "limits.yaml",
            "note: film above this comes down",
            f"note: '{word}'",
        )
        accept(folder)
        assert findings(folder, *SHOP) == []
        change(
            folder / "supplied" / "limits.yaml",
            f"note: '{word}'",
            "note: film above this comes down",
        )


HEADS = {
    "flow": "{prepwright: shop/1, name: north-yard, builds-on: small}\n",
    "next-line": (
        "prepwright: shop/1\nname: north-yard\nbuilds-on: small\nsupplied-digest:\n  sha256:00\n"
    ),
}


@pytest.mark.parametrize("head", HEADS.values(), ids=HEADS)
def test_a_head_in_another_layout_is_left_alone(tmp_path: Path, head: str) -> None:
    folder = over_small(tmp_path / "shop", head)
    with pytest.raises(RuleSetError, match="on a line of its own") as refused:
        accept(folder)
    assert refused.value.problems[0].code == "not-a-line-of-its-own"
    assert (folder / "shop.yaml").read_text("utf-8") == head
    assert not (folder / "replaced.yaml").exists()


def test_a_whole_rule_set_has_nothing_to_note(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"holds no `shop.yaml`"):
        accept(SMALL)
    with pytest.raises(RuleSetError, match="does not exist"):
        accept(tmp_path / "nowhere")
