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

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from engine.errors import did_you_mean
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
    read_shop_files,
)
from engine.ruleset.model import RuleSet
from engine.ruleset.report import Report
from engine.ruleset.shop_changes import Changes, dressed
from engine.ruleset.shop_files import supplied_files
from engine.ruleset.shop_model import Shop

_UNMARKED = ("treatment", "base", "case")
"""What a shop adds without saying who, when and why: worked cases only test."""

_WHAT = {"paint system": "system"}

_BY_NAME = ("hours", "times", "prices")
"""The parts of labour.yaml of which a shop may change some, by their names."""
_OWN_LIMIT = "Write `new: yes` for a limit of the shop's own."


def read_overlay(folder: Path, report: Report, *, with_cases: bool) -> Overlay | None:
    """The overlay in a folder and the supplied set below it; None where either is not complete."""
    own = read_shop_files(folder, report, with_cases=with_cases)
    supplied = supplied_files(folder, own, report, with_cases=with_cases)
    if supplied is None or not own.complete or not supplied.complete:
        return None
    return Overlay(supplied, own, report)


class Overlay:
    """The entries of a supplied set with a shop's changes made to them."""

    def __init__(self, supplied: Files, own: Files, report: Report) -> None:
        self._supplied = supplied
        self._own = own
        self._report = report
        self._changes = Changes(report)
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
        return self._labour(replace(own[0], id="labour"), supplied[0] if supplied else None)

    def _labour(self, entry: Entry, there: Entry | None) -> Entry:
        """The shop's labour: in place of the supplied one, or only what it says over that."""
        if "rest" not in entry.data:
            self._changes.note(entry, "labour", there, replaces="labour" if there else None)
            return dressed(entry)
        if there is None:
            self._report.add(
                "missing-file",
                "the supplied set has no labour.yaml whose rest could stay",
                entry.place("rest"),
                "Take `rest` out and write the whole file.",
            )
            return dressed(entry)
        own = {key: value for key, value in entry.data.items() if key != "rest"}
        touched = {key: _kept(there.data[key], own[key]) for key in own if key in there.data}
        narrowed = replace(there, data=touched)
        self._changes.note(entry, "labour", narrowed, replaces="labour")
        changed = dressed(replace(entry, data=own))
        return replace(changed, data=_laid_over(there.data, changed.data))

    def every(self, kind: str) -> list[Entry]:
        return [*self._supplied.documents[kind], *self._own.documents[kind]]

    def finish(self, ruleset: RuleSet) -> RuleSet:
        """The rule set with the shop's name, and each change beside what it changed."""
        head = self._head
        changed = {(change.what, change.id): change for change in self._changes.made}
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
        return Shop(
            name=self._head.get("name"),
            builds_on=ruleset.name,
            supplied_version=ruleset.version,
            supplied_digest=digest_of(supplied),
            noted_digest=self._head.get("supplied-digest"),
            place=self._head.place("supplied-digest"),
            changes=tuple(self._changes.made),
            touched=self._changes.touched(self._own.documents["replaced"]),
        )

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
                self._changes.note(entry, "limit", None)
                found[id] = dressed(entry)
                continue
            if "new" in entry.data:
                self._already("limit", entry, there, "Take `new: yes` out to change its value.")
            self._changes.note(entry, "limit", there, replaces=id, supplied=there.text("value"))
            found[id] = self._changed_limit(entry, there)
        return found

    def _changed_limit(self, entry: Entry, there: Entry) -> Entry:
        built = build_limits({there.id: there}, Report())[there.id]
        inherited = {key: there.data[key] for key in ("note",) if key in there.data}
        if built is None:
            return dressed(entry, inherited)
        kind = entry.get("kind")
        if kind is not None and kind != built.kind:
            self._report.add(
                "kind-of-limit",
                f"`{entry.id}` is a {built.kind} ({built.written}) in the supplied set",
                entry.place("kind"),
                "Take `kind` out.",
            )
        changed = dressed(entry, inherited)
        return replace(changed, data={**changed.data, "kind": str(built.kind)})

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
            self._changes.note(retirement, "rule", supplied[id], replaces=id, retired=True)
        self._renamed = {old: entry.id for old, entry in standing_in.items()}
        self.set_aside |= {old: supplied[old] for old in standing_in}
        found: Entries = {}
        for id, entry in supplied.items():
            if id in standing_in:
                found[standing_in[id].id] = dressed(standing_in[id])
            elif id not in retired:
                found[id] = self._following(entry, "beats")
        for id, entry in own.items():
            if id not in found:
                found[id] = dressed(entry)
        return found

    def _find_place(self, entry: Entry, supplied: Entries, standing_in: dict[str, Entry]) -> None:
        """Which supplied rule an own one stands in for, if any."""
        old = entry.get("replaces")
        if entry.id in supplied and old != entry.id:
            fix = f"Write `replaces: {entry.id}` to put yours in its place, or rename it."
            self._already("rule", entry, supplied[entry.id], fix)
        if old is None:
            self._changes.note(entry, "rule", None)
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
            self._changes.note(entry, "rule", supplied[old], replaces=old)

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
            self._changes.note(retirement, "case", supplied[title], replaces=title, retired=True)
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
            self._changes.note(entry, _WHAT.get(what, what), there, replaces=id if there else None)
            found[id] = dressed(entry)
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


def _laid_over(supplied: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Own values over supplied ones; days and steps that are not named stay."""
    return {**supplied, **own} | {
        key: {**supplied[key], **value}
        for key, value in own.items()
        if key in _BY_NAME and isinstance(value, Mapping) and key in supplied
    }


def _kept(supplied: Any, own: Any) -> Any:
    """What the supplied set says of that which the shop says otherwise."""
    if isinstance(supplied, Mapping) and isinstance(own, Mapping):
        return {key: supplied[key] for key in own if key in supplied}
    return supplied
