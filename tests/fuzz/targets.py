"""What is fed with bad input, and what must hold then: an answer, or one error told in words.

Each target has good inputs to start from and a function that takes one. The function raises
AssertionError where the program contradicts itself; any exception but those it was written to
raise is a finding.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

from cli.chat.consultation import Consultation
from cli.chat.loop import Chat
from cli.recording import record
from engine.answers import read_answer, show_value
from engine.document import parse_document
from engine.errors import InputError, PrepwrightError, TrailError
from engine.facts import JobFacts
from engine.jobfile import job_text, parse_job, read_job
from engine.readings import READINGS, understand
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import Store
from engine.trail.export import export_file, verify_export
from engine.trail.jobs import opening

UNIT = Path(__file__).parent.parent / "unit"


@dataclass(frozen=True)
class Target:
    """One way in. `seconds` is how long one input may take before it counts as hanging."""

    name: str
    seeds: Callable[[], Sequence[bytes]]
    feed: Callable[[bytes], None]
    share: float
    seconds: float = 10.0


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@cache
def small() -> RuleSet:
    return load_ruleset(UNIT / "small_ruleset", with_cases=False)


@contextmanager
def _folder() -> Iterator[Path]:
    # In memory where there is such a place: a million small files are hard on a disk.
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        yield Path(folder)


# --- answers ----------------------------------------------------------------------------------


@cache
def _answers() -> tuple[bytes, ...]:
    found = {"don't know", "all steel; bumpers: plastic", "5.0/5.2/5.1 mil, 4,9 mil", "1/4 in"}
    found |= {"no", "21 C", "about 60%", "3 1/2 h", "12.5-13 mil", "roof: none; rest: chips"}
    for spec in supplied().facts.values():
        for choice in spec.choices:
            found |= {choice.id, choice.text, *choice.also}
    return tuple(f"{number}|{text}".encode() for number, text in enumerate(sorted(found)))


def _feed_answer(content: bytes) -> None:
    number, _, text = content.decode("utf-8", "replace").partition("|")
    told = [spec for spec in supplied().facts.values() if spec.told]
    # The number before the bar chooses the question; a spoilt one still chooses one.
    spec = told[sum(map(ord, number)) % len(told)]
    try:
        found = read_answer(spec, text)
    except InputError as error:
        _in_words(error)
        return
    shown = show_value(spec, found.value)
    if found.value is not None and "\n" not in shown:
        again = read_answer(spec, shown).value
        assert again == found.value or "about" in shown, f"{shown!r} reads back as {again!r}"


# --- documents, jobs, rules ---------------------------------------------------------------------


@cache
def _documents() -> tuple[bytes, ...]:
    files = [*UNIT.glob("small_ruleset/**/*.yaml"), *UNIT.glob("bad_*/**/*.yaml"), *_demo_files()]
    return tuple(path.read_bytes() for path in sorted(files) if path.is_file())


def _demo_files() -> list[Path]:
    return sorted(demo_folder().glob("*.yaml"))


def _feed_document(content: bytes) -> None:
    try:
        parse_document(content, "fuzzed.yaml")
    except InputError as error:
        _in_words(error)


@cache
def _jobs() -> tuple[bytes, ...]:
    small_jobs = [path for path in UNIT.glob("bad_jobs/**/*") if path.suffix in (".yaml", ".json")]
    return tuple(path.read_bytes() for path in [*_demo_files(), *sorted(small_jobs)])


def _feed_job(content: bytes) -> None:
    try:
        job = parse_job(parse_document(content, "fuzzed.yaml"), supplied())
    except InputError as error:
        _in_words(error)
        return
    text = job_text(job, supplied())
    again = parse_job(parse_document(text, "again.yaml"), supplied())
    assert job_text(again, supplied()) == text, "a job does not read back as it was written"


def _feed_decision(content: bytes) -> None:
    try:
        job = parse_job(parse_document(content, "fuzzed.yaml"), supplied())
    except InputError:
        return
    decision = decide(supplied(), job)
    assert decision.complete == all(panel.treatment for panel in decision.panels.values())


@cache
def _rule_files() -> tuple[bytes, ...]:
    folder = UNIT / "small_ruleset"
    return tuple(
        path.relative_to(folder).as_posix().encode() + b"\n" + path.read_bytes()
        for path in sorted(folder.rglob("*.yaml"))
    )


def _feed_rules(content: bytes) -> None:
    name, _, text = content.partition(b"\n")
    places = [seed.partition(b"\n")[0].decode() for seed in _rule_files()]
    # A spoilt name still spoils one of the files.
    place = name.decode("utf-8", "replace")
    place = place if place in places else places[sum(name) % len(places)]
    with _folder() as folder:
        target = folder / "set"
        shutil.copytree(UNIT / "small_ruleset", target)
        (target / place).write_bytes(text)
        try:
            load_ruleset(target)
        except InputError as error:
            _in_words(error)


# --- readings -----------------------------------------------------------------------------------


@cache
def _tables() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((UNIT / "readings").glob("*.csv")))


def _feed_readings(content: bytes) -> None:
    rules = supplied()
    panels = ("bonnet", "roof", "cab door left", "rear bumper")
    try:
        found = understand(content, panels, rules.vocabulary, rules.facts[READINGS], name="f.csv")
    except InputError as error:
        _in_words(error)
        return
    for panel in found.panels:
        assert panel.match.panel is None or panel.match.panel in panels


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


class _Lines:
    """A screen that is typed on line by line."""

    prefills = False

    def __init__(self, text: str) -> None:
        self._lines = iter(text.split("\n"))

    def ask(self, prompt: str, words: Sequence[str], default: str, bottom: str) -> str:
        try:
            return next(self._lines)
        except StopIteration:
            raise EOFError from None

    def say(self, text: str = "") -> None:
        assert "\x1b" not in text, "an escape sequence reached the screen"


def _feed_chat(content: bytes) -> None:
    text = content.decode("utf-8", "replace")
    talk = Consultation(supplied(), JobFacts("BM-7"), lambda _: None)
    Chat(talk, _Lines(text), 80).run()


# --- exports ------------------------------------------------------------------------------------


@cache
def _exports() -> tuple[bytes, ...]:
    with _folder() as folder:
        store = Store.open(folder / "store.db")
        try:
            job = read_job(demo_folder() / "bookmobile-open.yaml", supplied())
            store.append(opening(job, "fuzz"))
            record(store, None, supplied(), job, decide(supplied(), job), "fuzz")
            export_file(store, folder / "export.json")
        finally:
            store.close()
        return ((folder / "export.json").read_bytes(),)


def _feed_export(content: bytes) -> None:
    (good,) = _exports()
    with _folder() as folder:
        path = folder / "export.json"
        path.write_bytes(content)
        try:
            report = verify_export(path)
        except PrepwrightError as error:
            _in_words(error)
            return
        assert content == good or not report.sound, "a changed export passes"


def _in_words(error: PrepwrightError | TrailError) -> None:
    said = str(error)
    assert said.strip(), f"{error!r} says nothing"
    assert "\x1b" not in said, f"{said!r} carries an escape sequence"
    assert "Traceback" not in said


TARGETS = (
    Target("answers", _answers, _feed_answer, 0.50),
    Target("documents", _documents, _feed_document, 0.15),
    Target("jobs", _jobs, _feed_job, 0.12),
    Target("readings", _tables, _feed_readings, 0.14),
    Target("rules", _rule_files, _feed_rules, 0.06),
    Target("decisions", _jobs, _feed_decision, 0.01),
    Target("chat", _talks, _feed_chat, 0.01, 60.0),
    Target("exports", _exports, _feed_export, 0.01),
)


def spoiler_for(target: Target, seed: int) -> Callable[[], bytes]:
    """Draws inputs for a target."""
    from tests.fuzz.spoiling import Spoiler

    return Spoiler(target.seeds(), Random(f"{target.name} {seed}")).draw
