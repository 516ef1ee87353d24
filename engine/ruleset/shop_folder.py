"""Starts the folder of a shop's changes, and notes what the supplied set says of them."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

import yaml

from engine.document import read_document
from engine.errors import Place, Problem, RuleSetError, UsageError
from engine.ruleset.load import load_ruleset
from engine.ruleset.model import RuleSet
from engine.ruleset.shop_files import SHOP_FILE, is_shop_folder
from engine.ruleset.shop_model import Shop
from engine.supplied import new_shop_folder, supplied_ruleset_folder

COPIES_FILE = "replaced.yaml"
_NOTED = "supplied-digest"
_NAME = re.compile(r"[a-z0-9]+([-.][a-z0-9]+)*")
_HEADER = (
    "# What the supplied set says of the parts this shop changes. Written by\n"
    "# `prepwright rules accept`; not meant to be edited.\n"
)


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was noted: the supplied set, and how many of its parts have a copy."""

    shop: Shop
    copies: int
    first_time: bool


def new_shop(folder: Path, name: str | None = None, builds_on: str = "refinish") -> list[Path]:
    """Start a shop's folder with commented files that change nothing yet; give the files written.

    `name` is the short name of the shop's rule set, the folder's own where it is left out. Raises
    UsageError where the folder holds something already, or its name cannot be a rule set's.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"{folder} holds something already; name a folder that is empty or new")
    chosen = name or re.sub(r"[\s_]+", "-", folder.resolve().name.casefold())
    if not _NAME.fullmatch(chosen):
        raise UsageError(
            f"`{chosen}` cannot name a rule set: names are lower-case letters and digits, joined "
            "by hyphens or dots; give one with --name"
        )
    supplied_ruleset_folder(builds_on)
    written = []
    source = new_shop_folder()
    for file in sorted(path for path in source.rglob("*.yaml")):
        text = file.read_text("utf-8")
        if file.name == SHOP_FILE:
            text = text.replace("SHOP-NAME", chosen).replace("BUILDS-ON", builds_on)
        target = folder / file.relative_to(source)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, "utf-8")
        written.append(target)
    accept(folder)
    return written


def accept(folder: Path) -> Accepted:
    """Note the supplied set as it is now, with a copy of every part of it that the shop changes.

    Writes `supplied-digest` in shop.yaml and the copies in replaced.yaml; nothing else changes.
    Raises UsageError where the folder is no shop's, RuleSetError where its rules do not load.
    """
    if folder.is_dir() and not is_shop_folder(folder):
        raise UsageError(
            f"{folder} holds no `{SHOP_FILE}`, so there are no changes of a shop to note; "
            "`prepwright rules new-shop` starts such a folder"
        )
    ruleset = load_ruleset(folder)
    assert ruleset.shop is not None
    head = _with_digest(folder / SHOP_FILE, ruleset.shop.supplied_digest)
    copies = _copies(ruleset)
    _write(folder / COPIES_FILE, _HEADER + _as_yaml(copies))
    _write(folder / SHOP_FILE, head)
    return Accepted(
        ruleset.shop,
        sum(len(named) for named in copies.values()),
        ruleset.shop.noted_digest is None,
    )


def _copies(ruleset: RuleSet) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {}
    for touched in ruleset.shop.touched if ruleset.shop else ():
        if touched.now is not None and touched.change.replaces is not None:
            named = found.setdefault(touched.change.what, {})
            named[touched.change.replaces] = dict(touched.now)
    return found


def _as_yaml(copies: dict[str, dict[str, object]]) -> str:
    if not copies:
        return ""
    # Quoted throughout, so that every scalar is read back as the text it is.
    return str(
        yaml.safe_dump(copies, default_style='"', allow_unicode=True, sort_keys=False, width=100)
    )


def _with_digest(file: Path, digest: str) -> str:
    """The text of shop.yaml with the line of the digest put in or changed."""
    document = read_document(file, SHOP_FILE)
    lines = file.read_text("utf-8").splitlines(keepends=True)
    line = f"{_NOTED}: {digest}\n"
    if (_NOTED,) in document.keys:
        where = document.keys[_NOTED,].line - 1
        value = document.place(_NOTED).line - 1
        if value != where or not lines[where].startswith(f"{_NOTED}:"):
            raise _by_hand(document.key_place(_NOTED), line)
        lines[where] = line
    else:
        after = document.key_place("builds-on").line - 1
        if not lines[after].startswith("builds-on:"):
            raise _by_hand(document.key_place("builds-on"), line)
        if not lines[after].endswith("\n"):
            lines[after] += "\n"
        lines.insert(after + 1, line)
    return "".join(lines)


def _by_hand(place: Place, line: str) -> RuleSetError:
    return RuleSetError(
        Problem(
            "not-a-line-of-its-own",
            f"`{_NOTED}` cannot be put in, because the file does not have one key a line",
            place,
            f"Write each key on a line of its own, and among them `{line.strip()}`.",
        )
    )


def _write(file: Path, text: str) -> None:
    """Write a file in one go, so that an interruption leaves the old one."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
        if file.exists():
            shutil.copymode(file, name)
        else:
            shutil.copymode(file.parent / SHOP_FILE, name)
        os.replace(name, file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
