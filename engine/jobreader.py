"""Reads a job file, and names everything wrong with it at once; the format is in `jobfile`."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

from engine.answers import read_panel_name, read_text, read_value
from engine.document import Document, as_written, read_document
from engine.errors import InputError, JobFileError, Place, Problem, did_you_mean
from engine.facts import JobFacts, Told
from engine.jobkeys import TREATMENT, FactKeys, marked
from engine.plaintext import MAX_TEXT, folded, quoted
from engine.ruleset.model import About, FactSpec, RuleSet
from engine.value_reader import Where

FORMAT = "job/1"

MAX_PROBLEMS = 100
_ENOUGH = 1_000
_MAX_NAME = 80
_TOP = ("prepwright", "job", "shop", "car", "panels", "notes")


def read_job(path: Path, ruleset: RuleSet) -> JobFacts:
    """The facts in the job file at `path`.

    Raises DocumentError where it is not readable as YAML or JSON, JobFileError with every mistake
    in it, each with its place.
    """
    return parse_job(read_document(path), ruleset)


def parse_job(document: Document, ruleset: RuleSet) -> JobFacts:
    """The facts in a job file that is already parsed; see `read_job`."""
    return _JobReader(document, ruleset).read()


def job_notes(document: Document) -> tuple[str, ...]:
    """The notes of a job file: free remarks that no rule reads. Raises JobFileError."""
    notes, problems = _read_notes(document)
    if problems:
        raise JobFileError(problems)
    return notes


class _JobReader:
    def __init__(self, document: Document, ruleset: RuleSet) -> None:
        self._document = document
        self._keys = FactKeys(ruleset)
        self._problems: list[Problem] = []

    def read(self) -> JobFacts:
        data = self._document.data
        if not isinstance(data, dict):
            found = "is empty" if data is None else "is not a mapping"
            self._refuse(
                "not-a-job-file", f"the file {found}", (), f"Begin with `prepwright: {FORMAT}`."
            )
            self._raise()
        self._format(data)
        for key in data:
            if key not in _TOP:
                self._unknown_top(key)
        job = self._job(data)
        shop = self._section(About.SHOP, data.get("shop"), ("shop",))
        car = self._section(About.CAR, data.get("car"), ("car",))
        panels = self._panels(data)
        self._add(*_read_notes(self._document)[1])
        if self._problems:
            self._raise()
        return JobFacts(job, shop, car, panels)

    def _format(self, data: dict[str, object]) -> None:
        found = data.get("prepwright")
        if found == FORMAT:
            return
        fix = f"Write `prepwright: {FORMAT}`."
        if "prepwright" not in data:
            self._refuse("no-format", "the file does not say what it is", (), fix)
        elif isinstance(found, str) and re.fullmatch(r"job/[0-9]+", found):
            self._refuse(
                "unknown-format",
                f"{quoted(found)} is a version of the job file that is not read here",
                ("prepwright",),
                f"`{FORMAT}` is read.",
            )
            # What the rest of another version means is not known.
            self._raise()
        else:
            shown = quoted(found) if isinstance(found, str) else "this"
            self._refuse("unknown-format", f"{shown} is no job file", ("prepwright",), fix)

    def _unknown_top(self, key: str) -> None:
        where = self._keys.find(About.PANEL, key) or self._keys.elsewhere(About.PANEL, key)
        if where is not None:
            fix = f"{_belongs(where, self._keys)}."
        else:
            fix = did_you_mean(folded(key)[:40], _TOP) or f"A job file has {marked(_TOP)}."
        self._add(
            Problem(
                "unknown-key",
                f"{quoted(key)} does not stand at the top of a job file",
                self._document.key_place(key),
                fix,
            )
        )

    def _job(self, data: dict[str, object]) -> str:
        if "job" not in data:
            self._refuse("no-job-name", "the job has no name", (), "Write `job:` and its name.")
            return ""
        raw = data["job"]
        # Order numbers are names too, and a number keeps how it was written: `007` stays `007`.
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            raw = as_written(raw)
        return self._name(raw, "the job name", self._document.place("job"))

    def _name(self, raw: object, what: str, place: Place) -> str:
        try:
            return read_text(raw, what, place, longest=_MAX_NAME)
        except InputError as error:
            self._add(*error.problems)
            return ""

    def _panel_name(self, raw: object, place: Place) -> None:
        try:
            read_panel_name(raw, place)
        except InputError as error:
            self._add(*error.problems)

    def _section(self, about: About, raw: object, path: tuple[str, ...]) -> dict[str, Told]:
        told: dict[str, Told] = {}
        if isinstance(raw, dict):
            self._sheet(about, raw, path, "", told, {})
        elif raw is not None:
            self._refuse(
                "not-a-mapping",
                f"{quoted(path[-1])} must hold facts",
                path,
                "Write facts under it, each as `name: value`.",
            )
        return told

    def _panels(self, data: dict[str, object]) -> dict[str, dict[str, Told]]:
        raw = data.get("panels")
        fix = "Name at least one panel: `panels:`, then its name, then its facts."
        if not raw:
            where = ("panels",) if "panels" in data else ()
            self._refuse("no-panels", "the job names no panel", where, fix)
            return {}
        if not isinstance(raw, dict):
            self._refuse("not-a-mapping", "`panels` must hold panels by name", ("panels",), fix)
            return {}
        panels: dict[str, dict[str, Told]] = {}
        seen: dict[str, str] = {}
        for name, facts in raw.items():
            place = self._document.key_place("panels", name)
            self._panel_name(name, place)
            first = seen.setdefault(_same_name(name), name)
            if first != name:
                line = self._document.key_place("panels", first).line
                self._add(
                    Problem(
                        "panel-named-twice",
                        f"the panel {quoted(name)} is already named {quoted(first)} in line {line}",
                        place,
                        "Give one of them another name, or put their facts together.",
                    )
                )
            panels[name] = self._section(About.PANEL, facts, ("panels", name))
        return panels

    def _sheet(
        self,
        about: About,
        facts: dict[str, object],
        path: tuple[str, ...],
        prefix: str,
        told: dict[str, Told],
        seen: dict[str, Place],
    ) -> None:
        """Reads facts, and those nested under the beginning of their ids, into `told`."""
        for name, raw in facts.items():
            key = f"{prefix}.{name}" if prefix else name
            here = (*path, name)
            spec = self._keys.find(about, key)
            group = self._keys.is_group(about, key)
            if group and isinstance(raw, dict) and (spec is None or "value" not in raw):
                self._sheet(about, raw, here, key, told, seen)
            elif spec is not None:
                self._fact(spec, raw, here, told, seen)
            elif group:
                members = self._keys.members(about, key)
                self._refuse(
                    "group-without-facts",
                    f"{quoted(key)} is no fact but the beginning of several",
                    here,
                    f"Write {marked(members)} under it." if members else None,
                )
            else:
                self._unknown_fact(about, key, here)

    def _fact(
        self,
        spec: FactSpec,
        raw: object,
        path: tuple[str, ...],
        told: dict[str, Told],
        seen: dict[str, Place],
    ) -> None:
        place = self._document.key_place(*path)
        if not spec.told:
            self._not_told(spec.id, _way(spec), place)
            return
        if spec.id in seen:
            self._add(
                Problem(
                    "told-twice",
                    f"`{spec.id}` is told twice",
                    place,
                    f"It first stands in line {seen[spec.id].line}; keep one of them.",
                )
            )
            return
        seen[spec.id] = place
        try:
            told[spec.id] = read_value(spec, raw, self._document.place(*path), self._where(path))
        except InputError as error:
            self._add(*error.problems)

    def _where(self, path: tuple[str, ...]) -> Where:
        def where(*inner: str | int) -> Place:
            whole = (*path, *inner)
            if inner and isinstance(inner[-1], str) and inner[-1] != "value":
                return self._document.key_place(*whole)
            return self._document.place(*whole)

        return where

    def _not_told(self, fact: str, way: str, place: Place) -> None:
        sources = self._keys.led_to_by(fact)
        fix = f"Take it out and tell {marked(sources, longest=8)}." if sources else "Take it out."
        self._add(Problem("not-told", f"`{fact}` {way}; it cannot be told", place, fix))

    def _unknown_fact(self, about: About, key: str, path: tuple[str, ...]) -> None:
        place = self._document.key_place(*path)
        if about is About.PANEL and key == TREATMENT:
            self._not_told(key, "is what the rules decide", place)
            return
        keys, name = self._keys, path[-1]
        meant = keys.elsewhere(about, key) or keys.find(about, name) or keys.elsewhere(about, name)
        if meant is not None and meant.about is about:
            group = quoted(key.removesuffix(f".{name}"))
            fix = f"Write `{keys.short(meant)}` beside {group}, not under it."
            message = f"{quoted(name)} does not belong under {group}"
            self._add(Problem("misplaced-fact", message, place, fix))
            return
        if meant is not None:
            message = (
                f"{quoted(name)} is not a fact of a {about.value}, but of a {meant.about.value}"
            )
            self._add(Problem("misplaced-fact", message, place, f"{_belongs(meant, keys)}."))
            return
        self._add(
            Problem(
                "unknown-fact",
                f"{quoted(key)} is not a fact of a {about.value}",
                place,
                self._keys.nearest(about, key),
            )
        )

    def _refuse(self, code: str, message: str, path: tuple[str, ...], fix: str | None) -> None:
        self._add(Problem(code, message, self._document.place(*path), fix))

    def _add(self, *problems: Problem) -> None:
        self._problems += problems
        # Looking for near words takes time; nobody reads on past so many.
        if len(self._problems) > _ENOUGH:
            self._raise()

    def _raise(self) -> None:
        found = JobFileError(dict.fromkeys(self._problems)).problems
        more = len(found) - MAX_PROBLEMS
        if more > 0:
            rest = Problem(
                "more-problems", f"and {more} more from here on", found[MAX_PROBLEMS].place
            )
            raise JobFileError((*found[:MAX_PROBLEMS], rest))
        raise JobFileError(found)


def _read_notes(document: Document) -> tuple[tuple[str, ...], list[Problem]]:
    raw = document.data.get("notes") if isinstance(document.data, dict) else None
    if raw is None:
        return (), []
    items = raw if isinstance(raw, list) else [raw]
    notes: list[str] = []
    problems: list[Problem] = []
    for index, item in enumerate(items):
        place = document.place("notes", index)
        try:
            notes.append(read_text(item, "a note", place, longest=MAX_TEXT, lines=True))
        except InputError as error:
            problems += error.problems
    return tuple(notes), problems


def _belongs(spec: FactSpec, keys: FactKeys) -> str:
    if spec.about is About.PANEL:
        return f"Write `{keys.short(spec)}` under the name of a panel, in `panels`"
    return f"Write `{keys.short(spec)}` under `{spec.about.value}`"


def _way(spec: FactSpec) -> str:
    if spec.reckoned is not None:
        return "is worked out"
    return "is gathered from the panels" if spec.gathered is not None else "is concluded by rules"


def _same_name(name: str) -> str:
    """What two names share where they differ in case, space or unseen characters alone."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    return "".join(char for char in plain if not char.isspace() and char not in "\u200c\u200d")
