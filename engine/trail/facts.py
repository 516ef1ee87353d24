"""Told facts as the record keeps them, and the state of a job as its entries replayed.

    {"panels": ["bonnet"], "facts": [{"about": "panel", "panel": "bonnet", "fact": "film.readings",
      "told": {"value": {"readings": [["127"]]}, "written": "5 mil", "by": "Kim", "unit": "mil"}}]}

Numbers stand as exact fractions in text (`"1270/3"`, in the base unit of their dimension, see
`engine.quantity`), never as JSON numbers: a float would not hold them exactly.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any, NoReturn

from engine.errors import Place, TrailError
from engine.facts import FactValue, JobFacts, Told
from engine.plaintext import quoted
from engine.trail.entry import EntryKind

FACT_KINDS = frozenset((EntryKind.JOB_OPENED, EntryKind.TOLD, EntryKind.READING, EntryKind.FOUND))
"""Kinds of entries whose payload may tell facts."""

_FRACTION = re.compile(r"(-?(?:0|[1-9][0-9]{0,3999}))(?:/([1-9][0-9]{0,3999}))?", re.ASCII)
_TOLD_TEXTS = ("by", "at", "instrument", "unit")
_ABOUTS = ("shop", "car", "panel")

ToldFact = tuple[str, str | None, str, Told]
"""A told fact: about whom, the panel where it is one, fact id, what was told."""


def facts_payload(facts: Iterable[ToldFact], panels: Iterable[str] = ()) -> dict[str, Any]:
    """The payload that tells these facts; `panels` names panels, told of or not, in order."""
    return {
        "panels": list(panels),
        "facts": [
            {"about": about, "panel": panel, "fact": fact, "told": _told_data(told)}
            for about, panel, fact, told in facts
        ],
    }


def withdrawn_payload(
    facts: Iterable[tuple[str, str | None, str]], panels: Iterable[str] = ()
) -> dict[str, Any]:
    """The payload that withdraws facts, each as (about, panel, fact id), and whole panels."""
    return {
        "panels": list(panels),
        "facts": [{"about": about, "panel": panel, "fact": fact} for about, panel, fact in facts],
    }


def job_payload(job: JobFacts) -> dict[str, Any]:
    """Everything told of a job, as `job_from` reads it back."""
    return {"job": job.job, **facts_payload(job, job.panels)}


def job_from(data: Mapping[str, Any]) -> JobFacts:
    """The job that `job_payload` wrote. Raises TrailError where the data is none."""
    name = data.get("job")
    if not isinstance(name, str):
        _refuse("the job has no name")
    return with_entry(JobFacts(name), EntryKind.TOLD, data)


def with_entry(job: JobFacts, kind: EntryKind, payload: Mapping[str, Any]) -> JobFacts:
    """The job after one more entry. Raises TrailError where its payload cannot be read.

    What an entry withdraws and was not there makes no difference.
    """
    if kind is EntryKind.WITHDRAWN:
        return _without(job, payload)
    if kind not in FACT_KINDS:
        return job
    shop, car, panels = dict(job.shop), dict(job.car), dict(job.panels)
    sheets: dict[str, dict[str, Told]] = {"shop": shop, "car": car}
    own: dict[str, dict[str, Told]] = {}
    for panel in _texts(payload, "panels"):
        panels.setdefault(panel, {})
    for item in _items(payload):
        about, panel_name, fact = _subject(item)
        if panel_name is None:
            sheets[about][fact] = _told(item.get("told"))
            continue
        if panel_name not in own:
            # A sheet that nothing is told for stays the one it was.
            own[panel_name] = panels[panel_name] = dict(panels.get(panel_name, {}))
        own[panel_name][fact] = _told(item.get("told"))
    return replace(job, shop=shop, car=car, panels=panels)


def check_payload(kind: EntryKind, payload: Mapping[str, Any]) -> None:
    """Raise TrailError where an entry of this kind could not be replayed later."""
    with_entry(JobFacts(""), kind, payload)


def _without(job: JobFacts, payload: Mapping[str, Any]) -> JobFacts:
    gone = set(_texts(payload, "panels"))
    for item in _items(payload):
        about, panel, fact = _subject(item)
        if panel is None or panel in job.panels:
            job = job.withdraw(about, panel, fact)
    if gone:
        kept = {name: sheet for name, sheet in job.panels.items() if name not in gone}
        job = replace(job, panels=kept)
    return job


def _told_data(told: Told) -> dict[str, Any]:
    data: dict[str, Any] = {"value": _value_data(told.value), "written": told.written}
    for name in _TOLD_TEXTS:
        value = getattr(told, name)
        if value is not None:
            data[name] = value
    if told.place is not None:
        data["place"] = [told.place.file, told.place.line, told.place.column]
    return data


def _value_data(value: FactValue | None) -> Any:
    if value is None:
        return None
    if isinstance(value, Fraction):
        return {"number": str(value)}
    if isinstance(value, frozenset):
        return {"set": sorted(value)}
    if isinstance(value, tuple):
        return {"readings": [[str(reading) for reading in spot] for spot in value]}
    return {"text": value}


def _told(data: Any) -> Told:
    if not isinstance(data, dict) or not isinstance(data.get("written"), str):
        _refuse("it does not say what was told")
    strays = set(data) - {"value", "written", "place", *_TOLD_TEXTS}
    if strays:
        _refuse(f"{quoted(min(strays))} is nothing that is kept of a told fact")
    texts = {name: data[name] for name in _TOLD_TEXTS if name in data}
    if not all(isinstance(text, str) for text in texts.values()):
        _refuse("who told it, when and with what must be text")
    return Told(_value(data.get("value")), data["written"], place=_place(data), **texts)


def _value(data: Any) -> FactValue | None:
    match data:
        case None:
            return None
        case {"text": str(text)} if len(data) == 1:
            return text
        case {"number": number} if len(data) == 1:
            return _fraction(number)
        case {"set": [*members]} if len(data) == 1 and all(isinstance(m, str) for m in members):
            return frozenset(members)
        case {"readings": [*spots]} if len(data) == 1 and all(isinstance(s, list) for s in spots):
            return tuple(tuple(_fraction(reading) for reading in spot) for spot in spots)
    _refuse("its value cannot be read")


def _fraction(text: Any) -> Fraction:
    written = _FRACTION.fullmatch(text) if isinstance(text, str) else None
    if written is None:
        _refuse(f"{quoted(str(text))} is no exact number")
    number, parts = written.groups()
    return Fraction(int(number), int(parts) if parts else 1)


def _place(data: Mapping[str, Any]) -> Place | None:
    match data.get("place"):
        case None:
            return None
        case [str(file), int(line), int(column)]:
            return Place(file, line, column)
    _refuse("its place in a file cannot be read")


def _items(payload: Mapping[str, Any]) -> list[dict[str, Any]]:
    items = payload.get("facts", [])
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        _refuse("`facts` must be a list of facts")
    return items


def _texts(payload: Mapping[str, Any], key: str) -> list[str]:
    texts = payload.get(key, [])
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        _refuse(f"`{key}` must be a list of names")
    return texts


def _subject(item: Mapping[str, Any]) -> tuple[str, str | None, str]:
    about, panel, fact = item.get("about"), item.get("panel"), item.get("fact")
    if not isinstance(about, str) or about not in _ABOUTS or not isinstance(fact, str):
        _refuse("a fact must say what it is and whom it is about")
    if isinstance(panel, str) is not (about == "panel") or not isinstance(panel, str | None):
        _refuse(f"{quoted(fact)} must name a panel where it is about one, and only there")
    return about, panel, fact


def _refuse(what: str) -> NoReturn:
    raise TrailError(f"the record cannot keep or read this fact: {what}")
