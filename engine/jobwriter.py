"""Writes a job file that reads back to the very facts it was written from.

Text that one or another YAML version would take for something else (`no`, `12:30`, `1e3`) is
quoted, so any YAML 1.1 or 1.2 reader sees the same text.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import yaml

from engine.answers import UNKNOWN, read_value
from engine.choices import choices_of
from engine.document import parse_document
from engine.errors import DocumentError, InputError, JobFileError, Place, Problem
from engine.facts import FactValue, JobFacts, Sheet, Told
from engine.jobkeys import FactKeys
from engine.jobreader import FORMAT, job_notes, parse_job
from engine.plaintext import printable
from engine.quantity import Kind
from engine.quantity.showing import show_exact
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet

_WIDTH = 100
_WHOLE = re.compile(r"0|[1-9][0-9]{0,14}")
_PLAIN = re.compile(r"\w(?:[\w ./%+-]*[\w%.])?")
# YAML 1.1 lists these as yes and no, though not every reader of it takes them so.
_ONE_LETTER_BOOLS = frozenset("yYnN")


def write_job(path: Path, facts: JobFacts, ruleset: RuleSet, notes: Sequence[str] = ()) -> None:
    """Write `facts` to `path`: whole or not at all, whatever interrupts it.

    `notes` are remarks kept in the file (see `job_notes`). Raises JobFileError where the facts do
    not belong to `ruleset`, name no panel, or the file cannot be written.
    """
    content = job_text(facts, ruleset, notes).encode("utf-8")
    try:
        _replace(path.resolve(), content)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise JobFileError(
            Problem(
                "unwritable-file",
                f"the job file cannot be written: {reason}",
                Place(str(path), 1, 1),
                "Check that the folder is there and may be written to.",
            )
        ) from error


def job_text(facts: JobFacts, ruleset: RuleSet, notes: Sequence[str] = ()) -> str:
    """The text of the job file for `facts`: the same facts give the same text.

    Raises JobFileError where no text would read back to them.
    """
    keys = FactKeys(ruleset)
    data: dict[str, object] = {"prepwright": FORMAT, "job": facts.job}
    if notes:
        data["notes"] = list(notes)
    for about, sheet in ((About.SHOP, facts.shop), (About.CAR, facts.car)):
        if sheet:
            data[about.value] = _section(sheet, about, ruleset, keys)
    data["panels"] = {
        name: _section(sheet, About.PANEL, ruleset, keys) for name, sheet in facts.panels.items()
    }
    text: str = yaml.dump(
        data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=_WIDTH, indent=2
    )
    try:
        document = parse_document(text, "the job")
        same = without_places(parse_job(document, ruleset)) == without_places(facts)
        if same and job_notes(document) == tuple(notes):
            return text
        reason = "it would not read back as it is"
    except InputError as error:
        reason = error.problems[0].message
    raise JobFileError(Problem("unwritable-job", f"the job cannot be kept in a job file: {reason}"))


def without_places(facts: JobFacts) -> JobFacts:
    """`facts` without the places they were read from: two jobs told alike compare equal."""

    def plain(sheet: Sheet) -> Sheet:
        return {fact: replace(told, place=None) for fact, told in sheet.items()}

    return JobFacts(
        facts.job,
        plain(facts.shop),
        plain(facts.car),
        {name: plain(sheet) for name, sheet in facts.panels.items()},
    )


class _Flow(dict[str, object]):
    """A mapping written on one line."""


class _Row(list[object]):
    """A list written on one line."""


def _section(sheet: Sheet, about: About, ruleset: RuleSet, keys: FactKeys) -> dict[str, object]:
    for fact in sheet:
        spec = ruleset.facts.get(fact)
        if spec is None or spec.about is not about or not spec.told:
            raise JobFileError(
                Problem(
                    "unknown-fact",
                    f"`{printable(fact)}` is not told of a {about.value} in the rule set "
                    f"`{ruleset.name}`",
                )
            )
    section: dict[str, object] = {}
    for spec in ruleset.facts.values():
        if spec.id not in sheet:
            continue
        value = _value(spec, sheet[spec.id])
        key = keys.short(spec)
        group, dot, rest = key.partition(".")
        if dot and keys.find(about, group) is None:
            nest = section.setdefault(group, {})
            assert isinstance(nest, dict)
            nest[rest] = value
        else:
            section[key] = value
    return section


def _value(spec: FactSpec, told: Told) -> object:
    """The value of `told`, as written where that reads back, otherwise spelled out exactly."""
    provenance = {"by": told.by, "at": told.at, "with": told.instrument}
    said = {key: text for key, text in provenance.items() if text is not None}
    for raw in _as_written(spec, told):
        if _reads_as(spec, raw, told):
            return _Flow(value=raw, **said) if said else raw
    return _Flow(value=_exactly(spec, told), **said, written=told.written)


def _as_written(spec: FactSpec, told: Told) -> Iterator[object]:
    """Ways to write a value down again, the most readable first."""
    written = told.written
    if spec.kind is FactKind.QUANTITY and _WHOLE.fullmatch(written):
        yield int(written)
    if spec.kind in (FactKind.SET, FactKind.LIST) and told.value is not None:
        items = [item.strip() for item in written.split(",")]
        if spec.kind is FactKind.LIST:
            yield _Row(_Row(item.split("/")) if "/" in item else item for item in items)
        yield _Row(items)
    yield written
    if spec.kind is FactKind.LIST:
        yield _Row([written])


def _reads_as(spec: FactSpec, raw: object, told: Told) -> bool:
    try:
        read = read_value(spec, raw)
    except InputError:
        return False
    return (read.value, read.written, read.unit) == (told.value, told.written, told.unit)


def _exactly(spec: FactSpec, told: Told) -> object:
    value: FactValue | None = told.value
    kind = spec.quantity or Kind.NUMBER
    if value is None:
        return UNKNOWN
    if isinstance(value, Fraction):
        return show_exact(value, kind, told.unit)
    if isinstance(value, frozenset):
        return _Row(choice.id for choice in choices_of(spec) if choice.id in value)
    if isinstance(value, tuple):
        spots = ([show_exact(each, kind, told.unit) for each in spot] for spot in value)
        return _Row(_Row(spot) if len(spot) > 1 else spot[0] for spot in spots)
    return value


class _Dumper(yaml.SafeDumper):
    def ignore_aliases(self, data: Any) -> bool:
        return True

    def write_double_quoted(self, text: str, split: bool = True) -> None:
        super().write_double_quoted(text, split=False)

    def write_plain(self, text: str, split: bool = True) -> None:
        super().write_plain(text, split=False)


def _represent_text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    style = None if _plain_everywhere(dumper, text) else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


def _plain_everywhere(dumper: Any, text: str) -> bool:
    """Whether `text` without quotes is text under YAML 1.1 and under the 1.2 core schema."""
    if text in _ONE_LETTER_BOOLS or not _PLAIN.fullmatch(text):
        return False
    by_1_1 = dumper.resolve(yaml.ScalarNode, text, (True, False))
    if by_1_1 != "tag:yaml.org,2002:str":
        return False
    try:
        by_1_2 = parse_document(text, "").data
    except DocumentError:
        return False
    return isinstance(by_1_2, str) and by_1_2 == text


def _represent_row(dumper: yaml.SafeDumper, row: _Row) -> yaml.SequenceNode:
    return dumper.represent_sequence("tag:yaml.org,2002:seq", row, flow_style=True)


def _represent_flow(dumper: yaml.SafeDumper, flow: _Flow) -> yaml.MappingNode:
    return dumper.represent_mapping("tag:yaml.org,2002:map", flow.items(), flow_style=True)


def _represent_mapping(dumper: yaml.SafeDumper, mapping: dict[str, object]) -> yaml.MappingNode:
    return dumper.represent_mapping(
        "tag:yaml.org,2002:map", mapping.items(), flow_style=not mapping
    )


_Dumper.add_representer(str, _represent_text)
_Dumper.add_representer(_Row, _represent_row)
_Dumper.add_representer(_Flow, _represent_flow)
_Dumper.add_representer(dict, _represent_mapping)


def _replace(path: Path, content: bytes) -> None:
    """Put `content` at `path` in one step, once it is safely on the disk beside it."""
    beside = path.with_name(f".prepwright-{secrets.token_hex(8)}.tmp")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(beside, path.stat().st_mode & 0o777)
        os.replace(beside, path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, on systems that can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
