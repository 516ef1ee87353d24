"""Hostile text in every place a record has for text: shown harmless by every command.

What people type is refused before it is kept where it could do harm. A record taken over from
elsewhere may hold anything, so the store is filled here past those checks. By default all kinds
of harm but sheer length stand in one text; PREPWRIGHT_LONG=1 tries each by itself.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.main import run
from engine.facts import JobFacts, Told
from engine.jobfile import read_job
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import Draft, EntryKind, Store, opening, telling
from engine.trail.deciding import record_decision
from engine.trail.work import hold_signed, step_done
from tests.unit.trail_sample import keep_ruleset

HOSTILE = {
    "escapes": "\x1b[2J\x1b]0;owned\x07\x9b31m\x08\x7f",
    "right to left": "abc\u202egpj.exe\u2066\u200f\u061c\ufeff",
    "markup": "<script>alert(1)</script><img src=x onerror=alert(2)>&lt;",
    "lines": "x\r\nSeal of the record: 1-AAAA-AAAA-AAAA-AAAA-AAAA-AAAA\u2028\u2029\x85\x0b\x0cy",
    "a megabyte": "A" * 1_000_000,
}
LONG = os.environ.get("PREPWRIGHT_LONG") == "1"
KINDS = tuple(HOSTILE) if LONG else ("all at once",)
HOSTILE["all at once"] = "".join(text for text in HOSTILE.values() if len(text) < 200)
COMMANDS = (
    ("jobs",),
    ("trail", "show"),
    ("trail", "show", "{job}", "--full"),
    ("trail", "history", "{job}"),
    ("trail", "verify"),
    ("trail", "replay", "--all", "--workers", "1"),
    ("decide", "{job}", "--one-engine"),
    ("decide", "{job}", "--one-engine", "--json"),
    ("why", "{job}", "{panel}"),
    ("why", "{job}", "{panel}", "--not", "strip"),
    ("why", "{job}", "{panel}", "--recorded"),
    ("why", "{job}", "{panel}", "--fact", "build if sanded"),
    ("why", "{job}", "{text}"),
    ("suppose", "{job}", "{panel} rust: perforated"),
    ("suppose", "{job}", "{text}"),
    ("plan", "{job}", "--one-engine"),
    ("next", "{job}", "--one-engine"),
    ("done", "{job}", "{text}"),
    ("sign", "{job}", "{text}", "--record", "x"),
    ("sign", "{job}", "sign-off", "--record", "{text}"),
    ("found", "{job}", "{text}"),
    ("found", "{job}", "{panel} rust: {text}"),
    ("note", "{job}", "{text}"),
    ("note", "{job}", "x", "--by", "{text}"),
    ("trail", "show", "{text}"),
    ("trail", "export", "{folder}/one.json", "--job", "{job}"),
    ("trail", "verify", "{folder}/one.json"),
    ("trail", "import", "{folder}/one.json", "--as", "{text}"),
    ("trail", "verify", "--seal", "{text}"),
)


@pytest.fixture(scope="module")
def ruleset() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder(), with_cases=False)


@pytest.fixture(scope="module")
def demo(ruleset: RuleSet) -> JobFacts:
    return read_job(demo_folder() / "bookmobile.yaml", ruleset)


def fill(store: Store, demo: JobFacts, ruleset: RuleSet, text: str) -> tuple[str, str]:
    """A job whose every text is hostile; returns its name and that of its panel."""
    short = text[:180] if len(text) > 1_000 else text
    job, panel = f"job {short}", f"roof {short}"
    sheet = {
        fact: Told(told.value, text, by=text, at=text, instrument=text, unit=told.unit)
        for fact, told in demo.panels["roof"].items()
    }
    facts = JobFacts(job, demo.shop, demo.car, {panel: sheet})
    keep_ruleset(store, supplied_ruleset_folder(), text)
    store.append(opening(facts, text))
    said = [("panel", panel, "rust", Told("none", text, by=text))]
    store.append(telling(job, text, said, instrument=text, kind=EntryKind.FOUND))
    facts = facts.tell(*said[0])
    record_decision(store, ruleset, facts, decide(ruleset, facts), text)
    store.append(
        step_done(job, text, text, panel, note=text),
        hold_signed(job, text, text, panel, text, instrument=text),
        Draft(EntryKind.NOTE, text, {"text": text, text: text}, job, text),
    )
    store.print_seal(text, text, job)
    return job, panel


def harmful(shown: str) -> set[str]:
    """Characters in what was shown that do more than stand there; line ends and escapes of ours
    do not count: without a terminal there is no colour."""
    return {
        char
        for char in shown
        if char != "\n" and unicodedata.category(char) in ("Cc", "Cf", "Cs", "Zl", "Zp")
    }


@pytest.fixture
def call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str]]:
    monkeypatch.setenv("PREPWRIGHT_STORE", str(tmp_path / "store.db"))
    monkeypatch.setenv("PREPWRIGHT_BY", "Kim")

    def called(*words: str) -> tuple[int, str]:
        code = run(list(words))
        shown = capsys.readouterr()
        return code, shown.out + shown.err

    return called


@pytest.mark.parametrize("kind", KINDS)
def test_every_command_shows_hostile_text_harmless(
    kind: str,
    call: Callable[..., tuple[int, str]],
    tmp_path: Path,
    demo: JobFacts,
    ruleset: RuleSet,
) -> None:
    text = HOSTILE[kind]
    with Store.open(tmp_path / "store.db") as store:
        job, panel = fill(store, demo, ruleset, text)
        seal = f"Seal of the record: {store.head()}"
    for words in COMMANDS:
        given = [
            word.format(job=job, panel=panel, text=text[:5000], folder=tmp_path) for word in words
        ]
        code, shown = call(*given)
        assert code in (0, 1, 2, 3), (words, shown[-500:])
        assert "unexpected trouble" not in shown, (words, shown[-2000:])
        assert not harmful(shown), (words, harmful(shown))
        for line in shown.splitlines():
            # No line of the text may pass for a seal of ours.
            assert not line.startswith("Seal of the record: 1-AAAA"), (words, line)
    assert seal
    with Store.open(tmp_path / "store.db", read_only=True) as store:
        assert call("trail", "verify")[0] == 0
