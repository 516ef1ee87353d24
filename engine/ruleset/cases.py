"""Reads the worked cases of a rule set. Facts stay as written until a case is run."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from engine.errors import Place
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import About, CaseSpec, FactSpec
from engine.ruleset.report import Report, near

ABSENT = "absent"
"""Written for a fact, it removes what the base says of it."""

OPEN = "open"
"""Expected of a treatment, it says that none is settled."""

_SHEETS = (About.SHOP, About.CAR, About.PANEL)


@dataclass(frozen=True, slots=True)
class Known:
    """The ids that a case may name."""

    facts: Mapping[str, FactSpec | None]
    rules: Collection[str]
    treatments: Collection[str]
    holds: Collection[str]
    cautions: Collection[str]
    steps: Collection[str]


def build_cases(
    cases: Entries, bases: Entries, known: Known, report: Report
) -> tuple[CaseSpec, ...]:
    """The cases in file order, each merged with its base. Wrong ones are reported and left out."""
    for base in bases.values():
        _check_sheets(base, known, report)
    return tuple(_cases(cases, bases, known, report))


def _cases(cases: Entries, bases: Entries, known: Known, report: Report) -> Iterator[CaseSpec]:
    for entry in cases.values():
        before = len(report)
        _check_sheets(entry, known, report)
        _check_rules(entry, known, report)
        _check_expected(entry, known, report)
        name = entry.get("base")
        if name is not None and name not in bases:
            report.unknown("base", name, bases, entry.place("base"))
        if len(report) > before or not entry.sound:
            continue
        base = bases[name] if name is not None else None
        sheets = {about: _merged(base, entry, about) for about in _SHEETS}
        yield CaseSpec(
            id=entry.id,
            place=entry.name_place,
            file=entry.document.file,
            shop=sheets[About.SHOP],
            car=sheets[About.CAR],
            panel=sheets[About.PANEL],
            fires=tuple(entry.get("fires") or ()),
            quiet=tuple(entry.get("quiet") or ()),
            open=tuple(entry.get("open") or ()),
            expect=entry.get("expect") or {},
            beside=tuple(
                _without_absent({**sheets[About.PANEL], **other})
                for other in entry.get("beside") or ()
            ),
        )


def _merged(base: Entry | None, entry: Entry, about: About) -> dict[str, Any]:
    both = {**(base.get(about) or {} if base else {}), **(entry.get(about) or {})}
    return _without_absent(both)


def _without_absent(sheet: Mapping[str, Any]) -> dict[str, Any]:
    return {fact: value for fact, value in sheet.items() if value != ABSENT}


def _check_sheets(entry: Entry, known: Known, report: Report) -> None:
    for about in _SHEETS:
        for fact in entry.get(about) or ():
            _check_told(fact, about, entry.key_place(about, fact), known, report)
    for index, other in enumerate(entry.get("beside") or ()):
        for fact in other:
            place = entry.key_place("beside", index, fact)
            _check_told(fact, About.PANEL, place, known, report)


def _check_told(fact: str, about: About, place: Place, known: Known, report: Report) -> None:
    """A fact stands on the sheet it belongs to, and is one that people tell."""
    if fact not in known.facts:
        report.unknown("fact", fact, known.facts, place)
        return
    spec = known.facts[fact]
    if spec is None:
        return
    if not spec.told:
        report.add(
            "not-told",
            f"`{fact}` is worked out and cannot be told",
            place,
            "Give the facts it is worked out from; expect it under `expect: {facts: ...}`.",
        )
    elif spec.about is not about:
        report.add(
            "wrong-sheet",
            f"`{fact}` is about the {spec.about} and stands under `{about}`",
            place,
            f"Move it under `{spec.about}`.",
        )


def _check_rules(entry: Entry, known: Known, report: Report) -> None:
    said: dict[str, str] = {}
    for key in ("fires", "quiet", "open"):
        for index, rule in enumerate(entry.get(key) or ()):
            place = entry.place(key, index)
            if rule not in known.rules:
                report.add(
                    "unknown-rule", f"there is no rule `{rule}`", place, near(rule, known.rules)
                )
            elif said.setdefault(rule, key) != key:
                report.add(
                    "said-twice",
                    f"`{rule}` stands under `{said[rule]}` and under `{key}`",
                    place,
                    "Keep one of them.",
                )


def _check_expected(entry: Entry, known: Known, report: Report) -> None:
    treatment = entry.get("expect", "treatment")
    if treatment is not None and treatment not in (*known.treatments, OPEN):
        place = entry.place("expect", "treatment")
        report.unknown("treatment", treatment, (*known.treatments, OPEN), place)
    for what, names in (
        ("hold", known.holds),
        ("caution", known.cautions),
        ("step", known.steps),
    ):
        for key in (f"{what}s", f"no-{what}s"):
            for index, name in enumerate(entry.get("expect", key) or ()):
                if name not in names:
                    report.unknown(what, name, names, entry.place("expect", key, index))
    for fact in entry.get("expect", "facts") or ():
        if fact not in known.facts:
            place = entry.key_place("expect", "facts", fact)
            report.unknown("fact", fact, known.facts, place)
