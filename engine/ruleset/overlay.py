"""A shop's changes over a supplied rule set: limits, rules, facts, steps, products and texts.

    shop.yaml        which supplied set is changed
    limits.yaml      limits set otherwise, and limits of the shop's own
    rules/*.yaml     rules that replace supplied ones, and rules of the shop's own
    retired.yaml     supplied rules and worked cases taken out
    replaced.yaml    what the supplied set said of all that; written by the tool
    facts/ steps/ tables/ products.yaml cautions.yaml outcomes.yaml gear.yaml labour.yaml cases/

Every change says who, when and why. The supplied set is only read; where the folder holds a copy
of it under `supplied/`, that copy is built on, so that a kept rule set loads the same for ever.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from engine.errors import UsageError, did_you_mean
from engine.ruleset.build_limits import build_limits
from engine.ruleset.digest import digest_of
from engine.ruleset.entries import (
    SUPPLIED,
    Entries,
    Entry,
    Files,
    add_entry,
    collect,
    collect_list,
    plain,
    read_files,
    read_shop_files,
    read_supplied_files,
)
from engine.ruleset.model import RuleSet, Shop, ShopChange, Touched
from engine.ruleset.report import Report
from engine.supplied import supplied_ruleset_folder

SHOP_FILE = "shop.yaml"

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.A)
_UNMARKED = ("treatment", "base", "case")
"""What a shop adds without saying who, when and why: worked cases only test."""

_WHAT = {"paint system": "system"}
_OWN_LIMIT = "Write `new: yes` for a limit of the shop's own."
_ABOUT_CHANGE = ("by", "on", "why", "replaces", "new")


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
        base = _supplied_files(folder, own, report, with_cases=False)
        content = {**own.content, **(base.content if base else {})}
    else:
        content = read_files(folder, report, with_cases=False).content
    report.refuse()
    return content


def plain_data(entry: Entry) -> dict[str, Any]:
    """What stands in an entry with every scalar as text, as it is kept and compared."""
    return {key: _plain(value) for key, value in entry.data.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return "" if value is None else plain(value)


def read_overlay(folder: Path, report: Report, *, with_cases: bool) -> Overlay | None:
    """The overlay in a folder and the supplied set below it; None where either is not complete."""
    own = read_shop_files(folder, report, with_cases=with_cases)
    supplied = _supplied_files(folder, own, report, with_cases=with_cases)
    if supplied is None or not own.complete or not supplied.complete:
        return None
    return Overlay(supplied, own, report)


def _supplied_files(folder: Path, own: Files, report: Report, *, with_cases: bool) -> Files | None:
    heads = own.documents["shop"]
    name = heads[0].get("builds-on") if heads else None
    if name is None:
        return None
    place = heads[0].place("builds-on")
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


class Overlay:
    """The entries of a supplied set with a shop's changes made to them."""

    def __init__(self, supplied: Files, own: Files, report: Report) -> None:
        self._supplied = supplied
        self._own = own
        self._report = report
        self._changes: list[ShopChange] = []
        self._now: dict[tuple[str, str], Entry] = {}
        self._renamed: dict[str, str] = {}
        self.set_aside: Entries = {}
        self._retired = {
            "rule": self._taken_out("rules", "rule"),
            "case": self._taken_out("cases", "case"),
        }

    @property
    def content(self) -> dict[str, bytes]:
        return {**self._own.content, **self._supplied.content}

    @property
    def _head(self) -> Entry:
        return self._own.documents["shop"][0]

    # --- what the loader asks for ---------------------------------------------------------------

    def collect(self, kind: str, *keys: str, what: str) -> Entries:
        supplied = collect(self._supplied, kind, *keys, what=what, report=self._report)
        own = collect(self._own, kind, *keys, what=what, report=self._report)
        if what == "limit":
            return self._limits(supplied, own)
        if what in _UNMARKED:
            return self._together(supplied, own, what)
        return self._keyed(supplied, own, what)

    def collect_list(self, kind: str, *keys: str, named_by: str, what: str) -> Entries:
        both = (
            collect_list(files, kind, *keys, named_by=named_by, what=what, report=self._report)
            for files in (self._supplied, self._own)
        )
        supplied, own = both
        return self._rules(supplied, own) if what == "rule" else self._cases(supplied, own)

    def only(self, kind: str) -> Entry | None:
        supplied = self._supplied.documents[kind]
        own = self._own.documents.get(kind, ())
        if not own:
            return supplied[0] if supplied else None
        if kind != "labour":
            return supplied[0]
        entry = _renamed(own[0], "labour")
        there = supplied[0] if supplied else None
        self._note(entry, "labour", there, replaces="labour" if there else None)
        return _dressed(entry)

    def every(self, kind: str) -> list[Entry]:
        return [*self._supplied.documents[kind], *self._own.documents[kind]]

    def finish(self, ruleset: RuleSet) -> RuleSet:
        """The rule set with the shop's name, and each change beside what it changed."""
        head = self._head
        changed = {(change.what, change.id): change for change in self._changes}
        builds_on = f"{ruleset.name} {ruleset.version}"
        own_version = head.text("version")
        return replace(
            ruleset,
            name=head.get("name"),
            version=f"{own_version} on {builds_on}" if own_version else f"on {builds_on}",
            title=head.get("title") or ruleset.title,
            digest=digest_of(self.content),
            limits={
                id: replace(limit, shop=changed.get(("limit", id)))
                for id, limit in ruleset.limits.items()
            },
            rules={
                id: replace(rule, shop=changed.get(("rule", id)))
                for id, rule in ruleset.rules.items()
            },
            shown_by_default=head.get("show-default") or ruleset.shown_by_default,
            shop=self._shop(ruleset),
        )

    def check_regions(self, regions: Mapping[str, object]) -> None:
        """The region whose units the shop wants shown is one of the supplied set."""
        region = self._head.get("show-default")
        if region is not None and region not in regions:
            self._report.unknown("region", region, regions, self._head.place("show-default"))

    def _shop(self, ruleset: RuleSet) -> Shop:
        prefix = f"{SUPPLIED}/"
        supplied = {name.removeprefix(prefix): raw for name, raw in self._supplied.content.items()}
        copies = self._copies()
        touched = tuple(
            Touched(
                change,
                copies.get(change.what, {}).get(change.replaces),
                plain_data(self._now[key]) if (key := _key(change)) in self._now else None,
            )
            for change in self._changes
            if change.replaces is not None
        )
        return Shop(
            name=self._head.get("name"),
            builds_on=ruleset.name,
            supplied_version=ruleset.version,
            supplied_digest=digest_of(supplied),
            noted_digest=self._head.get("supplied-digest"),
            place=self._head.place("supplied-digest"),
            changes=tuple(self._changes),
            touched=touched,
        )

    def _copies(self) -> dict[str, dict[str, Any]]:
        documents = self._own.documents["replaced"]
        return {
            what: {id: _plain(data) for id, data in copies.items()}
            for document in documents
            for what, copies in document.data.items()
        }

    # --- limits -----------------------------------------------------------------------------------

    def _limits(self, supplied: Entries, own: Entries) -> Entries:
        found = dict(supplied)
        for id, entry in own.items():
            there = supplied.get(id)
            if there is None:
                if "new" not in entry.data:
                    self._report.add(
                        "unknown-limit",
                        f"the supplied set has no limit `{id}`",
                        entry.name_place,
                        " ".join(filter(None, (did_you_mean(id, supplied), _OWN_LIMIT))),
                    )
                self._note(entry, "limit", None)
                found[id] = _dressed(entry)
                continue
            if "new" in entry.data:
                self._already("limit", entry, there, "Take `new: yes` out to change its value.")
            self._note(entry, "limit", there, replaces=id, supplied=there.text("value"))
            found[id] = self._changed_limit(entry, there)
        return found

    def _changed_limit(self, entry: Entry, there: Entry) -> Entry:
        built = build_limits({there.id: there}, Report())[there.id]
        inherited = {key: there.data[key] for key in ("note",) if key in there.data}
        if built is None:
            return _dressed(entry, inherited)
        kind = entry.get("kind")
        if kind is not None and kind != built.kind:
            self._report.add(
                "kind-of-limit",
                f"`{entry.id}` is a {built.kind} ({built.written}) in the supplied set",
                entry.place("kind"),
                "Take `kind` out.",
            )
        dressed = _dressed(entry, inherited)
        return replace(dressed, data={**dressed.data, "kind": str(built.kind)})

    # --- rules ------------------------------------------------------------------------------------

    def _rules(self, supplied: Entries, own: Entries) -> Entries:
        retired = self._retired["rule"]
        standing_in: dict[str, Entry] = {}
        for entry in own.values():
            self._find_place(entry, supplied, standing_in)
        for id, retirement in retired.items():
            if id not in supplied:
                self._report.unknown("rule", id, supplied, retirement.name_place)
                continue
            if id in standing_in:
                self._report.add(
                    "retired-and-replaced",
                    f"`{id}` is retired here and replaced at {standing_in[id].name_place}",
                    retirement.name_place,
                    "Keep one of the two.",
                )
            self.set_aside[id] = supplied[id]
            self._note(retirement, "rule", supplied[id], replaces=id, retired=True)
        self._renamed = {old: entry.id for old, entry in standing_in.items()}
        self.set_aside |= {old: supplied[old] for old in standing_in}
        found: Entries = {}
        for id, entry in supplied.items():
            if id in standing_in:
                found[standing_in[id].id] = _dressed(standing_in[id])
            elif id not in retired:
                found[id] = self._following(entry, "beats")
        for id, entry in own.items():
            if id not in found:
                found[id] = _dressed(entry)
        return found

    def _find_place(self, entry: Entry, supplied: Entries, standing_in: dict[str, Entry]) -> None:
        """Which supplied rule an own one stands in for, if any."""
        old = entry.get("replaces")
        if entry.id in supplied and old != entry.id:
            fix = f"Write `replaces: {entry.id}` to put yours in its place, or rename it."
            self._already("rule", entry, supplied[entry.id], fix)
        if old is None:
            self._note(entry, "rule", None)
        elif old not in supplied:
            self._report.unknown("rule", old, supplied, entry.place("replaces"))
        elif old in standing_in:
            self._report.add(
                "replaced-twice",
                f"`{old}` is replaced by `{standing_in[old].id}` already",
                entry.place("replaces"),
                f"That one stands at {standing_in[old].name_place}; keep one of the two.",
            )
        else:
            standing_in[old] = entry
            self._note(entry, "rule", supplied[old], replaces=old)

    def _following(self, entry: Entry, *keys: str) -> Entry:
        """A supplied entry whose lists of rules follow what the shop renamed and retired."""
        data = dict(entry.data)
        for key in keys:
            written = data.get(key)
            if written is None or written == "all":
                continue
            named = [written] if isinstance(written, str) else list(written)
            kept = [
                self._renamed.get(name, name) for name in named if name not in self._retired["rule"]
            ]
            if kept == named:
                continue
            if kept:
                data[key] = kept
            else:
                del data[key]
        return entry if data == entry.data else replace(entry, data=data)

    # --- the rest ---------------------------------------------------------------------------------

    def _cases(self, supplied: Entries, own: Entries) -> Entries:
        retired = self._retired["case"]
        for title, retirement in retired.items():
            if title not in supplied:
                # A caller that leaves the cases unread cannot know their titles.
                if self._supplied.documents["cases"]:
                    self._report.unknown("case", title, supplied, retirement.name_place)
                continue
            self._note(retirement, "case", supplied[title], replaces=title, retired=True)
        kept = {
            title: self._following(entry, "fires", "quiet", "open")
            for title, entry in supplied.items()
            if title not in retired
        }
        return self._together(kept, own, "case")

    def _together(self, supplied: Entries, own: Entries, what: str) -> Entries:
        found = dict(supplied)
        for entry in own.values():
            add_entry(found, entry, what, self._report)
        return found

    def _keyed(self, supplied: Entries, own: Entries, what: str) -> Entries:
        found = dict(supplied)
        for id, entry in own.items():
            there, old = supplied.get(id), entry.text("replaces")
            if old is not None and old != id:
                self._report.add(
                    "replaces-another",
                    f"a {what} takes the place of the one of the same name only, not of `{old}`",
                    entry.place("replaces"),
                    f"Everything that names `{old}` would miss it; name yours `{old}` too.",
                )
            elif old is not None and there is None:
                self._report.unknown(what, id, supplied, entry.name_place)
            elif old is None and there is not None:
                fix = f"Write `replaces: {id}` to put yours in its place, or rename it."
                self._already(what, entry, there, fix)
            self._note(entry, _WHAT.get(what, what), there, replaces=id if there else None)
            found[id] = _dressed(entry)
        return found

    def _already(self, what: str, entry: Entry, there: Entry, fix: str) -> None:
        self._report.add(
            "already-supplied",
            f"the supplied set has a {what} `{entry.id}` at {there.name_place}",
            entry.name_place,
            fix,
        )

    def _taken_out(self, key: str, what: str) -> Entries:
        return collect(self._own, "retired", key, what=what, report=self._report)

    # --- who, when and why ------------------------------------------------------------------------

    def _note(
        self,
        entry: Entry,
        what: str,
        there: Entry | None,
        *,
        replaces: str | None = None,
        supplied: str | None = None,
        retired: bool = False,
    ) -> None:
        """Keep a change; one whose who, when or why broke the schema is reported already."""
        by, on, why = (entry.get(key) for key in ("by", "on", "why"))
        if on is not None and not _is_day(on):
            self._report.add(
                "bad-date",
                f"`{on}` is no date",
                entry.place("on"),
                "Write year, month and day, as in `2026-12-25`.",
            )
        if by is None or on is None or why is None:
            return
        change = ShopChange(
            what, entry.id, by, on, why, entry.name_place, replaces, supplied, retired
        )
        self._changes.append(change)
        if there is not None:
            self._now[_key(change)] = there


def _key(change: ShopChange) -> tuple[str, str]:
    return change.what, change.replaces or ""


def _is_day(written: str) -> bool:
    if not _DAY.fullmatch(written):
        return False
    try:
        date.fromisoformat(written)
    except ValueError:
        return False
    return True


def _renamed(entry: Entry, id: str) -> Entry:
    return replace(entry, id=id)


def _dressed(entry: Entry, inherited: Mapping[str, Any] | None = None) -> Entry:
    """A shop's entry as the builders take it: without a source of its own it is the shop's."""
    said = {
        part: entry.get(key)
        for part, key in (("name", "by"), ("edition", "on"), ("clause", "why"))
        if entry.get(key) is not None
    }
    data = {key: value for key, value in entry.data.items() if key not in _ABOUT_CHANGE}
    return replace(entry, data={**(inherited or {}), "source": {"kind": "shop", **said}, **data})
