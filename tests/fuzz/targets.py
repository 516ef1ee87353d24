"""What is fed with bad input, and what must hold then: an answer, or one error told in words.

Each target has good inputs to start from and a function that takes one. The function raises
AssertionError where the program contradicts itself; any exception but those it was written to
raise is a finding.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random

from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.chat.screen import Piped, writing
from cli.recording import record
from engine.answers import read_answer, show_value
from engine.document import parse_document
from engine.errors import InputError, PrepwrightError
from engine.facts import JobFacts
from engine.jobfile import job_text, parse_job, read_job
from engine.readings import READINGS, understand
from engine.reasoning.decide import decide
from engine.reasoning.domains import Domains
from engine.reasoning.program import compile_ruleset
from engine.ruleset.model import FactSpec
from engine.supplied import demo_folder
from engine.trail import Store
from engine.trail.export import export_file, verify_export
from engine.trail.jobs import opening
from tests.fuzz import whole
from tests.fuzz.target import UNIT, Target, folder, in_words, supplied

# --- answers ----------------------------------------------------------------------------------


@cache
def _questions() -> dict[str, FactSpec]:
    return {spec.id: spec for spec in supplied().facts.values() if spec.told}


@cache
def _answers() -> tuple[bytes, ...]:
    """Each question with what people answer to it: words of choices, amounts, "don't know"."""
    domains = Domains(compile_ruleset(supplied()))
    found = {"film.readings|5.0/5.2/5.1 mil, 4,9 mil", "filler.readings|1/4 in"}
    found |= {f"coat.waited|{text}" for text in ("3 1/2 h", "about 40 min", "don't know")}
    for spec in _questions().values():
        for choice in spec.choices:
            found |= {f"{spec.id}|{text}" for text in (choice.id, choice.text, *choice.also)}
        values = (answer.value for answer in domains.of(spec.id)[:6] if not spec.choices)
        found |= {f"{spec.id}|{show_value(spec, value)}" for value in values if value is not None}
    return tuple(sorted(each.encode() for each in found))


def _feed_answer(content: bytes) -> bool:
    name, _, text = content.decode("utf-8", "replace").partition("|")
    # A spoilt name still chooses a question.
    others = list(_questions().values())
    spec = _questions().get(name, others[sum(map(ord, name)) % len(others)])
    try:
        found = read_answer(spec, text)
    except InputError as error:
        return in_words(error)
    shown = show_value(spec, found.value)
    if found.value is not None and "\n" not in shown:
        again = read_answer(spec, shown).value
        # Amounts are shown rounded: what is read back must at least be shown the same.
        same = again == found.value or show_value(spec, again) == shown
        assert same or "about" in shown, f"{shown!r} reads back as {again!r}"
    return True


# --- documents, jobs, rules ---------------------------------------------------------------------


@cache
def _documents() -> tuple[bytes, ...]:
    files = [*UNIT.glob("small_ruleset/**/*.yaml"), *UNIT.glob("bad_*/**/*.yaml"), *_demo_files()]
    return tuple(path.read_bytes() for path in sorted(files) if path.is_file())


def _demo_files() -> list[Path]:
    return sorted(demo_folder().glob("*.yaml"))


def _feed_document(content: bytes) -> bool:
    try:
        parse_document(content, "fuzzed.yaml")
    except InputError as error:
        return in_words(error)
    return True


@cache
def _jobs() -> tuple[bytes, ...]:
    small_jobs = [path for path in UNIT.glob("bad_jobs/**/*") if path.suffix in (".yaml", ".json")]
    return tuple(path.read_bytes() for path in [*_demo_files(), *sorted(small_jobs)])


def _feed_job(content: bytes) -> bool:
    try:
        job = parse_job(parse_document(content, "fuzzed.yaml"), supplied())
    except InputError as error:
        return in_words(error)
    text = job_text(job, supplied())
    again = parse_job(parse_document(text, "again.yaml"), supplied())
    assert job_text(again, supplied()) == text, "a job does not read back as it was written"
    return True


# --- readings -----------------------------------------------------------------------------------


@cache
def _tables() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((UNIT / "readings").glob("*.csv")))


def _feed_readings(content: bytes) -> bool:
    rules = supplied()
    panels = ("bonnet", "roof", "cab door left", "rear bumper")
    try:
        found = understand(content, panels, rules.vocabulary, rules.facts[READINGS], name="f.csv")
    except InputError as error:
        return in_words(error)
    for panel in found.panels:
        assert panel.match.panel is None or panel.match.panel in panels
    return True


# --- chat ---------------------------------------------------------------------------------------


@cache
def _talks() -> tuple[bytes, ...]:
    lines = [
        b"roof, bonnet, rear bumper\nall steel; bumper: plastic\nnone\nwhy\nback\nno\n",
        b"roof\noriginal\nchange roof rust: pitted\nshow roof picture\nwhy roof\nhelp\nno\n",
        b"roof\ntrouble fisheyes in the clear, roof\nyes\nby panel\nby question\nnote seen\nnext\n",
        b"cab door left\nclear is flaking on the edge\nyes\n5.0/5.2/5.1 mil, 4.9 mil\nplan\nstop\n",
    ]
    return (*lines, *(answer.partition(b"|")[2] + b"\n" for answer in _answers()[::5]))


def _feed_chat(content: bytes) -> bool:
    text = content.decode("utf-8", "replace")
    talk = Consultation(supplied(), JobFacts("BM-7"), lambda _: None)
    said = io.StringIO()
    Chat(talk, Piped(io.StringIO(text).readline, writing(said)), 80).run()
    assert "\x1b" not in said.getvalue(), "an escape sequence reached the screen"
    return True


# --- exports ------------------------------------------------------------------------------------


@cache
def _exports() -> tuple[bytes, ...]:
    with folder() as place:
        store = Store.open(place / "store.db")
        try:
            job = read_job(demo_folder() / "bookmobile-open.yaml", supplied())
            store.append(opening(job, "fuzz"))
            record(store, None, supplied(), job, decide(supplied(), job), "fuzz")
            export_file(store, place / "export.json")
        finally:
            store.close()
        return ((place / "export.json").read_bytes(),)


def _feed_export(content: bytes) -> bool:
    (good,) = _exports()
    with folder() as place:
        path = place / "export.json"
        path.write_bytes(content)
        try:
            report = verify_export(path)
        except PrepwrightError as error:
            return in_words(error)
        # Blanks between its parts say nothing.
        assert not report.sound or json.loads(content) == json.loads(good), "a change passes"
        return report.sound


TARGETS = (
    Target("answers", _answers, _feed_answer, 0.47),
    Target("documents", _documents, _feed_document, 0.13),
    Target("jobs", _jobs, _feed_job, 0.10),
    Target("readings", _tables, _feed_readings, 0.14),
    Target("chat", _talks, _feed_chat, 0.005, 60.0),
    Target("exports", _exports, _feed_export, 0.005),
    *whole.targets(_exports),
)


def spoiler_for(target: Target, seed: int) -> Callable[[], bytes]:
    """Draws inputs for a target."""
    from tests.fuzz.spoiling import Spoiler

    return Spoiler(target.seeds(), Random(f"{target.name} {seed}")).draw
