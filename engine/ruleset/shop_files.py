"""The files of a shop's changes, and those of the supplied set below them."""

from __future__ import annotations

from pathlib import Path

from engine.errors import UsageError
from engine.ruleset.entries import (
    SUPPLIED,
    Files,
    read_files,
    read_shop_files,
    read_supplied_files,
)
from engine.ruleset.report import Report
from engine.supplied import supplied_ruleset_folder

SHOP_FILE = "shop.yaml"


def is_shop_folder(folder: Path) -> bool:
    """Whether the folder holds a shop's changes rather than a whole rule set."""
    return (folder / SHOP_FILE).is_file()


def ruleset_files(folder: Path) -> dict[str, bytes]:
    """Every file of a rule set by the name under which its digest covers it.

    For a shop's folder the files of the supplied set come along under `supplied/`: written to a
    folder of their own, these files load as the same rule set. Raises RuleSetError where a file
    cannot be read.
    """
    report = Report()
    if is_shop_folder(folder):
        own = read_shop_files(folder, report, with_cases=False)
        base = supplied_files(folder, own, report, with_cases=False)
        content = {**own.content, **(base.content if base else {})}
    else:
        content = read_files(folder, report, with_cases=False).content
    report.refuse()
    return content


def builds_on(own: Files) -> str | None:
    """The name of the supplied set that a shop's files say they build on, if they say it."""
    heads = own.documents["shop"]
    name: str | None = heads[0].get("builds-on") if heads else None
    return name


def supplied_files(folder: Path, own: Files, report: Report, *, with_cases: bool) -> Files | None:
    """The files of the set that a shop's folder with these `own` files builds on.

    None where it names none, or what it names is not there, which `report` then holds.
    """
    name = builds_on(own)
    if name is None:
        return None
    place = own.documents["shop"][0].place("builds-on")
    there = folder / SUPPLIED
    if not there.is_dir():
        try:
            there = supplied_ruleset_folder(name)
        except UsageError as error:
            report.add("unknown-rule-set", str(error), place)
            return None
    files = read_supplied_files(there, report, with_cases=with_cases)
    found = [head.get("name") for head in files.documents["ruleset"]]
    if found and found != [name]:
        report.add(
            "another-rule-set",
            f"this shop builds on `{name}`, but `{SUPPLIED}/` holds `{found[0]}`",
            place,
            f"Write `builds-on: {found[0]}`, or take the folder `{SUPPLIED}` away.",
        )
    return files
